// Which respirator is tested next. The list is in its final order before it is shown: it must not move under a finger.
import { useEffect, useState } from "preact/hooks";
import { api, need } from "../../api/client";
import { Choice } from "../../kit/field";
import { Loading } from "../../kit/states";
import { station as words } from "../../words/station";
import type { Case } from "./chair";
import { type Pack, respiratorName } from "./pack";

/** How long the list waits to know the likely sizes; without a network nobody waits longer for it. */
const PATIENCE_MS = 1500;

interface Props {
  pack: Pack;
  one: Case;
  excluded: readonly string[];
  chosen: string | null;
  onChoose: (id: string) => void;
}

/** The respirators in the order in which they are likely to fit; what may not be tried again today is left out. */
export function Respirators({ pack, one, excluded, chosen, onChoose }: Props) {
  const order = useLikelyOrder(one.person.id);
  if (!order) return <Loading />;
  const place = (id: string) => (order.indexOf(id) < 0 ? order.length : order.indexOf(id));
  const offered = pack.respirators
    .filter(found => !excluded.includes(found.id))
    .sort((a, b) => place(a.id) - place(b.id));
  return (
    <div class="station-choice">
      <Choice
        label={words.respirator()}
        hint={words.respirator_hint()}
        value={chosen}
        options={offered.map(found => ({ value: found.id, label: respiratorName(found) }))}
        onValue={onChoose}
      />
    </div>
  );
}

/** The likely respirators first, as they were known when the list was first shown; null until then. */
function useLikelyOrder(person_id: string): readonly string[] | null {
  const [order, setOrder] = useState<readonly string[] | null>(null);
  useEffect(() => {
    const settle = (found: readonly string[]) => setOrder(before => before ?? found);
    const timer = setTimeout(() => settle([]), PATIENCE_MS);
    need(api.GET("/api/v1/people/{person_id}/size_hints", { params: { path: { person_id } } })).then(
      ({ hints }) => settle(hints.map(hint => hint.respirator_id)),
      () => settle([]),
    );
    return () => clearTimeout(timer);
  }, [person_id]);
  return order;
}
