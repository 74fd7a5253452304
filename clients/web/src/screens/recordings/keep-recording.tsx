import "./recordings.css";
import { useState } from "preact/hooks";
import { newId } from "../../api/client";
import { useAction } from "../../app/use-action";
import { announce } from "../../kit/announce";
import { Button } from "../../kit/button";
import { FileField } from "../../kit/field";
import { Notice, ProblemNotice } from "../../kit/notice";
import { Facts } from "../../kit/page";
import { play } from "../../kit/sound";
import { dayAndClock, percent } from "../../words/format";
import { recordings as words } from "../../words/recordings";
import { BYTES_MAX, fingerprint, keepRecording, type Recording, size } from "./recording";

interface Chosen {
  id: string;
  file: File;
  /** When the instrument made it: the file says so, and a clock ahead of ours is not believed. */
  madeAt: string;
  print: string | null;
}

interface Props {
  attemptId: string;
  onKept?: () => void;
}

/** Keeps one more file with a measured attempt, and compares what the server has with what is here. */
export function KeepRecording({ attemptId, onKept }: Props) {
  const [chosen, setChosen] = useState<Chosen | null>(null);
  const [fault, setFault] = useState<string>();
  const [share, setShare] = useState(0);
  const [kept, setKept] = useState<{ recording: Recording; same: boolean | null } | null>(null);
  const choose = async (file: File) => {
    setKept(null);
    send.clear();
    const wrong =
      file.size > BYTES_MAX ? words.too_large({ size: size(file.size) }) : file.size === 0 && words.empty();
    setFault(wrong || undefined);
    const madeAt = new Date(Math.min(file.lastModified, Date.now())).toISOString();
    setChosen(wrong ? null : { id: newId(), file, madeAt, print: await fingerprint(file) });
  };
  const send = useAction(async () => {
    if (!chosen) return;
    setShare(0);
    const { id, file, madeAt: happened_at, print } = chosen;
    const recording = await keepRecording({ attempt_id: attemptId, id, file, happened_at, told: setShare });
    setKept({ recording, same: print === null ? null : print === recording.sha256 });
    setChosen(null);
    play("done");
    announce(words.kept({ name: recording.name }));
    onKept?.();
  });
  return (
    <div class="stack">
      <FileField
        label={words.file()}
        hint={words.file_hint()}
        accept=""
        problem={fault}
        onFile={file => void choose(file)}
      />
      {chosen && (
        <>
          <FileFacts name={chosen.file.name} {...chosen} bytes={chosen.file.size} />
          {send.busy && (
            <>
              <progress class="recordings-progress" value={share} aria-label={words.add()} />
              <p class="soft">{words.sending({ share: percent(share) })}</p>
            </>
          )}
          <div class="row">
            <Button busy={send.busy} onClick={() => void send.run()}>
              {words.send()}
            </Button>
          </div>
        </>
      )}
      <ProblemNotice problem={send.problem} />
      {kept && <Kept {...kept} />}
    </div>
  );
}

function FileFacts({
  name,
  bytes,
  madeAt,
  print,
}: {
  name: string;
  bytes: number;
  madeAt: string;
  print: string | null;
}) {
  return (
    <>
      <p class="strong whole-line">{name}</p>
      <Facts
        facts={[
          [words.size(), size(bytes)],
          [words.made(), dayAndClock(madeAt)],
          [words.print(), print && <span class="number whole-line">{print}</span>],
        ]}
      />
    </>
  );
}

function Kept({ recording, same }: { recording: Recording; same: boolean | null }) {
  if (same === false) {
    return (
      <Notice tone="stop" title={words.kept_differs()} urgent>
        <p>{words.kept_differs_more()}</p>
      </Notice>
    );
  }
  return (
    <Notice tone="go" title={words.kept({ name: recording.name })}>
      {same && <p>{words.kept_same()}</p>}
      <p class="small number whole-line">{recording.sha256}</p>
    </Notice>
  );
}
