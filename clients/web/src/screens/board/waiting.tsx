import { api, need, type Wire } from "../../api/client";
import { useNow } from "../../app/use-now";
import { useResource } from "../../app/use-resource";
import { Tag } from "../../kit/answer";
import { Panel } from "../../kit/page";
import { Empty, Loaded } from "../../kit/states";
import { Table } from "../../kit/table";
import { board as words } from "../../words/board";
import { clock, span } from "../../words/format";

type Entry = Wire<"QueueEntry">;

const NOUNS = ["visits", "visit_answers", "calls", "visit_returns", "permissions", "screenings", "attempts"];

/** Everybody who is at no station: who waits longest stands first. */
export function Waiting({ dayId }: { dayId: string }) {
  const queue = useResource(
    `queue ${dayId}`,
    () => need(api.GET("/api/v1/days/{day_id}/queue", { params: { path: { day_id: dayId } } })),
    { nouns: NOUNS, everyMs: 60_000 },
  );
  const now = useNow(15_000);
  return (
    <Panel title={words.waits()}>
      <Loaded resource={queue}>
        {({ items }) => {
          const rows = items.filter(one => !one.held_by_station_id);
          if (rows.length === 0) return <Empty title={words.waits_none()} />;
          rows.sort((one, other) => one.checked_in_at.localeCompare(other.checked_in_at));
          return (
            <Table
              caption={words.waits()}
              rows={rows}
              keyOf={one => one.visit_id}
              columns={[
                {
                  title: words.wait_person(),
                  cell: one => `${one.ticket} · ${one.given_name} ${one.family_name}`,
                },
                { title: words.wait_for(), cell: one => words[`step_${one.step}`]() },
                { title: words.wait_state(), cell: one => <State entry={one} /> },
                {
                  title: words.wait_long(),
                  cell: one => span(now - Date.parse(one.checked_in_at)),
                  number: true,
                },
              ]}
            />
          );
        }}
      </Loaded>
    </Panel>
  );
}

function State({ entry }: { entry: Entry }) {
  if (entry.verdict === "ready") return <Tag tone="go">{words.ready()}</Tag>;
  if (entry.verdict === "on_hold") return <Tag tone="stop">{words.on_hold()}</Tag>;
  return <Tag tone="wait">{words.ready_at({ time: clock(entry.ready_at) })}</Tag>;
}
