import { to } from "../../app/screens";
import { may, site } from "../../app/session";
import { Tag } from "../../kit/answer";
import { Button } from "../../kit/button";
import { Notice } from "../../kit/notice";
import { Page, Panel } from "../../kit/page";
import { Loaded } from "../../kit/states";
import { Table } from "../../kit/table";
import { number } from "../../words/format";
import { ruleSetWords as words } from "../../words/rule-sets";
import { type RuleSetHead, ruleSetPath, useRuleSets } from "./lists";

/** Which rules hold here, and how far can each set be trusted? */
export default function RuleSets() {
  const sets = useRuleSets();
  return (
    <Page
      title={words.title()}
      actions={
        <>
          <Button href={to("/set-up/rule-sets/compare")}>{words.compare()}</Button>
          {may("create_rule_set") && (
            <Button kind="main" href={to("/set-up/rule-sets/new")}>
              {words.upload()}
            </Button>
          )}
        </>
      }
    >
      <Notice tone="plain">
        <p>{words.caution()}</p>
      </Notice>
      <Panel>
        <Loaded resource={sets}>{rows => <SetTable rows={rows} />}</Loaded>
      </Panel>
    </Page>
  );
}

export const inForce = (one: { name: string; version: string }): boolean =>
  one.name === site.value?.rule_set_name && one.version === site.value?.rule_set_version;

/** What holds stands first, then by name with the newest version in front. */
const byForce = (one: RuleSetHead, other: RuleSetHead) =>
  Number(inForce(other)) - Number(inForce(one)) ||
  one.name.localeCompare(other.name) ||
  other.version.localeCompare(one.version);

function SetTable({ rows }: { rows: RuleSetHead[] }) {
  return (
    <Table
      caption={words.title()}
      rows={[...rows].sort(byForce)}
      keyOf={one => `${one.name} ${one.version}`}
      columns={[
        { title: words.name(), cell: one => <a href={ruleSetPath(one)}>{one.title}</a> },
        { title: words.version(), cell: one => `${one.name} ${one.version}` },
        { title: words.values(), cell: one => number(one.value_count), number: true },
        { title: words.unconfirmed(), cell: one => number(one.unconfirmed_count), number: true },
        { title: words.state(), cell: one => <SetState one={one} /> },
      ]}
    />
  );
}

export function SetState({ one }: { one: RuleSetHead }) {
  if (inForce(one)) return <Tag tone="go">{words.in_force()}</Tag>;
  return one.usable ? <Tag tone="plain">{words.usable()}</Tag> : <Tag tone="wait">{words.not_usable()}</Tag>;
}
