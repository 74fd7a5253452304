import { useLocation } from "preact-iso";
import { useState } from "preact/hooks";
import { to } from "../../app/screens";
import { may } from "../../app/session";
import { Tag } from "../../kit/answer";
import { Button } from "../../kit/button";
import { Dialog } from "../../kit/dialog";
import { Page, Panel } from "../../kit/page";
import { Empty, Loaded } from "../../kit/states";
import { Table } from "../../kit/table";
import { clock, date, dateAtSite } from "../../words/format";
import { dayWords as words } from "../../words/days";
import { NewDay } from "./day-form";
import { type Day, dayState, STATE_TONES, useDays } from "./lists";

/** Which days are planned, and which were? */
export default function Days() {
  const days = useDays();
  const { route } = useLocation();
  const [adding, setAdding] = useState(false);
  return (
    <Page
      title={words.title()}
      actions={
        may("create_day") && (
          <Button kind="main" onClick={() => setAdding(true)}>
            {words.add()}
          </Button>
        )
      }
    >
      <Panel>
        <Loaded resource={days}>
          {rows =>
            rows.length === 0 ? (
              <Empty title={words.none()}>
                <p>{words.none_todo()}</p>
              </Empty>
            ) : (
              <DayTable rows={rows} />
            )
          }
        </Loaded>
      </Panel>
      {adding && (
        <Dialog title={words.add()} onClose={() => setAdding(false)}>
          <NewDay onCancel={() => setAdding(false)} onStored={day => route(to(`/set-up/days/${day.id}`))} />
        </Dialog>
      )}
    </Page>
  );
}

/** The latest first: what is ahead is what is worked on. */
const latest = (one: Day, other: Day) => other.opens_at.localeCompare(one.opens_at);

function DayTable({ rows }: { rows: Day[] }) {
  return (
    <Table
      caption={words.title()}
      rows={[...rows].sort(latest)}
      keyOf={one => one.id}
      columns={[
        { title: words.place(), cell: one => <a href={to(`/set-up/days/${one.id}`)}>{one.place}</a> },
        { title: words.date(), cell: one => date(dateAtSite(one.opens_at)) },
        { title: words.hours(), cell: hours },
        { title: words.rule_set(), cell: one => `${one.rule_set.name} ${one.rule_set.version}` },
        { title: words.state(), cell: one => <DayState day={one} /> },
      ]}
    />
  );
}

export const hours = (one: Day): string =>
  words.hours_of({ from: clock(one.opens_at), until: clock(one.closes_at) });

export function DayState({ day }: { day: Day }) {
  const state = dayState(day);
  return <Tag tone={STATE_TONES[state]}>{words[state]()}</Tag>;
}
