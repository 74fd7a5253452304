import type { Wire } from "../../api/client";
import { to } from "../../app/screens";
import { useNow } from "../../app/use-now";
import { Tag } from "../../kit/answer";
import { Panel } from "../../kit/page";
import { Empty } from "../../kit/states";
import { Table } from "../../kit/table";
import { clock, dateAtSite, millilitres, shortDay, span } from "../../words/format";
import { forecastWords } from "../../words/forecast";
import { stores as words } from "../../words/stores";
import { soonest } from "./soonest";

type Forecast = Wire<"Forecast">;

/** Today by the clock; on another day with its date. */
const moment = (at: number) =>
  dateAtSite(at) === dateAtSite() ? clock(at) : `${shortDay(at)}, ${clock(at)}`;

export function RunsOut({ forecast }: { forecast: Forecast }) {
  const now = useNow(30_000);
  const rows = soonest(forecast);
  return (
    <Panel title={forecastWords.empty_next()}>
      {rows.length === 0 ? (
        <Empty title={forecastWords.empty_none()} />
      ) : (
        <Table
          caption={forecastWords.empty_next()}
          rows={rows}
          keyOf={one => one.key}
          columns={[
            { title: words.what(), cell: one => one.what },
            { title: words.where(), cell: one => one.where },
            {
              title: words.when(),
              cell: one => (
                <Tag tone={one.at <= now ? "stop" : "wait"}>
                  {one.at <= now
                    ? forecastWords.now()
                    : forecastWords.in_time({ time: moment(one.at), span: span(one.at - now) })}
                </Tag>
              ),
            },
            { title: words.to_do(), cell: one => one.todo.join(" · ") },
          ]}
        />
      )}
    </Panel>
  );
}

/** What goes out of date unused, and what lies there and must not be used. */
export function Ends({ forecast }: { forecast: Forecast }) {
  const rows = [
    ...forecast.unusable.map(one => ({
      ...one,
      tone: "stop" as const,
      state: forecastWords[`why_${one.why}`](),
    })),
    ...forecast.expires_unused.map(one => ({
      ...one,
      tone: "wait" as const,
      state: words.until({ date: shortDay(one.at) }),
    })),
  ];
  return (
    <Panel title={forecastWords.ends()}>
      {rows.length === 0 ? (
        <Empty title={forecastWords.ends_none()} />
      ) : (
        <Table
          caption={forecastWords.ends()}
          rows={rows}
          keyOf={one => one.bottle}
          columns={[
            {
              title: words.what(),
              cell: one => (
                <a href={to(`/stores/bottles/${one.bottle}`)}>{words.bottle({ label: one.label })}</a>
              ),
            },
            { title: words.where(), cell: one => one.place.name },
            { title: words.state(), cell: one => <Tag tone={one.tone}>{one.state}</Tag> },
            { title: words.on_hand(), cell: one => millilitres(one.ul), number: true },
          ]}
        />
      )}
    </Panel>
  );
}

export function FacepieceNeeds({ forecast }: { forecast: Forecast }) {
  if (forecast.facepieces.length === 0) return null;
  return (
    <Panel title={forecastWords.facepieces()}>
      <Table
        caption={forecastWords.facepieces()}
        rows={forecast.facepieces}
        keyOf={one => one.respirator}
        columns={[
          { title: words.what(), cell: one => one.name },
          { title: words.on_hand(), cell: one => one.on_hand, number: true },
          { title: forecastWords.need(), cell: one => one.need, number: true },
          {
            title: words.state(),
            cell: one =>
              one.shortage > 0 ? (
                <Tag tone="stop">{forecastWords.missing({ n: one.shortage })}</Tag>
              ) : (
                <Tag tone="go">{forecastWords.enough()}</Tag>
              ),
          },
          { title: forecastWords.order(), cell: one => one.order, number: true },
        ]}
      />
    </Panel>
  );
}
