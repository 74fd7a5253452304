import type { Wire } from "../../api/client";
import type { Tone } from "../../kit/shape";
import { equipmentWords } from "../../words/equipment";
import { clock, dateAtSite } from "../../words/format";
import { meaning } from "../../words/problems";
import { stores as words } from "../../words/stores";

export type Lot = Wire<"LotView">;
export type Bottle = Wire<"BottleView">;
export type Equipment = Wire<"EquipmentView">;
export type Respirator = Wire<"RespiratorView">;

/** "Test solution, sweet (saccharin)": in words, and never by a colour or a number. */
export const solutionName = (solution: Wire<"Solution">, agent: Wire<"Agent">): string =>
  words.solution_of({ solution: words[`solution_${solution}`](), agent: words[`agent_${agent}`]() });

export const respiratorName = (one: Respirator): string =>
  [one.make, one.model, one.style, one.size].filter(Boolean).join(" ");

/** What a lot is of. Facepieces are named by their respirator where it is known. */
export function kindOf(lot: Lot, respirators: readonly Respirator[] = []): string {
  if (lot.solution && lot.agent) return solutionName(lot.solution, lot.agent);
  const respirator = respirators.find(one => one.id === lot.respirator_id);
  if (respirator) return words.facepieces_of({ name: respiratorName(respirator) });
  return lot.supply ? words[`supply_${lot.supply}`]() : "";
}

/** Whether a lot may be used, by its stop and its printed expiry. */
export function stateOf(lot: Lot): { tone: Tone; word: string } {
  if (lot.stopped) return { tone: "stop", word: words.stopped() };
  if (lot.expires_on && lot.expires_on < dateAtSite()) return { tone: "stop", word: words.past() };
  return { tone: "go", word: words.usable() };
}

/** Whether a bottle may be used now, or why not. */
export const bottleWord = (bottle: Bottle): string =>
  bottle.usable ? words.usable() : meaning(bottle.not_usable ?? "lot_stopped");

/** How each state of a nebulizer or hood is shown. */
export const EQUIPMENT_TONES: Record<Wire<"EquipmentState">, Tone> = {
  ready: "go",
  clogged: "stop",
  mixed_up: "stop",
  needs_wipe: "wait",
  wiping: "wait",
  in_use: "plain",
  torn: "stop",
  retired: "stop",
};

/** The state of a nebulizer or hood in words; of a drying hood with its time. */
export const equipmentState = ({ state, ready_at }: Equipment): string =>
  state === "wiping" && ready_at
    ? equipmentWords.ready_at({ time: clock(ready_at) })
    : equipmentWords[`eq_${state}`]();

/** A station, a storeroom, or the one where nebulizers of any station are filled. */
export function placeKind(place: Wire<"PlaceView">): string {
  if (place.filling_point) return words.filling_point();
  return place.station_id ? words.is_station() : words.is_storeroom();
}
