import { useState } from "preact/hooks";
import { may } from "../../app/session";
import { useAction } from "../../app/use-action";
import { Button } from "../../kit/button";
import { Notice, ProblemNotice } from "../../kit/notice";
import { Facts, Panel } from "../../kit/page";
import { saveFile } from "../../kit/save-file";
import { Empty } from "../../kit/states";
import { dayAndClock } from "../../words/format";
import { recordings as words } from "../../words/recordings";
import { KeepRecording } from "./keep-recording";
import { fingerprint, readRecording, type Recording } from "./recording";

interface Props {
  attemptId: string;
  kept: readonly Recording[];
  /** Another one was kept. */
  onKept: () => void;
}

/** The recordings of a measured attempt that has ended, each with its fingerprint and its bytes. */
export function Recordings({ attemptId, kept, onKept }: Props) {
  return (
    <Panel title={words.title()}>
      {kept.length === 0 ? (
        <Empty title={words.none()} />
      ) : (
        <ul class="rows">
          {kept.map(one => (
            <li key={one.id} class="entry">
              <One attemptId={attemptId} recording={one} />
            </li>
          ))}
        </ul>
      )}
      {may("create_attempt_recording") && (
        <>
          <h3>{words.add()}</h3>
          <KeepRecording attemptId={attemptId} onKept={onKept} />
        </>
      )}
    </Panel>
  );
}

type Compared = "same" | "differs" | "unchecked";

function One({ attemptId, recording }: { attemptId: string; recording: Recording }) {
  const [compared, setCompared] = useState<Compared | null>(null);
  const save = useAction(async () => {
    setCompared(null);
    const file = await readRecording(attemptId, recording.id);
    const print = await fingerprint(file);
    const same = print === null ? "unchecked" : print === recording.sha256 ? "same" : "differs";
    setCompared(same);
    // What is not what was kept proves nothing, and is not handed out.
    if (same !== "differs") saveFile(file, recording.name);
  });
  return (
    <>
      <p class="strong whole-line">{recording.name}</p>
      <Facts
        facts={[
          [words.kind(), recording.media_type],
          [words.made(), dayAndClock(recording.happened_at)],
          [words.stored(), dayAndClock(recording.recorded_at)],
          [words.print(), <span class="number whole-line">{recording.sha256}</span>],
        ]}
      />
      {may("read_attempt_recording") && (
        <div class="row">
          <Button
            busy={save.busy}
            label={words.save_of({ name: recording.name })}
            onClick={() => void save.run()}
          >
            {words.save()}
          </Button>
        </div>
      )}
      <ProblemNotice problem={save.problem} />
      {compared === "differs" ? (
        <Notice tone="stop" title={words.differs()} urgent>
          <p>{words.differs_more()}</p>
        </Notice>
      ) : (
        compared && <p role="status">{words[compared]()}</p>
      )}
    </>
  );
}
