import { useEffect, useState } from "preact/hooks";
import { announce } from "../../kit/announce";
import { play } from "../../kit/sound";
import { Tabs } from "../../kit/tabs";
import { exerciseName, exerciseSay } from "../../words/exercise";
import { minutesAndSeconds } from "../../words/format";
import { language } from "../../words/language";
import { PASSAGES } from "../../words/passages";
import { run as words } from "../../words/run";
import { station } from "../../words/station";
import type { PhaseProps } from "./attempt";
import { Big } from "./big";
import type { Dose } from "./standing";

/** Under the hood: the dose on one side, the exercise on the other, each with its clock. */
export function Testing({ run, at, moment, put }: PhaseProps) {
  const { exercises } = run.plan;
  const { dose, running } = at;
  const now = running ? exercises[running.number - 1] : undefined;
  const next = exercises[running?.number ?? (at.nextExercise ?? 1) - 1];
  const over = running !== null && moment >= running.endsAt;
  const due = dose?.dueAt != null && moment >= dose.dueAt;
  useEffect(() => {
    if (!due) return;
    play("prompt");
    announce(words.dose_now());
  }, [due, dose?.dueAt]);
  useEffect(() => {
    if (over) play("attention");
  }, [over, running?.number]);
  const follow = () => {
    if (running && next) {
      put(
        { kind: "exercise_ended", number: running.number },
        { kind: "exercise_started", number: next.number },
      );
    } else if (running) put({ kind: "exercise_ended", number: running.number });
    else if (next) put({ kind: "exercise_started", number: next.number });
  };
  const open = dose !== null && moment >= dose.earliestAt;
  return (
    <div class="run-sides">
      <div class={due ? "run-side run-side-due" : "run-side"}>
        {dose && <DoseSide dose={dose} moment={moment} put={put} />}
      </div>
      <div class="run-side">
        {now && running && (
          <>
            <h2>{words.exercise_of({ n: running.number, all: exercises.length })}</h2>
            <p class="run-exercise">{exerciseName(now)}</p>
            <p class="run-say">“{exerciseSay(now)}”</p>
            <p class="run-timer" role="timer" aria-label={words.time_left()}>
              <span>{over ? words.over() : words.time_left()}</span>
              <span class="run-clock">{minutesAndSeconds(running.endsAt - moment)}</span>
            </p>
          </>
        )}
        {!running && next && <h2>{words.next_is({ name: exerciseName(next) })}</h2>}
        <Big
          kind={open ? "plain" : "main"}
          first={!open}
          disabled={running !== null && !over}
          onPress={follow}
        >
          {!running
            ? words.begin_first()
            : next
              ? words.to_next({ name: exerciseName(next) })
              : words.last_over()}
        </Big>
        {now?.key === "talking" && <ReadAloud />}
      </div>
    </div>
  );
}

function DoseSide({ dose, moment, put }: { dose: Dose; moment: number; put: PhaseProps["put"] }) {
  const due = dose.dueAt ?? 0;
  const now = moment >= due;
  const open = moment >= dose.earliestAt;
  return (
    <>
      <h2>{now ? words.dose_now() : words.dose_in()}</h2>
      <p class="run-timer" role="timer" aria-label={words.dose_in()}>
        <span class="run-clock">{minutesAndSeconds((now ? dose.latestAt : due) - moment)}</span>
      </p>
      <p class="run-number">{dose.squeezes}</p>
      <p class="run-unit">
        {words.squeezes({ n: dose.squeezes })} {words.with({ solution: station.solution_test() })}
      </p>
      <Big
        kind={open ? "main" : "plain"}
        first={open}
        disabled={!open}
        onPress={() => put({ kind: "dose_given", squeezes: dose.squeezes })}
      >
        {words.dose_given({ n: dose.squeezes })}
      </Big>
    </>
  );
}

/** What the person reads; the language is theirs. */
function ReadAloud() {
  const [chosen, setChosen] = useState<string>(language.value);
  const passage = PASSAGES.find(one => one.language === chosen) ?? PASSAGES[0]!;
  return (
    <div class="stack">
      <Tabs
        label={words.read_aloud()}
        value={passage.language}
        tabs={PASSAGES.map(one => ({ value: one.language, label: one.name }))}
        onValue={setChosen}
      >
        <p class="run-passage" lang={passage.language} dir={passage.direction}>
          {passage.text}
        </p>
      </Tabs>
      <p class="soft">{words.or_count()}</p>
    </div>
  );
}
