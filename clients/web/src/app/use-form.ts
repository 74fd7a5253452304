import { useState } from "preact/hooks";
import { asProblem, type Problem } from "../api/problem";
import { kit } from "../words/kit";
import { explain } from "../words/problems";
import { language } from "../words/language";

/** What is wrong, field by field. A field has the name that the server's refusals give it. */
export type Faults<Typed> = { [Name in keyof Typed | (string & {})]?: string | false | undefined };

export interface Form<Typed> {
  typed: Typed;
  set: (part: Partial<Typed>) => void;
  /** Begins anew with this, as if nothing had been tried. */
  restart: (typed: Typed) => void;
  /** What a field needs: its value, and what is wrong with it. */
  field: <Name extends keyof Typed & string>(name: Name) => Field<Typed[Name]>;
  /** What is wrong with a field, for one that is not a member of what is typed, such as `accepts[2].until`. */
  fault: (name: string) => string | undefined;
  submit: () => Promise<void>;
  busy: boolean;
  problem: Problem | undefined;
  /** Counts the tries that failed: each moves the focus to the first field with a fault. */
  failures: number;
}

interface Field<Value> {
  value: Value;
  onValue: (value: Value) => void;
  problem: string | undefined;
}

interface Means<Typed> {
  save: (typed: Typed) => Promise<unknown>;
  /** What can be told without asking the server: nothing is sent while it finds a fault. */
  check?: (typed: Typed) => Faults<Typed>;
  /** Our own sentences for refusals of a field, where the server's would be in one language only. */
  refusals?: { [Name in keyof Typed | (string & {})]?: () => string };
}

/** A form: what is typed, what is wrong with which field, and how it is stored. */
export function useForm<Typed extends object>(
  start: Typed | (() => Typed),
  means: Means<Typed>,
): Form<Typed> {
  const [typed, setTyped] = useState<Typed>(start);
  const [busy, setBusy] = useState(false);
  const [problem, setProblem] = useState<Problem>();
  const [failures, setFailures] = useState(0);
  const found = failures > 0 ? (means.check?.(typed) ?? {}) : {};
  const fault = (name: string): string | undefined => {
    const here = (found as Record<string, string | false | undefined>)[name];
    if (here) return here;
    return faultAt(problem, name, (means.refusals as Refusals | undefined)?.[name]);
  };
  const submit = async () => {
    // Two taps of a nervous hand are one.
    if (busy) return;
    setProblem(undefined);
    if (Object.values(means.check?.(typed) ?? {}).some(Boolean)) {
      setFailures(before => before + 1);
      return;
    }
    setBusy(true);
    try {
      await means.save(typed);
      setFailures(0);
    } catch (error) {
      setProblem(asProblem(error));
      setFailures(before => before + 1);
    } finally {
      setBusy(false);
    }
  };
  const set = (part: Partial<Typed>) => setTyped(before => ({ ...before, ...part }));
  const restart = (next: Typed) => {
    setTyped(next);
    setProblem(undefined);
    setFailures(0);
  };
  return {
    typed,
    set,
    restart,
    field: name => ({
      value: typed[name],
      onValue: value => set({ [name]: value } as unknown as Partial<Typed>),
      problem: fault(name),
    }),
    fault,
    submit,
    busy,
    problem,
    failures,
  };
}

type Refusals = Record<string, (() => string) | undefined>;

/** What the server refuses about this field, in our own sentence where there is one. */
export const faultAt = (problem: Problem | undefined, name: string, ours?: () => string) =>
  problem?.field === name ? refusal(problem, ours) : undefined;

/** A refusal in a sentence beside its field. */
function refusal(problem: Problem, ours: (() => string) | undefined): string {
  if (ours && problem.code === "invalid_value") return ours();
  if (problem.code !== "invalid_value") return explain(problem).happened;
  return language.value === "en" && problem.detail ? problem.detail : kit.not_allowed();
}

/** `required` for each of the fields in which nothing stands. */
export function missing<Typed extends object>(
  typed: Typed,
  ...names: (keyof Typed & string)[]
): Faults<Typed> {
  const empty = (value: unknown) =>
    value === null ||
    (typeof value === "string" && value.trim() === "") ||
    (Array.isArray(value) && !value.length);
  return Object.fromEntries(
    names.filter(name => empty(typed[name])).map(name => [name, kit.required()]),
  ) as Faults<Typed>;
}
