import { useEffect, useState } from "preact/hooks";
import { session, undisturbed } from "../../app/session";
import { outbox } from "../../outbox";
import { timeZone } from "../../words/format";
import { Gate } from "./gate";
import { Keep } from "./keep";
import { Link } from "./link";

/** How often a gate looks at its clock while nobody reads a badge. */
const LOOK_MS = 5_000;
/** After so long nothing of a person stands on the screen any more. */
const CLEAR_MS = 15_000;

/** The gate of this device; undefined until what it holds was read. */
export function useGate(): Gate | undefined {
  const [gate, setGate] = useState<Gate | undefined>();
  const device = session.value?.user_id;
  useEffect(() => {
    if (!device) return undefined;
    let over = false;
    let made: Gate | undefined;
    void open(device).then(opened => {
      made = opened;
      if (over) opened.close();
      else setGate(opened);
    });
    return () => {
      over = true;
      made?.close();
    };
  }, [device]);
  useEffect(() => {
    // A question about the sign-in would stand before an answer.
    undisturbed.value = true;
    return () => void (undisturbed.value = false);
  }, []);
  const held = gate?.link.held.value;
  useEffect(() => {
    if (held) timeZone.value = held.pack.zone;
  }, [held]);
  useEffect(() => {
    const timer = setInterval(() => gate?.link.lookAtClock(), LOOK_MS);
    return () => clearInterval(timer);
  }, [gate]);
  const [shown, letIn] = [gate?.shown.value, gate?.letIn.value];
  useEffect(() => {
    if (!shown && !letIn) return undefined;
    const timer = setTimeout(() => gate?.clear(), CLEAR_MS);
    return () => clearTimeout(timer);
  }, [shown, letIn]);
  return gate;
}

async function open(device: string): Promise<Gate> {
  const [link, box] = await Promise.all([Keep.open(device).then(keep => Link.open(keep)), outbox()]);
  return new Gate(link, box);
}
