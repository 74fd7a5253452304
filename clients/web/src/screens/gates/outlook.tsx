import { useState } from "preact/hooks";
import { api, need, type Wire } from "../../api/client";
import { useForm } from "../../app/use-form";
import { Choice, SelectField, TextArea, TextField } from "../../kit/field";
import { FormBody } from "../../kit/form";
import { Notice } from "../../kit/notice";
import { Facts, Panel } from "../../kit/page";
import { Empty } from "../../kit/states";
import { Table } from "../../kit/table";
import { dayAndClock, list } from "../../words/format";
import { gateSetUp as words } from "../../words/gate-set-up";
import { kit } from "../../words/kit";
import { momentTyped } from "../../words/site-time";
import { useRespirators } from "../stores/lists";
import { respiratorName } from "../stores/names";
import { lines } from "./typed";
import type { Policy } from "./policy-words";

const AT = "at";

/** Whom will the gate turn away at a moment ahead, and what would help each of them? */
export function Outlook({ gateId, coming }: { gateId: string; coming: Policy[] }) {
  const [found, setFound] = useState<Wire<"OutlookView"> | null>(null);
  const form = useForm(
    { when: coming[0]?.id ?? AT, at: "", who: "entered" as "entered" | "units", days: "14", units: "" },
    {
      check: typed => ({
        at: typed.when === AT && !momentTyped(typed.at) && kit.required(),
        entered_within_days: typed.who === "entered" && !/^\d+$/.test(typed.days.trim()) && kit.required(),
        units: typed.who === "units" && lines(typed.units).length === 0 && kit.required(),
      }),
      save: async ({ when, at, who, days, units }) => {
        const body = {
          ...(when === AT ? { at: momentTyped(at) } : { policy_id: when }),
          ...(who === "entered" ? { entered_within_days: Number(days) } : { units: lines(units) }),
        };
        const params = { path: { gate_id: gateId } };
        setFound(await need(api.POST("/api/v1/gates/{gate_id}/outlooks", { params, body })));
      },
    },
  );
  const { typed } = form;
  return (
    <Panel title={words.outlook()}>
      <p class="soft">{words.outlook_intro()}</p>
      <FormBody form={form} submit={words.outlook_ask()} kind="plain">
        {coming.length > 0 && (
          <SelectField
            label={words.outlook_when()}
            options={[
              ...coming.map(one => ({
                value: one.id,
                label: words.outlook_policy({ time: dayAndClock(one.effective_from) }),
              })),
              { value: AT, label: words.outlook_at() },
            ]}
            {...form.field("when")}
          />
        )}
        {typed.when === AT && (
          <TextField label={words.outlook_at()} type="datetime-local" {...form.field("at")} />
        )}
        <Choice
          label={words.outlook_who()}
          options={[
            { value: "entered", label: words.outlook_entered() },
            { value: "units", label: words.outlook_units() },
          ]}
          {...form.field("who")}
        />
        {typed.who === "entered" ? (
          <TextField
            label={words.outlook_days()}
            inputMode="numeric"
            value={typed.days}
            onValue={days => form.set({ days })}
            problem={form.fault("entered_within_days")}
          />
        ) : (
          <TextArea
            label={words.outlook_units()}
            hint={words.outlook_units_hint()}
            {...form.field("units")}
          />
        )}
      </FormBody>
      {found && <Found outlook={found} />}
    </Panel>
  );
}

function Found({ outlook }: { outlook: Wire<"OutlookView"> }) {
  const respirators = useRespirators().data ?? [];
  const name = (id: string) => {
    const one = respirators.find(respirator => respirator.id === id);
    return one ? respiratorName(one) : "–";
  };
  const { counts, items } = outlook;
  const nobody = [...outlook.unknown_units, ...outlook.unknown_staff_numbers];
  return (
    <div class="stack" role="status">
      <h3>{dayAndClock(outlook.at)}</h3>
      <Facts
        facts={[
          [words.asked(), counts.asked],
          [words.enter_now(), counts.enter_now],
          [words.enter_then(), counts.enter_then],
          [words.turned_away(), counts.turned_away],
        ]}
      />
      {nobody.length > 0 && <Notice tone="wait" title={words.unknown({ names: list(nobody) })} />}
      {items.length === 0 ? (
        <Empty title={words.outlook_none()} />
      ) : (
        <Table
          caption={words.outlook()}
          rows={items}
          keyOf={one => one.person_id}
          columns={[
            {
              title: words.person(),
              cell: one => `${one.given_name} ${one.family_name} · ${one.staff_number}`,
            },
            { title: words.unit_of(), cell: one => one.unit },
            { title: words.enter_now(), cell: one => (one.enters_now ? kit.yes() : kit.no()) },
            { title: words.helps(), cell: one => help(one, name) },
          ]}
        />
      )}
    </div>
  );
}

/** A permission comes before any test; of the tests that would help, the first is enough. */
function help(one: Wire<"PersonOutlookView">, name: (id: string) => string): string {
  const first = one.retest_on[0];
  const test = first && words.helps_test({ name: name(first) });
  return [one.needs_permission && words.helps_permission(), test].filter(Boolean).join(" ") || "–";
}
