// Which respirator is tested next. The list is in its final order before it is shown: it must not move under a finger.
import { useEffect, useState } from "preact/hooks";
import { api, need } from "../../api/client";
import { useResource } from "../../app/use-resource";
import { Choice } from "../../kit/field";
import { Loading } from "../../kit/states";
import { station as words } from "../../words/station";
import type { Case } from "./chair";
import { type Pack, respiratorName } from "./pack";
import { nowText } from "./time";

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
  const hints = useResource(`hints ${person_id} ${nowText().slice(0, 10)}`, () =>
    need(api.GET("/api/v1/people/{person_id}/size_hints", { params: { path: { person_id } } })),
  );
  const known = hints.data?.hints.map(hint => hint.respirator_id);
  const answered = known ?? (hints.problem ? [] : null);
  useEffect(() => {
    if (answered) setOrder(before => before ?? answered);
  }, [answered !== null]);
  useEffect(() => {
    const timer = setTimeout(() => setOrder(before => before ?? []), PATIENCE_MS);
    return () => clearTimeout(timer);
  }, []);
  return order;
}
