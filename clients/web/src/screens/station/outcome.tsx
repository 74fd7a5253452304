// How a run ended, and what follows. The server's word; until it has spoken, only what this device kept.
import { useAction } from "../../app/use-action";
import { Answer } from "../../kit/answer";
import { Button } from "../../kit/button";
import { ProblemNotice } from "../../kit/notice";
import { Page, Panel } from "../../kit/page";
import { clock } from "../../words/format";
import { recordings } from "../../words/recordings";
import { station as words } from "../../words/station";
import { KeepRecording } from "../recordings/keep-recording";
import { Big } from "./big";
import { type AttemptRun, type Case, type Chair, type Run, type ScreeningRun, verdictOf } from "./chair";
import { Sign } from "./closing";
import { nameOf } from "./confirm";
import { canFollow, inWords, nextOf } from "./next";
import { type Pack, respiratorName } from "./pack";
import { screened } from "./standing";

interface Props {
  chair: Chair;
  pack: Pack;
  one: Case;
  run: Run;
  /** The result was read, and the next step follows here. */
  onRead: () => void;
}

const TONES = { pass: "go", fail: "stop", void: "wait", stopped: "wait" } as const;

export function Outcome({ chair, pack, one, run, onRead }: Props) {
  const leave = useAction(() => chair.leave());
  const sign = useAction(() => chair.record({ kind: "signed" }));
  const next = nextOf(one, pack);
  const respirator = run.kind === "attempt" && pack.respirators.find(found => found.id === run.respirator_id);
  const name = respirator ? respiratorName(respirator) : "";
  const unsigned = run.kind === "attempt" && !run.events.some(event => event.kind === "signed");
  const wait = next && "not_before" in next ? next.not_before : null;
  const here = canFollow(next) && !wait;
  return (
    <Page title={nameOf(one)} {...(name ? { intro: name } : {})}>
      {run.kind === "attempt" ? <Tested run={run} /> : <Screened run={run} pack={pack} />}
      {next && <p class="station-say">{inWords(next)}</p>}
      {wait && <p>{words.next_wait({ time: clock(wait) })}</p>}
      {run.kind === "attempt" && run.plan.measuring && verdictOf(run) && !unsigned && (
        <Panel title={recordings.add()}>
          <KeepRecording attemptId={run.id} />
          <p class="soft small">{recordings.later()}</p>
        </Panel>
      )}
      {unsigned && verdictOf(run) ? (
        <Sign one={one} respirator={name} onSign={() => void sign.run()} />
      ) : (
        <div class="station-calls">
          {here && (
            <Big kind="main" first onPress={onRead}>
              {words.go_on_here()}
            </Big>
          )}
          <Big kind={here ? "plain" : "main"} first={!here} onPress={() => void leave.run()}>
            {words.next_person()}
          </Big>
        </div>
      )}
      {next?.step === "done" && !unsigned && (
        <div class="row">
          <Button size="large" onClick={onRead}>
            {words.another_respirator()}
          </Button>
        </div>
      )}
      <ProblemNotice problem={sign.problem ?? leave.problem} />
    </Page>
  );
}

function Tested({ run }: { run: AttemptRun }) {
  const verdict = verdictOf(run);
  if (!verdict || !("outcome" in verdict) || verdict.outcome === undefined) return <Kept />;
  const { outcome, reason } = verdict as { outcome: keyof typeof TONES; reason: string };
  return (
    <Answer tone={TONES[outcome]} word={words[`result_${outcome}`]()}>
      <p>{words[`reason_${reason}` as "reason_tasted"]()}</p>
      {outcome === "pass" && <p class="small">{words.holds_for()}</p>}
    </Answer>
  );
}

function Screened({ run, pack }: { run: ScreeningRun; pack: Pack }) {
  const verdict = run.answer?.state.verdict;
  const known = screened(pack.plans.screening, run.events).ended;
  if (verdict?.level) {
    return <Answer tone="go" word={words.level({ n: verdict.level })} />;
  }
  if (verdict?.outcome === "not_tasted" || (!verdict && known === "not_tasted")) {
    return (
      <Answer tone="unknown" word={words.not_tasted()}>
        <p>{words.not_tasted_more()}</p>
      </Answer>
    );
  }
  if (!verdict) return <Kept />;
  const outcome = verdict.outcome === "stopped" ? "stopped" : "void";
  return <Answer tone="wait" word={words[`result_${outcome}`]()} />;
}

/** The network is away: the device has it, and says no result of its own. */
function Kept() {
  return (
    <Answer tone="unknown" word={words.result_kept()}>
      <p>{words.result_kept_more()}</p>
    </Answer>
  );
}
