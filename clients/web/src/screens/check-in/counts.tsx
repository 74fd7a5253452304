import { api, need } from "../../api/client";
import { useResource } from "../../app/use-resource";
import { Tag } from "../../kit/answer";
import { Facts, Panel } from "../../kit/page";
import { Loaded } from "../../kit/states";
import { checkIn as words } from "../../words/check-in";
import { number } from "../../words/format";

/** How many wait, and for what: numbers only, because the queue sees this screen. */
export function Counts({ dayId }: { dayId: string }) {
  const queue = useResource(
    `queue ${dayId}`,
    () => need(api.GET("/api/v1/days/{day_id}/queue", { params: { path: { day_id: dayId } } })),
    // People become ready by the clock alone, which no news tells.
    {
      nouns: ["visits", "visit_answers", "calls", "visit_returns", "permissions", "attempts", "screenings"],
      everyMs: 30_000,
    },
  );
  return (
    <Panel title={words.counts()}>
      <Loaded resource={queue}>
        {({ items }) => {
          const waiting = items.filter(one => !one.held_by_station_id);
          const count = (verdict: string) => number(waiting.filter(one => one.verdict === verdict).length);
          return (
            <Facts
              facts={[
                [words.count_ready(), <Tag tone="go">{count("ready")}</Tag>],
                [words.count_later(), <Tag tone="wait">{count("ready_at")}</Tag>],
                [words.count_hold(), <Tag tone="stop">{count("on_hold")}</Tag>],
                [words.count_called(), <Tag tone="plain">{number(items.length - waiting.length)}</Tag>],
              ]}
            />
          );
        }}
      </Loaded>
    </Panel>
  );
}
