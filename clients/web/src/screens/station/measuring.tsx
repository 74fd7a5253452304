// A test with an instrument: the same fitting, then one reading for each measurement that the server asks for.
import { useState } from "preact/hooks";
import { unreachableSince } from "../../api/reach";
import { useAction } from "../../app/use-action";
import { TextField } from "../../kit/field";
import { Notice, ProblemNotice } from "../../kit/notice";
import { readings } from "../../words/readings";
import { run as words } from "../../words/run";
import { Big } from "./big";
import { type AttemptRun, type Case, type Chair, lane } from "./chair";
import { Sign } from "./closing";
import { Fitting } from "./fitting";
import { type Ending, Frame, Step } from "./frame";
import { FromFile } from "./from-file";
import { type Pack, respiratorName } from "./pack";
import { type AttemptEventKind, standing } from "./standing";
import { nowText, useTestTime } from "./time";

interface Props {
  chair: Chair;
  pack: Pack;
  one: Case;
  run: AttemptRun;
}

const ENDINGS: readonly Ending[] = ["unwell", "adjusted", "interrupted"];

export function MeasuringScreen({ chair, pack, one, run }: Props) {
  const moment = useTestTime();
  const fitting = !run.events.some(event => event.kind === "measuring_started");
  const at = standing(run.plan, run.events, moment);
  const act = useAction((...kinds: AttemptEventKind[]) => chair.record(...kinds));
  // Of an instrument that runs by itself the server has not heard yet: what ends the test ends the measuring.
  const since = run.by_itself_since;
  const started = since ? [{ kind: "measuring_started", happened_at: since } as const] : [];
  const end = useAction((kind: Ending) => chair.record(...(fitting ? started : []), { kind }));
  const put = (...kinds: AttemptEventKind[]) => void act.run(...kinds);
  const type = () => put(...started);
  const respirator = pack.respirators.find(found => found.id === run.respirator_id);
  const name = respirator ? respiratorName(respirator) : "";
  const state = run.answer?.state;
  // What is measured next depends on readings, and that is for the server to say.
  const behind = chair.box.lane(lane(one)).length > 0 || !state;
  const sealed = at.donnedAt !== null && at.seal === "good" && (at.wornUntil ?? 0) <= moment;
  return (
    <Frame
      chair={chair}
      one={one}
      about={name}
      endings={fitting && !since ? ["unwell", "interrupted"] : ENDINGS}
      action={{ ...end, problem: end.problem ?? act.problem }}
    >
      {fitting && !sealed && !since ? (
        <Fitting run={run} at={at} moment={moment} put={put} />
      ) : fitting && !since ? (
        <Start chair={chair} put={put} />
      ) : behind ? (
        <Notice tone="wait" title={unreachableSince.value === null ? "…" : words.measure_away()} />
      ) : fitting && since ? (
        <FromFile chair={chair} run={run} since={since} moment={moment} onType={type} />
      ) : state.next_measurement ? (
        <Reading key={state.next_seq} next={state.next_measurement} moment={moment} put={put} />
      ) : (
        <Close run={run} one={one} respirator={name} put={put} />
      )}
    </Frame>
  );
}

/** The instrument's start: then each reading is typed, or all of them come as its file. */
function Start({ chair, put }: { chair: Chair; put: ReadingProps["put"] }) {
  const byItself = useAction(() => chair.runsByItself(nowText()));
  return (
    <Step title={words.measuring()}>
      <Big kind="main" first onPress={() => put({ kind: "measuring_started" })}>
        {words.measure_start()}
      </Big>
      <Big onPress={() => void byItself.run()}>{readings.by_file()}</Big>
      <ProblemNotice problem={byItself.problem} />
    </Step>
  );
}

interface ReadingProps {
  next: { exercise: number; number: number; earliest_at: string };
  moment: number;
  put: (...kinds: AttemptEventKind[]) => void;
}

/** One fit factor, as the instrument's own record shows it. */
function Reading({ next, moment, put }: ReadingProps) {
  const [factor, setFactor] = useState("");
  const wait = Date.parse(next.earliest_at) - moment;
  const number = factor.trim().replace(",", ".");
  const store = () =>
    put({
      kind: "measured",
      exercise: next.exercise,
      reading: { basis: "fit_factor", fit_factor: number },
    });
  return (
    <Step title={words.measure_of({ n: next.exercise })}>
      <TextField
        label={words.fit_factor()}
        hint={words.measure_hint()}
        inputMode="decimal"
        large
        value={factor}
        onValue={setFactor}
      />
      <Big kind="main" disabled={wait > 0 || !/^\d+(\.\d+)?$/.test(number)} onPress={store}>
        {words.measure_done()}
      </Big>
    </Step>
  );
}

function Close({
  run,
  one,
  respirator,
  put,
}: {
  run: AttemptRun;
  one: Case;
  respirator: string;
  put: ReadingProps["put"];
}) {
  const fit = run.answer?.state.fit;
  const missing = run.answer?.state.missing ?? [];
  if (!run.events.some(event => event.kind === "measuring_ended")) {
    return (
      <Step title={words.measuring()}>
        <Big kind="main" first onPress={() => put({ kind: "measuring_ended" })}>
          {words.measure_end()}
        </Big>
      </Step>
    );
  }
  return (
    <>
      {fit?.overall && (
        <p class="station-say">{words.measure_overall({ factor: fit.overall, level: fit.pass_level })}</p>
      )}
      {missing.includes("asked_again") ? (
        <Step title={words.ask()} say={words.measure_ask()}>
          <div class="run-pair">
            <Big onPress={() => put({ kind: "asked_again", tasted: false, comfortable: false })}>
              {words.uncomfortable()}
            </Big>
            <Big onPress={() => put({ kind: "asked_again", tasted: false, comfortable: true })}>
              {words.comfortable()}
            </Big>
          </div>
        </Step>
      ) : missing.includes("modification_removed") ? (
        <Step title={words.undo()}>
          <Big kind="main" first onPress={() => put({ kind: "modification_removed" })}>
            {words.undo()}
          </Big>
        </Step>
      ) : (
        <Sign one={one} respirator={respirator} onSign={() => put({ kind: "signed" })} />
      )}
    </>
  );
}
