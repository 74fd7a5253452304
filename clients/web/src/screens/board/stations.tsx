import type { Wire } from "../../api/client";
import { useNow } from "../../app/use-now";
import { Tag } from "../../kit/answer";
import { Panel } from "../../kit/page";
import { Empty } from "../../kit/states";
import { board as words } from "../../words/board";
import { clock, span } from "../../words/format";

type Station = Wire<"BoardStation">;

/** A station of which nothing is heard for so long, while the day is open, may be out of contact or on a break. */
const QUIET_MS = 20 * 60_000;

/** What each station does, what it lacks, and since when nothing was heard of it: only what is proven. */
export function Stations({ board }: { board: Wire<"BoardView"> }) {
  const now = useNow(15_000);
  const open = now < Date.parse(board.closes_at);
  return (
    <Panel title={words.stations()}>
      {board.stations.length === 0 && <Empty title={words.stations_none()} />}
      <ul class="board-stations">
        {board.stations.map(one => (
          <li key={one.station_id} class="board-station">
            <h3>{one.name}</h3>
            {one.closed_at && <Tag tone="plain">{words.closed()}</Tag>}
            {(!one.closed_at || one.ticket) && <Doing station={one} now={now} />}
            {one.short_of.map(solution => (
              <Tag key={solution} tone="stop">
                {words[`short_${solution}`]()}
              </Tag>
            ))}
            <Heard station={one} now={now} open={open && !one.closed_at} />
            <p class="small soft">{more(one)}</p>
          </li>
        ))}
      </ul>
    </Panel>
  );
}

function Doing({ station, now }: { station: Station; now: number }) {
  const { ticket, step, called_at } = station;
  if (!ticket || !step) return <Tag tone="plain">{words.free()}</Tag>;
  const since = called_at ? `, ${words.since({ span: span(now - Date.parse(called_at)) })}` : "";
  return (
    <Tag tone="go">
      {words.busy({ ticket, step: words[`step_${step}`]() })}
      {since}
    </Tag>
  );
}

function Heard({ station, now, open }: { station: Station; now: number; open: boolean }) {
  if (!station.heard_at) return <Tag tone="unknown">{words.never()}</Tag>;
  const ago = now - Date.parse(station.heard_at);
  const text = { span: span(ago) };
  if (open && ago > QUIET_MS) return <Tag tone="unknown">{words.quiet(text)}</Tag>;
  return <p class="small soft">{words.heard(text)}</p>;
}

/** The runs so far, and when the first of its nebulizers has to be rinsed and filled again. */
function more(station: Station): string {
  const ends = station.fills.map(one => Date.parse(one.usable_until));
  const refill = ends.length > 0 ? words.refill({ time: clock(Math.min(...ends)) }) : "";
  return [words.runs({ n: station.runs }), refill].filter(Boolean).join(" · ");
}
