import { stores } from "../../words/stores";
import { lookBack as words } from "../../words/look-back";
import { useEquipment, useLots, usePlaces, useTesters } from "../stores/lists";

export const THINGS = ["lot", "bottle", "fill", "equipment", "tester", "station"] as const;
export type Thing = (typeof THINGS)[number];

/** What is asked about: one thing, and of some the time that is meant. */
export interface Asked {
  thing: Thing;
  id: string;
  from?: string | undefined;
  until?: string | undefined;
}

export const isThing = (text: string): text is Thing => THINGS.some(one => one === text);

/** As the API wants it. */
export function queryOf({ thing, id, from, until }: Asked) {
  return {
    [`${thing}_id`]: id,
    ...(from ? { from } : {}),
    ...(until ? { until } : {}),
  } as Record<string, string>;
}

/** What is asked about, in words. */
export function useName({ thing, id }: Asked): string {
  const lots = useLots().data ?? [];
  const equipment = useEquipment().data ?? [];
  const places = usePlaces().data ?? [];
  const testers = useTesters().data ?? [];
  if (thing === "lot") return words.of_lot({ number: lots.find(one => one.id === id)?.lot_number ?? "…" });
  if (thing === "bottle") return words.of_bottle();
  if (thing === "fill") return words.of_fill();
  if (thing === "station") return words.of_station({ name: places.find(one => one.id === id)?.name ?? "…" });
  if (thing === "tester") return testers.find(one => one.id === id)?.display_name ?? "…";
  const one = equipment.find(row => row.id === id);
  return one ? words.of_equipment({ kind: stores[`kind_${one.kind}`](), label: one.label }) : "…";
}
