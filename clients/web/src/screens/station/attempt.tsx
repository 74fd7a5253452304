// A test with a taste agent, from putting the respirator on to the signature. The plan and the verdict are the server's.
import { useEffect } from "preact/hooks";
import { useAction } from "../../app/use-action";
import { Notice } from "../../kit/notice";
import { run as words } from "../../words/run";
import { station } from "../../words/station";
import { Big } from "./big";
import type { AttemptRun, Case, Chair } from "./chair";
import { Closing } from "./closing";
import { Fitting } from "./fitting";
import { type Ending, Frame, Step } from "./frame";
import { type Pack, respiratorName } from "./pack";
import { type AttemptEventKind, type Standing, standing } from "./standing";
import { Testing } from "./testing";
import { useTestTime } from "./time";

interface Props {
  chair: Chair;
  pack: Pack;
  one: Case;
  run: AttemptRun;
}

export interface PhaseProps {
  run: AttemptRun;
  at: Standing;
  moment: number;
  put: (...kinds: AttemptEventKind[]) => void;
}

const ENDINGS: Record<Standing["phase"], readonly Ending[]> = {
  fitting: ["unwell", "interrupted"],
  testing: ["tasted", "unwell", "unsure", "adjusted", "hood_off", "interrupted"],
  closing: ["tasted", "unwell", "unsure", "adjusted", "hood_off", "interrupted"],
  ended: [],
};

export function AttemptScreen({ chair, pack, one, run }: Props) {
  const moment = useTestTime();
  const at = standing(run.plan, run.events, moment);
  const act = useAction((...kinds: AttemptEventKind[]) => chair.record(...kinds));
  const end = useAction((kind: Ending) => chair.record({ kind }));
  const respirator = pack.respirators.find(found => found.id === run.respirator_id);
  const name = respirator ? respiratorName(respirator) : "";
  const phase: PhaseProps = { run, at, moment, put: (...kinds) => void act.run(...kinds) };
  // Nothing of what was on the screen before may be under the finger now.
  useEffect(() => window.scrollTo(0, 0), [at.phase]);
  return (
    <Frame
      chair={chair}
      one={one}
      about={name}
      endings={ENDINGS[at.phase]}
      action={{ ...end, problem: end.problem ?? act.problem }}
    >
      {at.missed ? (
        <Missed onEnd={() => void act.run({ kind: "interrupted" })} />
      ) : at.phase === "fitting" ? (
        <Fitting {...phase} />
      ) : at.phase === "testing" ? (
        <Testing {...phase} />
      ) : (
        <Closing {...phase} one={one} respirator={name} />
      )}
    </Frame>
  );
}

function Missed({ onEnd }: { onEnd: () => void }) {
  return (
    <Step title={words.dose_missed()}>
      <Notice tone="stop" title={words.dose_missed_more()} urgent>
        <p>{station.result_void()}</p>
      </Notice>
      <Big kind="main" first onPress={onEnd}>
        {words.end_void()}
      </Big>
    </Step>
  );
}
