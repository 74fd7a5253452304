import { useState } from "preact/hooks";
import { api, need, newId, nowText } from "../../api/client";
import { may } from "../../app/session";
import { useAction } from "../../app/use-action";
import { announce } from "../../kit/announce";
import { Button } from "../../kit/button";
import { SelectField, TextField } from "../../kit/field";
import { ProblemNotice } from "../../kit/notice";
import { saveFile } from "../../kit/save-file";
import { play } from "../../kit/sound";
import { stores as words } from "../../words/stores";
import { labelsFrom } from "./labels-from";
import { microlitres } from "./microlitres";
import { usePlaces } from "./lists";
import type { Lot } from "./names";

/** More than a delivery has; a slip of the finger otherwise makes hundreds. */
const BOTTLES_MAX = 60;

/** The bottles that came, each with its own label; then the labels to stick on them. */
export function AddBottles({ lot, onAdded }: { lot: Lot; onAdded: () => void }) {
  const places = usePlaces().data ?? [];
  const [ids, setIds] = useState(() => Array.from({ length: BOTTLES_MAX }, newId));
  const [count, setCount] = useState("1");
  const [volume, setVolume] = useState("");
  const [first, setFirst] = useState("");
  const [place, setPlace] = useState("");
  const [made, setMade] = useState<string[]>([]);
  const wanted = Number(count);
  const volume_ul = microlitres(volume);
  const whole = Number.isInteger(wanted) && wanted > 0 && wanted <= BOTTLES_MAX;
  const ready = whole && Boolean(volume_ul) && first.trim() !== "" && place !== "";
  const add = useAction(async () => {
    const some = ids.slice(0, wanted);
    for (const [n, label] of labelsFrom(first, wanted).entries()) {
      const id = some[n] ?? newId();
      const body = {
        id,
        lot_id: lot.id,
        label,
        volume_ul: volume_ul ?? 0,
        place_id: place,
        happened_at: nowText(),
      };
      await need(api.POST("/api/v1/bottles", { body }));
    }
    setMade(some);
    setIds(Array.from({ length: BOTTLES_MAX }, newId));
    setFirst("");
    play("done");
    announce(words.added({ n: wanted }));
    onAdded();
  });
  return (
    <form
      class="stack"
      onSubmit={event => {
        event.preventDefault();
        if (ready) void add.run();
      }}
    >
      <h3>{words.add_bottles()}</h3>
      <div class="stores-form">
        <TextField
          label={words.how_many()}
          type="number"
          inputMode="numeric"
          min="1"
          max={String(BOTTLES_MAX)}
          value={count}
          onValue={setCount}
        />
        <TextField label={words.volume_ml()} inputMode="decimal" value={volume} onValue={setVolume} />
        <TextField
          label={words.first_label()}
          hint={words.first_label_hint()}
          autocomplete="off"
          value={first}
          onValue={setFirst}
        />
        <SelectField
          label={words.to_place()}
          value={place}
          nothing=""
          options={places.map(one => ({ value: one.id, label: one.name }))}
          onValue={setPlace}
        />
      </div>
      <ProblemNotice problem={add.problem} />
      <div class="row">
        <Button type="submit" busy={add.busy} disabled={!ready}>
          {words.add()}
        </Button>
        {made.length > 0 && <span class="number">{words.added({ n: made.length })}</span>}
      </div>
      {made.length > 0 && may("create_label_sheet") && <PrintLabels bottleIds={made} />}
    </form>
  );
}

/** Labels for bottles, nebulizers and hoods, as a sheet to print. */
export function PrintLabels({
  bottleIds = [],
  equipmentIds = [],
}: {
  bottleIds?: string[];
  equipmentIds?: string[];
}) {
  const print = useAction(async () => {
    const body = { bottle_ids: bottleIds, equipment_ids: equipmentIds, paper: "a4" as const };
    const file = await need(api.POST("/api/v1/label_sheets", { body, parseAs: "blob" }));
    saveFile(file as unknown as Blob, "labels.pdf");
  });
  return (
    <div class="stack">
      <div class="row">
        <Button busy={print.busy} onClick={() => void print.run()}>
          {words.labels_print()}
        </Button>
      </div>
      <ProblemNotice problem={print.problem} />
    </div>
  );
}
