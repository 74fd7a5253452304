import "./board.css";
import { day } from "../../app/place";
import { to } from "../../app/screens";
import { Button } from "../../kit/button";
import { Page, Panel } from "../../kit/page";
import { Loaded } from "../../kit/states";
import { board as words } from "../../words/board";
import { Alarms } from "./alarms";
import { useBoard } from "./board";
import { Finish } from "./finish";
import { Heads } from "./heads";
import { Stations } from "./stations";

/** The same for everybody in the room: tickets and no names, nothing to press. */
export default function BoardWall() {
  const dayId = day.value?.id ?? "";
  const board = useBoard(dayId);
  return (
    <div class="board-wall">
      <Page
        title={words.title()}
        actions={
          <Button kind="quiet" href={to("/board")}>
            {words.wall_back()}
          </Button>
        }
      >
        <Loaded resource={board}>
          {found => (
            <>
              <Finish board={found} wall />
              <Panel title={words.heads()}>
                <Heads heads={found.heads} />
              </Panel>
              <Alarms dayId={dayId} alarms={found.alarms} onTaken={board.reload} wall />
              <Stations board={found} />
            </>
          )}
        </Loaded>
      </Page>
    </div>
  );
}
