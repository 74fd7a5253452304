// The time of a test. It runs on the steady counter, so that a clock that is set meanwhile moves no dose, and it is the
// server's time as far as the difference is known, so that a tablet that goes wrong writes no wrong times.
import { computed, signal } from "@preact/signals";
import { useEffect, useState } from "preact/hooks";
import { reach } from "../../api/reach";
import { remembered } from "../../app/remembered";

interface Difference {
  /** How far the server's clock is ahead of this device's, in milliseconds. */
  ms: number;
  /** When that was found out, in milliseconds since 1970. */
  at: number;
}

const kept = remembered<Difference | null>("clock", null);

/** How far this device's clock is off, as last measured; null before it was. */
export const difference = signal<Difference | null>(kept.get());

/** What is worth a word: the server's answer names whole seconds, and takes a moment. */
const WORTH_A_WORD_MS = 5_000;
/** A clock that jumps by more than this was set, or the device slept. */
const JUMP_MS = 2_000;

let anchor = anchored();

function anchored() {
  return { wall: Date.now(), steady: performance.now() };
}

/** Now, in milliseconds since 1970: corrected, and steady since the page began. */
export const now = (): number =>
  anchor.wall + (difference.value?.ms ?? 0) + performance.now() - anchor.steady;

/** The same as the server reads it. */
export const nowText = (): string => new Date(now()).toISOString();

/** How far the device's clock has moved against the steady counter since the page began: it was set, or it slept. */
export const moved = signal(0);

/** Looks whether the clock moved. */
export function watchClock(): void {
  const by = Date.now() - anchor.wall - (performance.now() - anchor.steady);
  moved.value = Math.abs(by) > JUMP_MS ? by : 0;
}

/** Asks the server for the time. Only between tests: within one, the counter holds. */
export async function measureClock(): Promise<void> {
  const asked = Date.now();
  const response = await reach(new Request("/health/live", { cache: "no-store" }));
  const answered = Date.now();
  const told = Date.parse(response.headers.get("date") ?? "");
  if (Number.isNaN(told)) return;
  // The answer names the second that had begun: half a second is added for the middle of it.
  const ms = Math.round(told + 500 - (asked + answered) / 2);
  const found = { ms: Math.abs(ms) < WORTH_A_WORD_MS ? 0 : ms, at: answered };
  kept.set(found);
  difference.value = found;
  anchor = anchored();
  moved.value = 0;
}

/** How wrong this device's clock is, in milliseconds; positive when it is fast. */
export const wrong = computed(() => -(difference.value?.ms ?? 0));

/** The time of the test, read again every so often. */
export function useTestTime(everyMs = 250): number {
  const [at, setAt] = useState(now);
  useEffect(() => {
    const timer = setInterval(() => setAt(now()), everyMs);
    return () => clearInterval(timer);
  }, [everyMs]);
  return at;
}
