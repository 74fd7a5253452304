import { api, need, type Wire } from "../../api/client";
import { site as known } from "../../app/session";
import { missing, useForm } from "../../app/use-form";
import { useResource } from "../../app/use-resource";
import { announce } from "../../kit/announce";
import { SelectField, TextField } from "../../kit/field";
import { Edited, FormBody } from "../../kit/form";
import { Notice } from "../../kit/notice";
import { Facts, Page, Panel } from "../../kit/page";
import { play } from "../../kit/sound";
import { Loaded } from "../../kit/states";
import { date, dateAtSite } from "../../words/format";
import { kit } from "../../words/kit";
import { siteWords as words } from "../../words/site";
import { setKey, useRuleSets } from "../rule-sets/lists";

type Site = Wire<"SiteView">;

/** How is this site set? */
export default function SiteScreen() {
  const site = useResource("site", () => need(api.GET("/api/v1/sites/current")), { nouns: ["sites"] });
  return (
    <Page title={words.title()} narrow>
      <Loaded resource={site}>
        {now => (
          <Panel>
            <Facts
              facts={[
                [words.zone(), now.time_zone],
                [words.since(), date(dateAtSite(now.created_at))],
              ]}
            />
            <p class="small soft">{words.zone_stays()}</p>
            <Edited row={now}>
              {(began, stored) => (
                <SiteForm
                  row={began}
                  onStale={site.reload}
                  onStored={next => {
                    stored(next);
                    known.value = next;
                    site.reload();
                  }}
                />
              )}
            </Edited>
          </Panel>
        )}
      </Loaded>
    </Page>
  );
}

/** A number as it is typed; empty stands for none. */
const typedNumber = (value: number | null | undefined): string => (value == null ? "" : String(value));
const readNumber = (text: string): number | null => (text.trim() === "" ? null : Number(text));
const isNumber = (text: string): boolean => /^\d{0,6}$/.test(text.trim());

interface FormProps {
  row: Site;
  onStored: (site: Site) => void;
  onStale: () => void;
}

function SiteForm({ row, onStored, onStale }: FormProps) {
  const sets = (useRuleSets().data ?? []).filter(one => one.usable);
  const held = { name: row.rule_set_name, version: row.rule_set_version };
  const form = useForm(
    {
      name: row.name,
      rule_set: setKey(held),
      scans_kept_days: typedNumber(row.scans_kept_days),
      lead_entries_kept_days: typedNumber(row.lead_entries_kept_days),
      clock_tolerance_seconds: typedNumber(row.clock_tolerance_seconds),
      repeat_scan_seconds: typedNumber(row.repeat_scan_seconds),
    },
    {
      check: typed => ({
        ...missing(typed, "name"),
        scans_kept_days: !isNumber(typed.scans_kept_days) && words.days_wrong(),
        lead_entries_kept_days: !isNumber(typed.lead_entries_kept_days) && words.days_wrong(),
        clock_tolerance_seconds: !isNumber(typed.clock_tolerance_seconds) && words.tolerance_wrong(),
        repeat_scan_seconds: !isNumber(typed.repeat_scan_seconds) && words.repeat_wrong(),
      }),
      refusals: {
        scans_kept_days: words.days_wrong,
        lead_entries_kept_days: words.days_wrong,
        clock_tolerance_seconds: words.tolerance_wrong,
        repeat_scan_seconds: words.repeat_wrong,
      },
      save: async typed => {
        const chosen = sets.find(one => setKey(one) === typed.rule_set);
        const other = chosen && setKey(chosen) !== setKey(held);
        const body = {
          name: typed.name,
          // Said again, the same rule set would have every clearance worked out again.
          ...(other ? { rule_set: { name: chosen.name, version: chosen.version } } : {}),
          scans_kept_days: readNumber(typed.scans_kept_days),
          lead_entries_kept_days: readNumber(typed.lead_entries_kept_days),
          clock_tolerance_seconds: readNumber(typed.clock_tolerance_seconds),
          repeat_scan_seconds: readNumber(typed.repeat_scan_seconds),
        };
        const params = { header: { "If-Match": `"${row.version}"` } };
        const next = await need(api.PATCH("/api/v1/sites/current", { params, body }));
        play("done");
        announce(kit.saved());
        onStored(next);
      },
    },
  );
  const { typed } = form;
  const keepsLess =
    typed.scans_kept_days !== typedNumber(row.scans_kept_days) ||
    typed.lead_entries_kept_days !== typedNumber(row.lead_entries_kept_days);
  const options = sets.map(one => ({ value: setKey(one), label: `${one.title} (${one.version})` }));
  if (!options.some(one => one.value === setKey(held))) {
    options.push({ value: setKey(held), label: setKey(held) });
  }
  return (
    <FormBody form={form} onStale={onStale}>
      <TextField label={words.name()} hint={words.name_hint()} {...form.field("name")} />
      <SelectField
        label={words.rules()}
        hint={words.rules_hint()}
        options={options}
        {...form.field("rule_set")}
      />
      {typed.rule_set !== setKey(held) && <Notice tone="wait" title={words.rules_change()} />}
      <h2>{words.kept()}</h2>
      <TextField
        label={words.scans()}
        hint={words.scans_hint()}
        inputMode="numeric"
        {...form.field("scans_kept_days")}
      />
      <TextField
        label={words.entries()}
        hint={words.entries_hint()}
        inputMode="numeric"
        {...form.field("lead_entries_kept_days")}
      />
      {keepsLess && <Notice tone="wait" title={words.kept_change()} />}
      <h2>{words.gates()}</h2>
      <TextField
        label={words.tolerance()}
        hint={words.tolerance_hint()}
        inputMode="numeric"
        {...form.field("clock_tolerance_seconds")}
      />
      <TextField
        label={words.repeat()}
        hint={words.repeat_hint()}
        inputMode="numeric"
        {...form.field("repeat_scan_seconds")}
      />
    </FormBody>
  );
}
