import { useSignal } from "@preact/signals";
import { asProblem, type Problem } from "../api/problem";

export interface Action<Input extends unknown[]> {
  run: (...input: Input) => Promise<boolean>;
  busy: boolean;
  problem: Problem | undefined;
  clear: () => void;
}

/** Something a person does that may fail: busy while it runs, and what went wrong stays until the next try. */
export function useAction<Input extends unknown[]>(
  act: (...input: Input) => Promise<unknown>,
): Action<Input> {
  const busy = useSignal(false);
  const problem = useSignal<Problem | undefined>(undefined);
  const run = async (...input: Input) => {
    // Two taps of a nervous hand are one.
    if (busy.value) return false;
    busy.value = true;
    problem.value = undefined;
    try {
      await act(...input);
      return true;
    } catch (error) {
      problem.value = asProblem(error);
      return false;
    } finally {
      busy.value = false;
    }
  };
  return { run, busy: busy.value, problem: problem.value, clear: () => (problem.value = undefined) };
}
