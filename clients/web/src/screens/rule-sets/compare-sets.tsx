import "./rule-sets.css";
import { useLocation } from "preact-iso";
import { to } from "../../app/screens";
import { site } from "../../app/session";
import { SelectField } from "../../kit/field";
import { FieldRow } from "../../kit/form";
import { Page, Panel } from "../../kit/page";
import { Empty, Loaded } from "../../kit/states";
import { Table } from "../../kit/table";
import { ruleSetWords as words } from "../../words/rule-sets";
import { type Difference, differences } from "./compare";
import { type RuleSetHead, setKey, useRuleSet, useRuleSets } from "./lists";
import { valueText } from "./value-text";

/** How do two rule sets differ? The two stand in the address, so that the comparison can be sent to somebody. */
export default function CompareSets() {
  const { query, route } = useLocation();
  const sets = useRuleSets();
  const ofSite = site.value ? `${site.value.rule_set_name} ${site.value.rule_set_version}` : "";
  const [one, other] = [query["one"] ?? ofSite, query["other"] ?? ""];
  const choose = (nextOne: string, nextOther: string) => {
    const asked = new URLSearchParams({ one: nextOne, other: nextOther });
    route(`${to("/set-up/rule-sets/compare")}?${asked}`, true);
  };
  const options = (sets.data ?? []).map(set => ({
    value: setKey(set),
    label: `${set.title} (${set.version})`,
  }));
  const find = (key: string) => sets.data?.find(set => setKey(set) === key);
  const [left, right] = [find(one), find(other)];
  return (
    <Page title={words.compare_title()}>
      <Panel>
        <FieldRow>
          <SelectField
            label={words.one()}
            value={left ? one : ""}
            nothing=""
            options={options}
            onValue={next => choose(next, other)}
          />
          <SelectField
            label={words.other()}
            value={right ? other : ""}
            nothing=""
            options={options}
            onValue={next => choose(one, next)}
          />
        </FieldRow>
        {left && right && <Differences key={`${one} ${other}`} one={left} other={right} />}
      </Panel>
    </Page>
  );
}

function Differences({ one, other }: { one: RuleSetHead; other: RuleSetHead }) {
  const left = useRuleSet(one.name, one.version);
  const right = useRuleSet(other.name, other.version);
  return (
    <Loaded resource={left}>
      {here => (
        <Loaded resource={right}>
          {there => {
            const found = differences(here.values, there.values);
            if (found.length === 0) return <Empty title={words.same()} />;
            return (
              <>
                <p class="strong" role="status">
                  {words.differ({ n: found.length })}
                </p>
                <DifferenceTable found={found} one={one} other={other} />
              </>
            );
          }}
        </Loaded>
      )}
    </Loaded>
  );
}

function DifferenceTable({
  found,
  one,
  other,
}: {
  found: Difference[];
  one: RuleSetHead;
  other: RuleSetHead;
}) {
  return (
    <Table
      caption={words.compare_title()}
      rows={found}
      keyOf={pair => pair.key}
      columns={[
        { title: words.key(), cell: pair => <span class="rule-sets-key">{pair.key}</span> },
        { title: titleOf(one, other), cell: pair => <Side value={pair.one} /> },
        { title: titleOf(other, one), cell: pair => <Side value={pair.other} /> },
      ]}
    />
  );
}

/** Two versions of one set are told apart by their versions. */
const titleOf = (set: RuleSetHead, beside: RuleSetHead): string =>
  set.name === beside.name ? set.version : set.title;

function Side({ value }: { value: Difference["one"] }) {
  if (!value) return <span class="soft">{words.only_here()}</span>;
  return (
    <>
      <span class="strong">{valueText(value)}</span>
      <br />
      <span class="small soft">{words[`status_${value.status}`]()}</span>
    </>
  );
}
