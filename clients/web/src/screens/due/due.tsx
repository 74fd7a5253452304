import { useState } from "preact/hooks";
import { to } from "../../app/screens";
import { useResource } from "../../app/use-resource";
import { Tag } from "../../kit/answer";
import { Button } from "../../kit/button";
import { CheckField, Choice, TextField } from "../../kit/field";
import { Notice } from "../../kit/notice";
import { Page, Panel } from "../../kit/page";
import { Empty, Loaded } from "../../kit/states";
import { Table } from "../../kit/table";
import { list, number, span } from "../../words/format";
import { due as words } from "../../words/due";
import { Help } from "../outlook/help";
import { type Names, useRespiratorNames } from "../records/names";
import { AHEAD, type DueList, readDue } from "./read";
import { type Due, type Group, GROUPS } from "./risk";

const DAY_MS = 86_400_000;
/** Due days come by themselves; nobody tells of them. */
const AGAIN_MS = 15 * 60_000;
/** What a person goes through in one sitting; whoever needs more looks at one ward. */
const SHOWN_MAX = 200;

/** Who has to be tested next? Sorted by what it means at the doors. */
export default function DueScreen() {
  const [until, setUntil] = useState<`${(typeof AHEAD)[number]}`>("28");
  const found = useResource(`due ${until}`, () => readDue(Number(until)), { everyMs: AGAIN_MS });
  return (
    <Page
      title={words.title()}
      intro={words.intro()}
      actions={<Button onClick={() => print()}>{words.print()}</Button>}
    >
      <Panel>
        <Choice
          label={words.until()}
          value={until}
          options={AHEAD.map(days => ({ value: `${days}` as const, label: words[`ahead_${days}`]() }))}
          onValue={setUntil}
        />
      </Panel>
      <Loaded resource={found}>{answer => <Listed {...answer} />}</Loaded>
    </Page>
  );
}

function Listed({ due, gates, people, closed }: DueList) {
  const respirators = useRespiratorNames();
  const [text, setText] = useState("");
  const [usersOnly, setUsersOnly] = useState(false);
  if (gates.length === 0) {
    return (
      <Panel>
        <Empty title={words.no_gates()}>
          <p>{words.no_gates_more()}</p>
        </Empty>
      </Panel>
    );
  }
  if (due.length === 0) {
    return (
      <Panel>
        <Empty title={people === 0 ? words.no_people() : words.none()}>
          {people > 0 && <p>{words.none_more()}</p>}
        </Empty>
      </Panel>
    );
  }
  const wanted = text.trim().toLocaleLowerCase();
  const fits = ({ person, group }: Due) =>
    (!usersOnly || group.startsWith("uses")) &&
    `${person.given_name} ${person.family_name} ${person.staff_number} ${person.unit}`
      .toLocaleLowerCase()
      .includes(wanted);
  const shown = due.filter(fits);
  const names: Names = new Map(gates.map(one => [one.id, one.name]));
  return (
    <>
      <Panel>
        <TextField label={words.find()} type="search" value={text} onValue={setText} />
        <CheckField label={words.only_users()} checked={usersOnly} onValue={setUsersOnly} />
        <p class="soft small" role="status">
          {words.found({ n: shown.length })}
        </p>
        {closed.length > 0 && <Notice tone="wait" title={words.closed({ names: list(closed) })} />}
      </Panel>
      {GROUPS.map(group => (
        <OfGroup
          key={group}
          group={group}
          due={shown.filter(one => one.group === group)}
          gates={names}
          respirators={respirators}
        />
      ))}
    </>
  );
}

function OfGroup(props: { group: Group; due: readonly Due[]; gates: Names; respirators: Names }) {
  const { group, due, gates, respirators } = props;
  const [whole, setWhole] = useState(false);
  if (due.length === 0) return null;
  const title = words[`group_${group}`]();
  return (
    <Panel title={`${title}: ${number(due.length)}`}>
      <Table
        caption={title}
        rows={whole ? due : due.slice(0, SHOWN_MAX)}
        keyOf={one => one.person.person_id}
        columns={[
          {
            title: words.person(),
            cell: ({ person }) => (
              <a href={to(`/people/${person.person_id}`)}>
                {person.given_name} {person.family_name}
              </a>
            ),
          },
          { title: words.number(), cell: one => one.person.staff_number },
          { title: words.unit(), cell: one => one.person.unit || "–" },
          { title: words.when(), cell: one => <When days={one.days} /> },
          { title: words.gates(), cell: one => list(one.gates.map(at => gates.get(at.gateId) ?? "…")) },
          { title: words.help(), cell: one => <Help outlook={one.person} respirators={respirators} /> },
        ]}
      />
      {!whole && due.length > SHOWN_MAX && (
        <div class="row">
          <Button onClick={() => setWhole(true)}>{words.show_all({ n: due.length })}</Button>
        </div>
      )}
    </Panel>
  );
}

function When({ days }: { days: number }) {
  if (days === 0) return <Tag tone="stop">{words.now()}</Tag>;
  return <Tag tone="wait">{words.within({ span: span(days * DAY_MS) })}</Tag>;
}
