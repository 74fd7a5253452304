// The instrument runs by itself, and its file follows: nothing is typed, and the exercises count from its start.
import { useState } from "preact/hooks";
import { TextField } from "../../kit/field";
import { clockWithSeconds, dateAtSite, minutesAndSeconds, momentAtSite } from "../../words/format";
import { readings as words } from "../../words/readings";
import { run as runWords } from "../../words/run";
import { TakeFile } from "../readings/take-file";
import { Big } from "./big";
import type { AttemptRun, Chair } from "./chair";
import { Step } from "./frame";

interface Props {
  chair: Chair;
  run: AttemptRun;
  /** When the instrument was started. */
  since: string;
  moment: number;
  onType: () => void;
}

export function FromFile({ chair, run, since, moment, onType }: Props) {
  const [typed, setTyped] = useState(() => `${dateAtSite(since)}T${clockWithSeconds(since)}`);
  const seconds = run.plan.exercises.reduce((sum, one) => sum + one.seconds + one.measuring_seconds, 0);
  const overAt = Date.parse(since) + seconds * 1000;
  const correct = (text: string) => {
    setTyped(text);
    const at = momentAtSite(text);
    if (!Number.isNaN(at.getTime())) void chair.runsByItself(at.toISOString());
  };
  return (
    <Step title={words.running()}>
      {moment < overAt && (
        <p class="run-timer" role="timer" aria-label={runWords.time_left()}>
          <span>{words.over_at({ time: clockWithSeconds(overAt) })}</span>
          <span class="run-clock">{minutesAndSeconds(overAt - moment)}</span>
        </p>
      )}
      <TextField
        label={words.began()}
        hint={words.began_hint()}
        type="datetime-local"
        step={1}
        value={typed}
        onValue={correct}
      />
      <TakeFile
        attemptId={run.id}
        plan={run.plan}
        beganAt={since}
        onTaken={attempt => chair.heard(attempt)}
      />
      <Big onPress={onType}>{words.type_instead()}</Big>
    </Step>
  );
}
