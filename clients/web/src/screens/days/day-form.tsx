import { useState } from "preact/hooks";
import { api, need, newId } from "../../api/client";
import { site } from "../../app/session";
import { type Faults, missing, useForm } from "../../app/use-form";
import { SelectField, TextField } from "../../kit/field";
import { FieldRow, FormBody } from "../../kit/form";
import { dayWords as words } from "../../words/days";
import { momentTyped, typedAtSite } from "../../words/site-time";
import { setKey, useRuleSets } from "../rule-sets/lists";
import type { Day } from "./lists";

interface DayTyped {
  place: string;
  date: string;
  opens: string;
  closes: string;
}

/** The day's hours are typed as one date and two times; a day that closes earlier than it opens goes past midnight. */
function moments({ date, opens, closes }: DayTyped) {
  const opens_at = momentTyped(`${date}T${opens}`);
  const closes_at = momentTyped(`${pastMidnight({ opens, closes }) ? dayAfter(date) : date}T${closes}`);
  return opens_at && closes_at ? { opens_at, closes_at } : undefined;
}

const pastMidnight = ({ opens, closes }: Pick<DayTyped, "opens" | "closes">): boolean =>
  opens !== "" && closes !== "" && closes < opens;

const DAY_MS = 86_400_000;

const dayAfter = (date: string): string =>
  new Date(Date.parse(`${date}T00:00Z`) + DAY_MS).toISOString().slice(0, 10);

const check = (typed: DayTyped): Faults<DayTyped> => ({
  ...missing(typed, "place", "date", "opens", "closes"),
  ...(typed.closes !== "" && typed.opens === typed.closes ? { closes: words.hours_wrong() } : {}),
});

const refusals = { closes_at: words.hours_wrong, opens_at: words.hours_wrong };

interface Means {
  onStored: (day: Day) => void;
  onCancel: () => void;
}

const OF_SITE = "site";

export function NewDay({ onStored, onCancel }: Means) {
  const [id] = useState(newId);
  const sets = (useRuleSets().data ?? []).filter(one => one.usable);
  const form = useForm<DayTyped & { rule_set: string }>(
    { place: "", date: "", opens: "", closes: "", rule_set: OF_SITE },
    {
      check,
      refusals,
      save: async typed => {
        const hours = moments(typed);
        if (!hours) return;
        const chosen = sets.find(one => setKey(one) === typed.rule_set);
        const rule_set = chosen && { name: chosen.name, version: chosen.version };
        const body = { id, place: typed.place, ...hours, rule_set: rule_set ?? null };
        onStored(await need(api.POST("/api/v1/days", { body })));
      },
    },
  );
  const ofSite = site.value && `${site.value.rule_set_name} ${site.value.rule_set_version}`;
  return (
    <FormBody form={form} submit={words.add()} onCancel={onCancel}>
      <HoursFields {...form} />
      <SelectField
        label={words.rule_set()}
        hint={words.rule_set_hint()}
        options={[
          { value: OF_SITE, label: words.rule_set_site({ name: ofSite ?? "" }) },
          ...sets.map(one => ({ value: setKey(one), label: `${one.title} (${one.version})` })),
        ]}
        {...form.field("rule_set")}
      />
    </FormBody>
  );
}

export function EditDay({ row, onStored, onCancel, onStale }: Means & { row: Day; onStale: () => void }) {
  const [opens, closes] = [typedAtSite(row.opens_at), typedAtSite(row.closes_at)];
  const form = useForm(
    { place: row.place, date: opens.slice(0, 10), opens: opens.slice(11), closes: closes.slice(11) },
    {
      check,
      refusals,
      save: async typed => {
        const params = { path: { day_id: row.id }, header: { "If-Match": `"${row.version}"` } };
        const body = { place: typed.place, ...moments(typed) };
        onStored(await need(api.PATCH("/api/v1/days/{day_id}", { params, body })));
      },
    },
  );
  return (
    <FormBody form={form} onCancel={onCancel} onStale={onStale}>
      <HoursFields {...form} />
    </FormBody>
  );
}

/** Both forms ask for the same; only a new day is asked for its rule set. */
type HoursForm = Pick<ReturnType<typeof useForm<DayTyped>>, "field" | "fault" | "typed">;

function HoursFields({ field, fault, typed }: HoursForm) {
  return (
    <>
      <TextField label={words.place()} hint={words.place_hint()} autocomplete="off" {...field("place")} />
      <TextField label={words.date()} type="date" {...field("date")} />
      <FieldRow>
        <TextField
          label={words.opens()}
          type="time"
          {...field("opens")}
          problem={field("opens").problem ?? fault("opens_at")}
        />
        <TextField
          label={words.closes()}
          type="time"
          {...field("closes")}
          problem={field("closes").problem ?? fault("closes_at")}
        />
      </FieldRow>
      {pastMidnight(typed) && <p class="soft">{words.next_day()}</p>}
    </>
  );
}
