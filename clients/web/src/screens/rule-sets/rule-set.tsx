import "./rule-sets.css";
import { useLocation } from "preact-iso";
import { useState } from "preact/hooks";
import type { Wire } from "../../api/client";
import { to } from "../../app/screens";
import { may } from "../../app/session";
import { Tag } from "../../kit/answer";
import { Button } from "../../kit/button";
import { SelectField, TextField } from "../../kit/field";
import { holds } from "../../kit/filter";
import { FieldRow } from "../../kit/form";
import { Notice } from "../../kit/notice";
import { Facts, Page, Panel } from "../../kit/page";
import type { Tone } from "../../kit/shape";
import { Loaded } from "../../kit/states";
import { Table } from "../../kit/table";
import { date, list, number } from "../../words/format";
import { ruleSetWords as words } from "../../words/rule-sets";
import { type RuleSet, ruleSetPath, setKey, useRuleSet } from "./lists";
import { SetState } from "./rule-sets";
import { valueText } from "./value-text";

type Status = Wire<"RuleStatus">;
type Value = Wire<"RuleValue">;

const STATUSES = ["verified", "common_practice", "confirmed", "unconfirmed"] as const satisfies Status[];
const TONES: Record<Status, Tone> = {
  verified: "go",
  confirmed: "go",
  common_practice: "plain",
  unconfirmed: "wait",
};

/** One version of a rule set: every value with where it comes from and how far it can be trusted. */
export default function OneRuleSet() {
  const [name = "", version = ""] = (useLocation().query["set"] ?? "").split(" ");
  const found = useRuleSet(name, version);
  return (
    <Loaded resource={found}>
      {set => (
        <Page
          title={set.title}
          intro={`${set.name} ${set.version}`}
          actions={
            <>
              <Button href={`${to("/set-up/rule-sets/compare")}?one=${encodeURIComponent(setKey(set))}`}>
                {words.compare()}
              </Button>
              {may("create_rule_set") && (
                <Button href={`${to("/set-up/rule-sets/new")}?upon=${encodeURIComponent(setKey(set))}`}>
                  {words.upload_this()}
                </Button>
              )}
            </>
          }
        >
          <About set={set} />
          <Open set={set} />
          <Methods set={set} />
          <Values set={set} />
        </Page>
      )}
    </Loaded>
  );
}

function About({ set }: { set: RuleSet }) {
  return (
    <Panel>
      <div class="row">
        <SetState one={set} />
      </div>
      <Notice tone="plain">
        <p>{words.caution()}</p>
      </Notice>
      <Facts
        facts={[
          [words.values(), number(set.value_count)],
          [words.unconfirmed(), number(set.unconfirmed_count)],
          [words.based_on(), set.based_on.length > 0 ? <BasedOn sets={set.based_on} /> : null],
        ]}
      />
    </Panel>
  );
}

function BasedOn({ sets }: { sets: readonly { name: string; version: string }[] }) {
  return (
    <>
      {sets.map(one => (
        <div key={one.name}>
          <a href={ruleSetPath(one)}>{`${one.name} ${one.version}`}</a>
        </div>
      ))}
    </>
  );
}

function Open({ set }: { set: RuleSet }) {
  if (set.open.length === 0) return null;
  return (
    <Panel title={words.open()}>
      <p class="soft">{words.open_hint()}</p>
      <ul class="rows">
        {set.open.map(one => (
          <li class="rule-sets-open" key={one.key}>
            <span class="rule-sets-key">{one.key}</span>
            <span lang="en">{one.reason}</span>
          </li>
        ))}
      </ul>
    </Panel>
  );
}

function Methods({ set }: { set: RuleSet }) {
  const accepted = set.methods.filter(one => one.accepted);
  const not = set.methods.filter(one => !one.accepted);
  return (
    <Panel title={words.methods()}>
      {accepted.length > 0 && (
        <div class="stack stack-close">
          <h3>{words.methods_accepted()}</h3>
          <p>{list(accepted.map(one => words[`method_${one.method}`]()))}</p>
        </div>
      )}
      {not.length > 0 && (
        <div class="stack stack-close">
          <h3>{words.methods_not()}</h3>
          <ul class="rows">
            {not.map(one => (
              <li class="rule-sets-open" key={one.method}>
                <span class="strong">{words[`method_${one.method}`]()}</span>
                <span class="soft" lang="en">
                  {one.why_not}
                </span>
              </li>
            ))}
          </ul>
        </div>
      )}
    </Panel>
  );
}

const ANY = "any";

function Values({ set }: { set: RuleSet }) {
  const [filter, setFilter] = useState("");
  const [only, setOnly] = useState<Status | typeof ANY>(ANY);
  const shown = set.values.filter(
    one => (only === ANY || one.status === only) && holds(filter, one.key, one.source, valueText(one)),
  );
  return (
    <Panel title={words.values()}>
      <FieldRow>
        <TextField label={words.filter()} type="search" value={filter} onValue={setFilter} />
        <SelectField
          label={words.only_status()}
          value={only}
          options={[
            { value: ANY, label: words.any_status() },
            ...STATUSES.map(value => ({ value, label: words[`status_${value}`]() })),
          ]}
          onValue={setOnly}
        />
      </FieldRow>
      <Table
        caption={words.values()}
        rows={shown}
        keyOf={one => one.key}
        columns={[
          { title: words.key(), cell: one => <span class="rule-sets-key">{one.key}</span> },
          { title: words.value(), cell: valueText },
          { title: words.source(), cell: one => <Source one={one} /> },
          {
            title: words.status(),
            cell: one => <Tag tone={TONES[one.status]}>{words[`status_${one.status}`]()}</Tag>,
          },
        ]}
      />
    </Panel>
  );
}

function Source({ one }: { one: Value }) {
  return (
    <>
      {one.source}
      {one.confirmed_by && one.confirmed_on && (
        <span class="small soft">
          <br />
          {words.confirmed_by({ name: one.confirmed_by, date: date(one.confirmed_on) })}
        </span>
      )}
    </>
  );
}
