// What is in a station's nebulizers, and whether it may be used.
import type { Wire } from "../../api/client";

export type Fill = Wire<"FillView">;

/** Whether it is in its nebulizer: neither emptied nor followed by another. */
export const held = (fill: Fill): boolean => !fill.emptied_at && !fill.refilled_at;

/** The fill of this agent and solution that was made last and is still in its nebulizer. */
export function currentFill(
  fills: readonly Fill[],
  agent: Fill["agent"],
  solution: Fill["solution"],
): Fill | undefined {
  const found = fills.filter(one => one.agent === agent && one.solution === solution && held(one));
  return found.sort((one, other) => Date.parse(other.happened_at) - Date.parse(one.happened_at))[0];
}

/** Whether it may be used: as the server knew it, and by the clock for as long as it does not answer. */
export type FillState = { may: true; until: number } | { may: false; why: NonNullable<Fill["not_usable"]> };

export function stateOf(fill: Fill, at: number): FillState {
  const until = fill.usable_until ? Date.parse(fill.usable_until) : 0;
  if (at < until) return { may: true, until };
  return { may: false, why: fill.not_usable ?? "fill_too_old" };
}
