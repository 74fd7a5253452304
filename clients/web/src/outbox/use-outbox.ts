import { useEffect, useState } from "preact/hooks";
import { outbox } from "./index";
import type { Outbox } from "./outbox";

/** The outbox; undefined until it is open. */
export function useOutbox(): Outbox | undefined {
  const [box, setBox] = useState<Outbox>();
  useEffect(() => void outbox().then(setBox), []);
  return box;
}
