import { useState } from "preact/hooks";
import { api, need, type Wire } from "../../api/client";
import { may } from "../../app/session";
import { useAction } from "../../app/use-action";
import { faultAt } from "../../app/use-form";
import { announce } from "../../kit/announce";
import { Button } from "../../kit/button";
import { Choice, SelectField, TextField } from "../../kit/field";
import { ProblemNotice } from "../../kit/notice";
import { Page, Panel } from "../../kit/page";
import { dayAndClock, momentAtSite } from "../../words/format";
import { outlook as words } from "../../words/outlook";
import { GateField } from "../gates/gate-field";
import { usePolicies } from "../gates/lists";
import { Answered, type Outlook } from "./answered";

type Question = Wire<"OutlookQuestion">;

/** Whom will this gate turn away? Asked before a change, so that nobody finds out at the door. */
export default function PolicyOutlook() {
  const [gate, setGate] = useState("");
  return (
    <Page title={words.title()} intro={words.intro()}>
      <Panel>
        <GateField label={words.gate()} value={gate} onValue={setGate} />
      </Panel>
      {gate && <OfGate key={gate} gateId={gate} />}
    </Page>
  );
}

function OfGate({ gateId }: { gateId: string }) {
  const [when, setWhen] = useState<"policy" | "moment" | null>(null);
  const [policy, setPolicy] = useState("");
  const [moment, setMoment] = useState("");
  const [days, setDays] = useState("30");
  const [units, setUnits] = useState("");
  const [found, setFound] = useState<Outlook | null>(null);
  const policies = usePolicies(gateId);
  const coming = policies.data?.filter(one => one.standing === "coming") ?? [];
  const named = units
    .split(",")
    .map(one => one.trim())
    .filter(Boolean);
  const whole = days === "" || (/^\d+$/.test(days) && Number(days) >= 1 && Number(days) <= 366);
  const said = when === "policy" ? policy !== "" : when === "moment" && moment !== "";
  const ready = said && whole && (days !== "" || named.length > 0);
  const ask = useAction(async () => {
    setFound(null);
    const question: Question = {
      ...(when === "policy" ? { policy_id: policy } : { at: momentAtSite(moment).toISOString() }),
      units: named,
      ...(days === "" ? {} : { entered_within_days: Number(days) }),
    };
    setFound(await asked(gateId, question));
    announce(words.names());
  });
  const fault = (name: string) => faultAt(ask.problem, name);
  return (
    <>
      <Panel>
        <form
          class="stack"
          noValidate
          onSubmit={event => {
            event.preventDefault();
            if (ready) void ask.run();
          }}
        >
          <Choice
            label={words.when()}
            value={when}
            options={[
              { value: "policy", label: words.when_policy() },
              { value: "moment", label: words.when_moment() },
            ]}
            onValue={setWhen}
          />
          {when === "policy" &&
            (coming.length === 0 ? (
              <p class="soft">{words.policy_none()}</p>
            ) : (
              <SelectField
                label={words.policy()}
                value={policy}
                nothing=""
                options={coming.map(one => ({
                  value: one.id,
                  label: words.policy_from({ at: dayAndClock(one.effective_from) }),
                }))}
                onValue={setPolicy}
                problem={fault("policy_id")}
              />
            ))}
          {when === "moment" && (
            <TextField
              label={words.moment()}
              type="datetime-local"
              value={moment}
              onValue={setMoment}
              problem={fault("at")}
            />
          )}
          <TextField
            label={`${words.entered()}: ${words.days()}`}
            value={days}
            onValue={setDays}
            inputMode="numeric"
            problem={whole ? fault("entered_within_days") : words.days_between()}
          />
          <TextField
            label={words.units()}
            hint={words.units_hint()}
            value={units}
            onValue={setUnits}
            autocomplete="off"
            problem={days === "" && named.length === 0 ? words.who_needed() : fault("units")}
          />
          <ProblemNotice problem={ask.problem} />
          <div class="row">
            <Button kind="main" type="submit" busy={ask.busy} disabled={!ready}>
              {words.ask()}
            </Button>
          </div>
        </form>
      </Panel>
      {found && <Answered found={found} />}
    </>
  );
}

/** By name for those who plan retests; in numbers for the guards' lead. */
async function asked(gate_id: string, body: Question): Promise<Outlook> {
  const params = { path: { gate_id } };
  if (may("read_gate_outlook")) return need(api.POST("/api/v1/gates/{gate_id}/outlooks", { params, body }));
  return need(api.POST("/api/v1/gates/{gate_id}/outlook_counts", { params, body }));
}
