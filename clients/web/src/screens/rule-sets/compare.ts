// Where two rule sets differ, value by value: their own tables side by side. Which value is stricter is for the server.
import type { Wire } from "../../api/client";

type Value = Wire<"RuleValue">;

export interface Difference {
  key: string;
  one: Value | undefined;
  other: Value | undefined;
}

export function differences(one: readonly Value[], other: readonly Value[]): Difference[] {
  const there = new Map(other.map(value => [value.key, value]));
  const here = new Set(one.map(value => value.key));
  const found = one
    .map(value => ({ key: value.key, one: value as Value | undefined, other: there.get(value.key) }))
    .filter(pair => !same(pair.one, pair.other));
  const added = other.filter(value => !here.has(value.key));
  return [...found, ...added.map(value => ({ key: value.key, one: undefined, other: value }))];
}

/** The same value, in the same unit, trusted alike: an unconfirmed one counts for nothing, whatever it says. */
const same = (one: Value | undefined, other: Value | undefined): boolean =>
  one?.value === other?.value &&
  one?.unit === other?.unit &&
  (one?.status === "unconfirmed") === (other?.status === "unconfirmed");
