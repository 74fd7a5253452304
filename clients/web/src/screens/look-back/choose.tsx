import { useLocation } from "preact-iso";
import { useState } from "preact/hooks";
import { to } from "../../app/screens";
import { Button } from "../../kit/button";
import { Choice, SelectField, TextField } from "../../kit/field";
import { Notice } from "../../kit/notice";
import { Page, Panel } from "../../kit/page";
import { momentTyped } from "../../words/site-time";
import { lookBack as words } from "../../words/look-back";
import { stores } from "../../words/stores";
import { useEquipment, useLots, usePlaces, useTesters } from "../stores/lists";
import { kindOf } from "../stores/names";
import type { Thing } from "./asked";

const OFFERED = ["lot", "equipment", "tester", "station"] as const;

/** What is in doubt? What is stopped stands first, because it is what is looked for. */
export default function ChooseLookBack() {
  const { route } = useLocation();
  const [thing, setThing] = useState<(typeof OFFERED)[number] | null>(null);
  const [id, setId] = useState("");
  const [from, setFrom] = useState("");
  const [until, setUntil] = useState("");
  const options = useOptions(thing);
  const timed = thing !== null && thing !== "lot";
  const ready = id !== "" && (thing !== "station" || (from !== "" && until !== ""));
  const show = () => {
    const times = new URLSearchParams();
    if (timed && from) times.set("from", momentTyped(from) ?? "");
    if (timed && until) times.set("until", momentTyped(until) ?? "");
    route(to(`/look-back/${thing}/${id}${times.size > 0 ? `?${times}` : ""}`));
  };
  return (
    <Page title={words.choose()} narrow>
      <Notice tone="plain">
        <p>{words.caution()}</p>
      </Notice>
      <Panel>
        <Choice
          label={words.choose()}
          value={thing}
          options={OFFERED.map(value => ({ value, label: words[`by_${value}`]() }))}
          onValue={next => {
            setThing(next);
            setId("");
          }}
        />
        {thing && (
          <SelectField label={words.pick()} value={id} nothing="" options={options} onValue={setId} />
        )}
        {timed && (
          <>
            <TextField label={words.from()} type="datetime-local" value={from} onValue={setFrom} />
            <TextField label={words.until()} type="datetime-local" value={until} onValue={setUntil} />
          </>
        )}
        <div class="row">
          <Button kind="main" disabled={!ready} onClick={show}>
            {words.show()}
          </Button>
        </div>
      </Panel>
    </Page>
  );
}

function useOptions(thing: Thing | null) {
  const lots = useLots().data ?? [];
  const equipment = useEquipment().data ?? [];
  const places = usePlaces().data ?? [];
  const testers = useTesters().data ?? [];
  if (thing === "lot") {
    const sorted = [...lots].sort((one, other) => Number(other.stopped) - Number(one.stopped));
    return sorted.map(one => ({
      value: one.id,
      label: [one.lot_number, kindOf(one), one.stopped && stores.stopped()].filter(Boolean).join(" · "),
    }));
  }
  if (thing === "equipment") {
    return equipment.map(one => ({ value: one.id, label: `${stores[`kind_${one.kind}`]()} ${one.label}` }));
  }
  if (thing === "tester") return testers.map(one => ({ value: one.id, label: one.display_name }));
  return places.filter(one => one.station_id).map(one => ({ value: one.id, label: one.name }));
}
