import { useState } from "preact/hooks";
import { api, need, newId, type Wire } from "../../api/client";
import { type Faults, missing, useForm } from "../../app/use-form";
import { CheckField, Checks, TextField } from "../../kit/field";
import { FormBody } from "../../kit/form";
import { dayWords as words } from "../../words/days";
import type { Day } from "./lists";

type Part = Wire<"StationPart">;
export type Station = Wire<"StationView">;

const PARTS = ["check_in", "screening", "testing", "measuring", "badges"] as const satisfies readonly Part[];

interface StationTyped {
  name: string;
  parts: Part[];
  hood_forbids_bending: boolean;
}

const check = (typed: StationTyped): Faults<StationTyped> => ({
  ...missing(typed, "name"),
  parts: typed.parts.length === 0 && words.parts_none(),
});

interface Means {
  onStored: () => void;
  onCancel: () => void;
}

export function NewStation({ day, onStored, onCancel }: Means & { day: Day }) {
  const [id] = useState(newId);
  const form = useForm<StationTyped>(
    { name: "", parts: [], hood_forbids_bending: false },
    {
      check,
      save: async typed => {
        const params = { path: { day_id: day.id } };
        await need(api.POST("/api/v1/days/{day_id}/stations", { params, body: { id, ...typed } }));
        onStored();
      },
    },
  );
  return (
    <FormBody form={form} submit={words.add_station()} onCancel={onCancel}>
      <StationFields {...form} />
    </FormBody>
  );
}

export function EditStation({
  row,
  onStored,
  onCancel,
  onStale,
}: Means & { row: Station; onStale: () => void }) {
  const { name, parts, hood_forbids_bending } = row;
  const form = useForm<StationTyped & { closed: boolean }>(
    { name, parts, hood_forbids_bending, closed: Boolean(row.closed_at) },
    {
      check,
      save: async body => {
        const params = { path: { station_id: row.id }, header: { "If-Match": `"${row.version}"` } };
        await need(api.PATCH("/api/v1/stations/{station_id}", { params, body }));
        onStored();
      },
    },
  );
  return (
    <FormBody form={form} onCancel={onCancel} onStale={onStale}>
      <StationFields {...form} />
      <CheckField
        label={words.station_closed()}
        checked={form.typed.closed}
        onValue={closed => form.set({ closed })}
      />
      <p class="small soft">{words.station_closed_hint()}</p>
    </FormBody>
  );
}

/** Both forms ask for the same; only a station that is there can be closed. */
type StationForm = Pick<ReturnType<typeof useForm<StationTyped>>, "field" | "set" | "typed">;

function StationFields({ field, set, typed }: StationForm) {
  return (
    <>
      <TextField
        label={words.station_name()}
        hint={words.station_name_hint()}
        autocomplete="off"
        {...field("name")}
      />
      <Checks
        label={words.parts()}
        hint={words.parts_hint()}
        options={PARTS.map(value => ({ value, label: words[`part_${value}`]() }))}
        {...field("parts")}
      />
      {typed.parts.includes("testing") && (
        <CheckField
          label={words.hood()}
          checked={typed.hood_forbids_bending}
          onValue={hood_forbids_bending => set({ hood_forbids_bending })}
        />
      )}
    </>
  );
}
