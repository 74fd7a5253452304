import { useLocation } from "preact-iso";
import { useState } from "preact/hooks";
import { api, need, newId, type Wire } from "../../api/client";
import { to } from "../../app/screens";
import { session } from "../../app/session";
import { missing, useForm } from "../../app/use-form";
import { SelectField, TextField } from "../../kit/field";
import { FormBody } from "../../kit/form";
import { Notice } from "../../kit/notice";
import { Page, Panel } from "../../kit/page";
import { play } from "../../kit/sound";
import { kit } from "../../words/kit";
import { preparationWords as words } from "../../words/preparations";
import { momentTyped, typedAtSite } from "../../words/site-time";
import { solutionName } from "./names";

/** What texts have recipes for; whether the site's rule set has one, the server says. */
const MADE: readonly { agent: Wire<"Agent">; solution: Wire<"Solution"> }[] = [
  { agent: "saccharin", solution: "screening" },
  { agent: "saccharin", solution: "test" },
  { agent: "denatonium_benzoate", solution: "screening" },
  { agent: "denatonium_benzoate", solution: "test" },
  { agent: "isoamyl_acetate", solution: "stock" },
  { agent: "isoamyl_acetate", solution: "screening" },
];

/** What was made here, by whom, and until when may it be used? */
export default function Prepare() {
  const { route } = useLocation();
  const [id] = useState(newId);
  const form = useForm(
    () => ({
      what: "",
      lot_number: "",
      made_by: session.value?.display_name ?? "",
      made_at: typedAtSite(Date.now()),
      last_day: "",
    }),
    {
      check: typed => ({
        ...missing(typed, "what", "lot_number", "made_by"),
        made_at: !momentTyped(typed.made_at) && kit.required(),
      }),
      refusals: { solution: words.no_recipe, last_day: words.last_day_wrong },
      save: async ({ what, made_at, last_day, ...typed }) => {
        const made = MADE[Number(what)];
        const happened_at = momentTyped(made_at);
        if (!made || !happened_at) return;
        const body = { id, ...made, ...typed, last_day: last_day || null, happened_at };
        const lot = await need(api.POST("/api/v1/preparations", { body }));
        play("done");
        route(to(`/stores/lots/${lot.id}`));
      },
    },
  );
  return (
    <Page title={words.title()} intro={words.intro()} narrow>
      <Panel>
        <FormBody form={form} submit={words.made()}>
          <SelectField
            label={words.what()}
            options={MADE.map((one, n) => ({
              value: String(n),
              label: solutionName(one.solution, one.agent),
            }))}
            {...form.field("what")}
            problem={form.fault("what") ?? form.fault("solution")}
          />
          <TextField
            label={words.lot_number()}
            hint={words.lot_number_hint()}
            autocomplete="off"
            {...form.field("lot_number")}
          />
          <TextField label={words.made_by()} autocomplete="off" {...form.field("made_by")} />
          <TextField
            label={words.made_at()}
            type="datetime-local"
            {...form.field("made_at")}
            problem={form.fault("made_at") ?? form.fault("happened_at")}
          />
          <TextField
            label={words.last_day()}
            hint={words.last_day_hint()}
            type="date"
            {...form.field("last_day")}
          />
        </FormBody>
      </Panel>
      <Notice tone="plain">
        <p>{words.caution()}</p>
      </Notice>
    </Page>
  );
}
