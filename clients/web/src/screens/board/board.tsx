import "./board.css";
import { api, need } from "../../api/client";
import { day } from "../../app/place";
import { to } from "../../app/screens";
import { useResource } from "../../app/use-resource";
import { Button } from "../../kit/button";
import { Notice } from "../../kit/notice";
import { Page, Panel } from "../../kit/page";
import { Loaded } from "../../kit/states";
import { board as words } from "../../words/board";
import { Alarms } from "./alarms";
import { Finish } from "./finish";
import { Heads } from "./heads";
import { Reviews } from "./reviews";
import { Stations } from "./stations";
import { Waiting } from "./waiting";

const NOUNS = [
  "alarm_acknowledgements",
  "attempts",
  "calls",
  "days",
  "equipment_checks",
  "fills",
  "fill_emptyings",
  "lot_stops",
  "people",
  "referrals",
  "screenings",
  "stations",
  "stop_releases",
  "stops",
  "visit_returns",
  "visits",
];

/** What the board shows, read again on news and by the clock. */
export function useBoard(dayId: string) {
  return useResource(
    `board ${dayId}`,
    () => need(api.GET("/api/v1/days/{day_id}/board", { params: { path: { day_id: dayId } } })),
    { nouns: NOUNS, everyMs: 60_000 },
  );
}

/** Will we finish, and if not, what to do in the next ten minutes? */
export default function Board() {
  const dayId = day.value?.id ?? "";
  const board = useBoard(dayId);
  return (
    <Page title={words.title()} actions={<Button href={to("/board/wall")}>{words.nav_wall()}</Button>}>
      <Loaded resource={board}>
        {found => (
          <>
            <Finish board={found} />
            <Panel title={words.heads()}>
              <Heads heads={found.heads} />
            </Panel>
            <Alarms dayId={dayId} alarms={found.alarms} onTaken={board.reload} />
            <Reviews />
            <Stations board={found} />
          </>
        )}
      </Loaded>
      <Waiting dayId={dayId} />
      <Notice tone="plain">
        <p>{words.caution()}</p>
      </Notice>
    </Page>
  );
}
