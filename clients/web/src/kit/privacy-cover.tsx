import type { ComponentChildren } from "preact";
import { useEffect, useState } from "preact/hooks";
import "./privacy-cover.css";

interface Props {
  /** After so long without a touch or a key. */
  afterMs: number;
  title: string;
  hint: string;
  children: ComponentChildren;
}

const SIGNS = ["pointerdown", "keydown", "wheel", "touchstart"] as const;

/** Hides what stands on a desk's screen while nobody works there; what was entered stays behind the cover. */
export function PrivacyCover({ afterMs, title, hint, children }: Props) {
  const [covered, setCovered] = useState(false);
  useEffect(() => {
    let timer: ReturnType<typeof setTimeout>;
    const wait = () => {
      clearTimeout(timer);
      timer = setTimeout(() => setCovered(true), afterMs);
    };
    const sign = () => {
      setCovered(false);
      wait();
    };
    for (const name of SIGNS) window.addEventListener(name, sign, { passive: true });
    wait();
    return () => {
      clearTimeout(timer);
      for (const name of SIGNS) window.removeEventListener(name, sign);
    };
  }, [afterMs]);
  return (
    <>
      <div hidden={covered}>{children}</div>
      {covered && (
        <div class="privacy-cover" role="status">
          <p class="answer-word">{title}</p>
          <p class="soft">{hint}</p>
        </div>
      )}
    </>
  );
}
