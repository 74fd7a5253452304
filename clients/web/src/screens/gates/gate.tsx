import "./gates.css";
import { useRoute } from "preact-iso";
import { useState } from "preact/hooks";
import { to } from "../../app/screens";
import { may } from "../../app/session";
import { Tag } from "../../kit/answer";
import { Button } from "../../kit/button";
import { Dialog } from "../../kit/dialog";
import { Edited } from "../../kit/form";
import { Notice } from "../../kit/notice";
import { Facts, Page, Panel } from "../../kit/page";
import { Empty, Loaded } from "../../kit/states";
import { dayAndClock, list, span } from "../../words/format";
import { gateSetUp as words } from "../../words/gate-set-up";
import { kit } from "../../words/kit";
import { shell } from "../../words/shell";
import { useRespirators } from "../stores/lists";
import { EditGate } from "./gate-form";
import { useGates, usePolicies } from "./lists";
import { Outlook } from "./outlook";
import { capital, lineName, type Policy, STANDING_TONES } from "./policy-words";

/** One gate: what it accepts, what it will, and what it did. */
export default function OneGate() {
  const { id = "" } = useRoute().params;
  const gates = useGates();
  const policies = usePolicies(id);
  const [naming, setNaming] = useState(false);
  const close = () => setNaming(false);
  const stored = () => {
    close();
    gates.reload();
  };
  return (
    <Loaded resource={gates}>
      {found => {
        const gate = found.find(one => one.id === id);
        if (!gate) return <Page title={shell.not_found()} narrow />;
        return (
          <Page
            title={gate.name}
            actions={
              <div class="row">
                {may("update_gate") && <Button onClick={() => setNaming(true)}>{words.change_name()}</Button>}
                {may("create_gate_policy") && (
                  <Button kind="main" href={to(`/set-up/gates/${id}/policy`)}>
                    {words.new_policy()}
                  </Button>
                )}
              </div>
            }
          >
            <Loaded resource={policies}>
              {rows =>
                rows.length === 0 ? (
                  <Panel>
                    <Empty title={words.policies_none()} />
                  </Panel>
                ) : (
                  <Policies rows={rows} />
                )
              }
            </Loaded>
            {may("read_gate_outlook") && (
              <Outlook gateId={id} coming={(policies.data ?? []).filter(one => one.standing === "coming")} />
            )}
            {naming && (
              <Dialog title={kit.change_of({ name: gate.name })} onClose={close}>
                <Edited row={gate}>
                  {row => <EditGate row={row} onStored={stored} onCancel={close} onStale={gates.reload} />}
                </Edited>
              </Dialog>
            )}
          </Page>
        );
      }}
    </Loaded>
  );
}

const ORDER = { coming: 0, present: 1, past: 2 };

/** What comes stands before what is, and that before what was; of several the latest first. */
const byStanding = (one: Policy, other: Policy) =>
  ORDER[one.standing] - ORDER[other.standing] || other.effective_from.localeCompare(one.effective_from);

function Policies({ rows }: { rows: Policy[] }) {
  const sorted = [...rows].sort(byStanding);
  const past = sorted.filter(one => one.standing === "past");
  return (
    <>
      {sorted
        .filter(one => one.standing !== "past")
        .map(one => (
          <OnePolicy key={one.id} policy={one} />
        ))}
      {past.length > 0 && (
        <details class="panel">
          <summary class="strong">{`${words.standing_past()} (${past.length})`}</summary>
          {past.map(one => (
            <OnePolicy key={one.id} policy={one} />
          ))}
        </details>
      )}
      <Notice tone="plain">
        <p>{words.caution()}</p>
      </Notice>
    </>
  );
}

function OnePolicy({ policy }: { policy: Policy }) {
  const respirators = useRespirators().data ?? [];
  return (
    <Panel
      title={dayAndClock(policy.effective_from)}
      actions={<Tag tone={STANDING_TONES[policy.standing]}>{words[`standing_${policy.standing}`]()}</Tag>}
    >
      {policy.none_needed && (
        <p class="strong">
          {policy.none_needed_until
            ? words.none_needed_until({ time: dayAndClock(policy.none_needed_until) })
            : words.none_needed()}
        </p>
      )}
      {policy.accepts.length > 0 && (
        <div class="stack stack-close">
          <h3>{words.accepts()}</h3>
          <ol class="gates-lines">
            {policy.accepts.map((line, n) => (
              <li key={n}>{capital(lineName(line, respirators))}</li>
            ))}
          </ol>
        </div>
      )}
      <Facts
        facts={[
          [words.fallback(), policy.fallback],
          [words.age(), span(policy.knowledge_age_max_seconds * 1000)],
          [words.leads(), leads(policy)],
          [words.decided(), dayAndClock(policy.happened_at)],
        ]}
      />
    </Panel>
  );
}

function leads({ leads: names }: Policy): string {
  if (!names) return words.leads_nobody();
  return names.length === 0 ? words.leads_any() : list(names);
}
