// The screening with a taste agent: sets of squeezes, and the answer to each.
import { useState } from "preact/hooks";
import { useAction } from "../../app/use-action";
import { run as words } from "../../words/run";
import { station } from "../../words/station";
import { Big } from "./big";
import type { Case, Chair, ScreeningRun } from "./chair";
import { Frame, Step } from "./frame";
import type { Pack } from "./pack";
import { screened, type ScreeningEventKind } from "./standing";

interface Props {
  chair: Chair;
  pack: Pack;
  one: Case;
  run: ScreeningRun;
}

export function ScreeningScreen({ chair, pack, one, run }: Props) {
  const plan = pack.plans.screening;
  const at = screened(plan, run.events);
  const [tasted, setTasted] = useState(false);
  const act = useAction((kind: ScreeningEventKind) => chair.record(kind));
  const end = useAction((kind: string) =>
    chair.record({ kind: kind === "unwell" ? "unwell" : "interrupted" }),
  );
  const put = (kind: ScreeningEventKind) => void act.run(kind).then(() => setTasted(false));
  const action = { ...end, problem: end.problem ?? act.problem };
  const solution = station.solution_screening();
  return (
    <Frame
      chair={chair}
      one={one}
      about={`${words.screening()}: ${station[`agent_${run.agent}`]()}`}
      endings={["unwell", "interrupted"]}
      action={action}
    >
      {!at.explained ? (
        <Step title={words.explain()} say={words.explain_say()}>
          <p class="soft">{station.allergy()}</p>
          <Big kind="main" first onPress={() => put({ kind: "explained" })}>
            {words.explained()}
          </Big>
        </Step>
      ) : plan.plain_water_check && !at.waterTried ? (
        <Step title={words.water()}>
          <div class="run-pair">
            <Big onPress={() => put({ kind: "plain_water_tried", tasted: true })}>{words.water_yes()}</Big>
            <Big onPress={() => put({ kind: "plain_water_tried", tasted: false })}>{words.water_no()}</Big>
          </div>
        </Step>
      ) : tasted ? (
        <Which most={plan.set_squeezes} onBack={() => setTasted(false)} onChoose={put} />
      ) : (
        <Step title={words.set_of({ n: at.sets + 1, sets: plan.sets })} say={words.set_say()}>
          <p class="run-number">{plan.set_squeezes}</p>
          <p class="run-unit">
            {words.squeezes({ n: plan.set_squeezes })} {words.with({ solution })}
          </p>
          <div class="run-pair">
            <Big onPress={() => setTasted(true)}>{words.set_tasted()}</Big>
            <Big onPress={() => put({ kind: "set_done", tasted: false, squeezes: plan.set_squeezes })}>
              {words.set_not({ n: plan.set_squeezes })}
            </Big>
          </div>
          <div class="row">
            <button
              type="button"
              class="button button-quiet"
              onClick={() => put({ kind: "nebulizer_checked", clear: false })}
            >
              {words.no_spray()}
            </button>
          </div>
        </Step>
      )}
    </Frame>
  );
}

/** The count at which it was tasted is kept beside the level; the level is that of the set. */
function Which({
  most,
  onBack,
  onChoose,
}: {
  most: number;
  onBack: () => void;
  onChoose: (kind: ScreeningEventKind) => void;
}) {
  return (
    <Step title={words.at_which()}>
      <div class="run-counts">
        {Array.from({ length: most }, (_, index) => index + 1).map(squeezes => (
          <Big key={squeezes} onPress={() => onChoose({ kind: "set_done", tasted: true, squeezes })}>
            {squeezes}
          </Big>
        ))}
      </div>
      <div class="row">
        <button type="button" class="button button-quiet" onClick={onBack}>
          {words.no_on()}
        </button>
      </div>
    </Step>
  );
}
