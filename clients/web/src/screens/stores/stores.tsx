import "./stores.css";
import { useState } from "preact/hooks";
import { api, need, type Wire } from "../../api/client";
import { day } from "../../app/place";
import { to } from "../../app/screens";
import { may } from "../../app/session";
import { useResource } from "../../app/use-resource";
import { Tag } from "../../kit/answer";
import { Button } from "../../kit/button";
import { Page, Panel } from "../../kit/page";
import { Loaded } from "../../kit/states";
import { stores as words } from "../../words/stores";
import { type Asked, AssumptionsPanel } from "./assumptions";
import { useLots } from "./lists";
import { kindOf } from "./names";
import { Ends, FacepieceNeeds, RunsOut } from "./outlook";
import { ScanBox } from "./scan-box";

const NOUNS = [
  "bottles",
  "bottle_movements",
  "fills",
  "fill_emptyings",
  "lot_stops",
  "piece_movements",
  "placements",
];

/** The document calls the assumptions an object and no more: their names come with each answer. */
const bodyOf = (day_id: string, { assumptions, ...more }: Asked) =>
  ({ day_id, ...more, assumptions: assumptions ?? {} }) as Wire<"NewForecast">;

/** What will run out or go out of date next, and where is it? */
export default function Stores() {
  const dayId = day.value?.id ?? "";
  const [asked, setAsked] = useState<Asked>({});
  const forecast = useResource(
    `forecast ${dayId} ${JSON.stringify(asked)}`,
    () => need(api.POST("/api/v1/forecasts", { body: bodyOf(dayId, asked) })),
    { nouns: NOUNS, everyMs: 120_000 },
  );
  return (
    <Page
      title={words.title()}
      actions={
        may("create_lot") && (
          <Button kind="main" href={to("/stores/receive")}>
            {words.nav_receive()}
          </Button>
        )
      }
    >
      <Panel>
        <ScanBox />
      </Panel>
      <StoppedLots />
      <Loaded resource={forecast}>
        {found => (
          <>
            <RunsOut forecast={found} />
            <Ends forecast={found} />
            <FacepieceNeeds forecast={found} />
            <AssumptionsPanel key={JSON.stringify(asked)} forecast={found} asked={asked} onAsk={setAsked} />
          </>
        )}
      </Loaded>
    </Page>
  );
}

/** What must not be used stands before everything that may. */
function StoppedLots() {
  const lots = useLots();
  const stopped = lots.data?.filter(one => one.stopped) ?? [];
  if (stopped.length === 0) return null;
  return (
    <Panel title={words.stopped()}>
      <ul class="rows">
        {stopped.map(one => (
          <li key={one.id}>
            <a class="row-link" href={to(`/stores/lots/${one.id}`)}>
              <span>
                <span class="strong">{words.lot({ number: one.lot_number })}</span>
                <br />
                <span class="soft">{kindOf(one)}</span>
              </span>
              <Tag tone="stop">{words.stopped()}</Tag>
            </a>
          </li>
        ))}
      </ul>
    </Panel>
  );
}
