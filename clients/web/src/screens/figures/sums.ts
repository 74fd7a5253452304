// Sums over what the server has counted.
import type { Wire } from "../../api/client";

export type DayFigures = Wire<"BadgeFiguresView">;
export type GateFigures = Wire<"FiguresView">;
type Answer = Wire<"Answer">;

/** Counts under one name each, the most frequent first. */
export interface Counted<Name extends string> {
  name: Name;
  count: number;
}

export const total = (counted: readonly { count: number }[]): number =>
  counted.reduce((sum, one) => sum + one.count, 0);

function together<Name extends string>(counted: readonly Counted<Name>[]): Counted<Name>[] {
  const sums = new Map<Name, number>();
  for (const { name, count } of counted) sums.set(name, (sums.get(name) ?? 0) + count);
  return [...sums].map(([name, count]) => ({ name, count })).sort((one, other) => other.count - one.count);
}

export const misprintsOf = (days: readonly DayFigures[]): Counted<Wire<"MisprintCause">>[] =>
  together(days.flatMap(day => day.misprints.map(({ cause, count }) => ({ name: cause, count }))));

export const reprintsOf = (days: readonly DayFigures[]): Counted<Wire<"ReprintReason">>[] =>
  together(days.flatMap(day => day.reprints.map(({ reason, count }) => ({ name: reason, count }))));

/** How often gates said each answer, how often anything, and how often a badge was read once more. */
export interface Said {
  answers: Record<Answer, number>;
  all: number;
  repeats: number;
}

export function saidBy(gates: readonly GateFigures[]): Said {
  const items = gates.flatMap(gate => gate.items);
  const of = (answer: Answer) => total(items.filter(one => one.answer === answer));
  return {
    answers: {
      enter: of("enter"),
      not_cleared: of("not_cleared"),
      cannot_confirm: of("cannot_confirm"),
      not_valid: of("not_valid"),
    },
    all: total(items),
    repeats: items.reduce((sum, one) => sum + one.repeats, 0),
  };
}
