import { useEffect, useRef } from "preact/hooks";
import { useNow } from "../app/use-now";
import { minutesAndSeconds } from "../words/format";

interface Props {
  /** When it is over, in milliseconds since 1970. */
  until: number;
  /** When it began: with it, a ring shows how much is gone. */
  from?: number;
  label: string;
  onOver?: () => void;
}

/** The time left, as minutes and seconds, and as a ring where the beginning is known. */
export function Countdown({ until, from, label, onOver }: Props) {
  const now = useNow(250);
  const left = Math.max(0, until - now);
  const told = useRef<number | null>(null);
  useEffect(() => {
    if (left > 0 || told.current === until) return;
    told.current = until;
    onOver?.();
  }, [left, until, onOver]);
  const gone = from === undefined ? undefined : 1 - left / Math.max(1, until - from);
  return (
    <span class="row" role="timer" aria-label={label}>
      {gone !== undefined && <Ring share={Math.min(1, Math.max(0, gone))} />}
      <span class="strong number">{minutesAndSeconds(left)}</span>
    </span>
  );
}

function Ring({ share }: { share: number }) {
  const round = 2 * Math.PI * 9;
  return (
    <svg viewBox="0 0 24 24" width="1.6em" height="1.6em" aria-hidden="true">
      <circle cx="12" cy="12" r="9" fill="none" stroke="var(--line)" stroke-width="4" />
      <circle
        cx="12"
        cy="12"
        r="9"
        fill="none"
        stroke="currentColor"
        stroke-width="4"
        stroke-dasharray={`${round * share} ${round}`}
        transform="rotate(-90 12 12)"
      />
    </svg>
  );
}
