// The screen began again in the middle of a run. It asks what happened; it does not guess.
import { useAction } from "../../app/use-action";
import { Notice, ProblemNotice } from "../../kit/notice";
import { Page } from "../../kit/page";
import { span } from "../../words/format";
import { run as words } from "../../words/run";
import { Big } from "./big";
import type { Case, Chair, Run } from "./chair";
import { nameOf } from "./confirm";
import { standing } from "./standing";
import { useTestTime } from "./time";

export function Resumed({ chair, one, run }: { chair: Chair; one: Case; run: Run }) {
  const moment = useTestTime(500);
  const at = run.kind === "attempt" ? standing(run.plan, run.events, moment) : null;
  const last = Date.parse(run.events.at(-1)?.happened_at ?? "");
  // A clock behind the last event proves nothing about how long the screen was gone.
  const whole = !at?.missed && !(moment < last);
  const act = useAction((kind: "interrupted" | "tasted" | "unwell") => chair.record({ kind }));
  const on = useAction(async () => void (chair.gone.value = null));
  const number = at?.running?.number ?? at?.nextExercise;
  const testing = at !== null && at.phase !== "fitting";
  return (
    <Page title={nameOf(one)}>
      <Notice
        tone="wait"
        title={testing && number ? words.was_at({ n: number }) : words.was_fitting()}
        urgent
      >
        <p>{words.gone_for({ span: span(chair.gone.value ?? 0) })}</p>
        <p>{whole ? words.gone_ok() : words.gone_late()}</p>
      </Notice>
      <div class="station-calls">
        {whole && <Big onPress={() => void on.run()}>{words.gone_on()}</Big>}
        <Big kind={whole ? "plain" : "main"} first={!whole} onPress={() => void act.run("interrupted")}>
          {words.interrupted()}
        </Big>
        {testing && (
          <Big kind="stop" onPress={() => void act.run("tasted")}>
            {words.tasted()}
          </Big>
        )}
        <Big kind="stop" onPress={() => void act.run("unwell")}>
          {words.unwell()}
        </Big>
      </div>
      <ProblemNotice problem={act.problem} />
    </Page>
  );
}
