import "./gates.css";
import { useLocation, useRoute } from "preact-iso";
import { useState } from "preact/hooks";
import { api, need, newId, nowText } from "../../api/client";
import { to } from "../../app/screens";
import { type Form, useForm } from "../../app/use-form";
import { Choice, SelectField, TextArea, TextField } from "../../kit/field";
import { FieldRow, FormBody } from "../../kit/form";
import { Page, Panel } from "../../kit/page";
import { Loaded } from "../../kit/states";
import { gateSetUp as words } from "../../words/gate-set-up";
import { AcceptLines } from "./accept-lines";
import { useGates, usePolicies } from "./lists";
import { checkPolicy, policyBody, type PolicyTyped, startFrom } from "./policy-typed";
import { type Policy, UNITS } from "./policy-words";

/** What is to hold at this gate, and from when on? */
export default function NewPolicy() {
  const { id = "" } = useRoute().params;
  const gate = useGates().data?.find(one => one.id === id);
  const policies = usePolicies(id);
  return (
    <Page title={words.new_policy_of({ gate: gate?.name ?? "…" })} intro={words.new_policy_intro()} narrow>
      <Panel>
        <Loaded resource={policies}>{rows => <PolicyForm gateId={id} last={newest(rows)} />}</Loaded>
      </Panel>
    </Page>
  );
}

/** The one that will hold last: the next is most often decided on top of it. */
const newest = (rows: Policy[]): Policy | undefined =>
  rows
    .filter(one => one.standing !== "past")
    .sort((one, other) => other.effective_from.localeCompare(one.effective_from))[0];

function PolicyForm({ gateId, last }: { gateId: string; last: Policy | undefined }) {
  const { route } = useLocation();
  const [id] = useState(newId);
  const form = useForm<PolicyTyped>(() => startFrom(last), {
    check: checkPolicy,
    refusals: {
      effective_from: words.begins_wrong,
      none_needed_until: words.until_wrong,
      accepts: words.one_without_end,
      knowledge_age_max_seconds: words.age_wrong,
    },
    save: async typed => {
      const params = { path: { gate_id: gateId } };
      const body = policyBody(id, typed, nowText());
      await need(api.POST("/api/v1/gates/{gate_id}/policies", { params, body }));
      route(to(`/set-up/gates/${gateId}`));
    },
  });
  return (
    <FormBody form={form} submit={words.decide()} onCancel={() => route(to(`/set-up/gates/${gateId}`))}>
      <Begins form={form} />
      <Needed form={form} />
      {form.typed.needed !== "not" && (
        <AcceptLines
          lines={form.typed.accepts}
          onLines={accepts => form.set({ accepts })}
          fault={form.fault}
        />
      )}
      <TextArea label={words.fallback()} hint={words.fallback_hint()} {...form.field("fallback")} />
      <Age form={form} />
      <Leads form={form} />
    </FormBody>
  );
}

type Part = { form: Form<PolicyTyped> };

function Begins({ form }: Part) {
  return (
    <>
      <Choice
        label={words.begins()}
        options={[
          { value: "now", label: words.begins_now() },
          { value: "later", label: words.begins_later() },
        ]}
        {...form.field("begins")}
      />
      {form.typed.begins === "later" && (
        <TextField
          label={words.begins_at()}
          type="datetime-local"
          {...form.field("begins_at")}
          problem={form.fault("begins_at") ?? form.fault("effective_from")}
        />
      )}
    </>
  );
}

function Needed({ form }: Part) {
  return (
    <>
      <Choice
        label={words.needed()}
        options={[
          { value: "yes", label: words.needed_yes() },
          { value: "not_until", label: words.needed_not_until() },
          { value: "not", label: words.needed_not() },
        ]}
        {...form.field("needed")}
      />
      {form.typed.needed === "not_until" && (
        <TextField
          label={words.needed_until()}
          type="datetime-local"
          {...form.field("needed_until")}
          problem={form.fault("needed_until") ?? form.fault("none_needed_until")}
        />
      )}
    </>
  );
}

function Age({ form }: Part) {
  return (
    <FieldRow>
      <TextField
        label={words.age()}
        hint={words.age_hint()}
        inputMode="numeric"
        {...form.field("age")}
        problem={form.fault("age") ?? form.fault("knowledge_age_max_seconds")}
      />
      <SelectField
        label={words.unit()}
        options={UNITS.map(value => ({ value, label: words[`unit_${value}`]() }))}
        {...form.field("unit")}
      />
    </FieldRow>
  );
}

function Leads({ form }: Part) {
  return (
    <>
      <Choice
        label={words.leads()}
        hint={words.leads_hint()}
        options={[
          { value: "any", label: words.leads_any() },
          { value: "named", label: words.leads_named() },
          { value: "nobody", label: words.leads_nobody() },
        ]}
        {...form.field("leads")}
      />
      {form.typed.leads === "named" && <TextArea label={words.lead_names()} {...form.field("lead_names")} />}
    </>
  );
}
