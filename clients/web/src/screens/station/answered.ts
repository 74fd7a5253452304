// A run as this device has it, with what the server says of it.
import type { Wire } from "../../api/client";
import type { Run } from "./chair";

/** A run with events that it may have already. */
export function added<One extends Run>(run: One, id: string, events: { seq: number }[]): One {
  if (run.id !== id) return run;
  const known = new Set(run.events.map(event => event.seq));
  const fresh = events.filter(event => !known.has(event.seq));
  return { ...run, events: [...run.events, ...fresh].sort((a, b) => a.seq - b.seq) } as One;
}

/** A run with what the server says of it; what it does not have yet stays. */
export function answered<One extends Run>(
  run: One,
  answer: Wire<"AttemptView"> | Wire<"ScreeningView">,
): One {
  if (run.id !== answer.id) return run;
  const plan = "plan" in answer ? { plan: answer.plan } : {};
  return added({ ...run, ...plan, answer }, run.id, answer.events);
}

/** A run as the server has it, and nothing else. */
export const asAnswered = <One extends Run>(run: One): One => ({ ...run, events: run.answer?.events ?? [] });
