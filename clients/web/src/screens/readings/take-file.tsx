// The instrument's file into an attempt: chosen, read by a mapping, looked at, and taken whole or not at all.
import { useState } from "preact/hooks";
import type { Wire } from "../../api/client";
import { remembered } from "../../app/remembered";
import { useAction } from "../../app/use-action";
import { useResource } from "../../app/use-resource";
import { announce } from "../../kit/announce";
import { Button } from "../../kit/button";
import { FileField, SelectField, TextField } from "../../kit/field";
import { Loaded, Loading } from "../../kit/states";
import { play } from "../../kit/sound";
import { exerciseName } from "../../words/exercise";
import { readings as words } from "../../words/readings";
import type { Exercise } from "./draft";
import { type Chosen, chosen, preview, type Said, sheetBy, take } from "./file";
import { useMappings } from "./lists";
import { type Stored, testsOf } from "./mapping";
import { NewMapping } from "./new-mapping";
import { WhatItSays } from "./preview";
import { Wrong } from "./wrong";

interface Props {
  attemptId: string;
  plan: Wire<"Plan">;
  /** When the measuring began. */
  beganAt: string;
  onTaken: (attempt: Wire<"AttemptView">) => Promise<void>;
}

/** A station has one instrument as a rule, and its files are read in one way. */
const last = remembered("reading_mapping", "");

export function TakeFile(props: Props) {
  const [file, setFile] = useState<Chosen | null>(null);
  const [mappingId, setMappingId] = useState(last.get());
  const [making, setMaking] = useState(false);
  const mappings = useMappings();
  const choose = (id: string) => {
    last.set(id);
    setMappingId(id);
  };
  const exercises = measured(props.plan);
  return (
    <>
      <FileField
        label={words.file()}
        hint={words.file_hint()}
        accept=".csv,.txt,text/csv"
        onFile={read => void chosen(read).then(setFile)}
      />
      {file && <p class="strong">{words.chosen({ name: file.name })}</p>}
      {file && making && (
        <NewMapping
          key={file.id}
          text={file.text}
          exercises={exercises}
          onCancel={() => setMaking(false)}
          onStored={mapping => {
            choose(mapping.id);
            setMaking(false);
            mappings.reload();
          }}
        />
      )}
      {file && !making && (
        <Loaded resource={mappings}>
          {rows => (
            <>
              <SelectField
                label={words.mapping()}
                value={rows.some(one => one.id === mappingId) ? mappingId : ""}
                nothing={words.choose()}
                options={rows.map(one => ({ value: one.id, label: one.name }))}
                onValue={choose}
              />
              <div class="row">
                <Button onClick={() => setMaking(true)}>{words.make()}</Button>
              </div>
              <Read
                key={`${file.id} ${mappingId}`}
                {...props}
                file={file}
                mapping={rows.find(one => one.id === mappingId)}
                exercises={exercises}
              />
            </>
          )}
        </Loaded>
      )}
    </>
  );
}

/** The exercises that are measured, in the words of the screen. */
const measured = (plan: Wire<"Plan">): Exercise[] =>
  plan.exercises
    .filter(one => one.measurements > 0)
    .map(one => ({ number: one.number, name: exerciseName(one) }));

interface ReadProps extends Props {
  file: Chosen;
  mapping: Stored | undefined;
  exercises: readonly Exercise[];
}

/** What is still to be said of the file; once all of it is, the server's reading of it. */
function Read({ attemptId, plan, beganAt, onTaken, file, mapping, exercises }: ReadProps) {
  const [test, setTest] = useState("");
  const [peak, setPeak] = useState("");
  const [looked, setLooked] = useState(false);
  const tests = mapping ? testsOf(sheetBy(mapping.mapping, file.text), mapping.mapping) : null;
  const meant = tests?.length === 1 ? tests[0] : test;
  const peaks = plan.measuring?.peak_percent_max != null;
  const percent = peak.trim().replace(",", ".");
  const whole = mapping && (tests === null || meant) && (!peaks || /^\d+(\.\d+)?$/.test(percent));
  const said: Said | null = whole
    ? {
        mapping_id: mapping.id,
        began_at: beganAt,
        ...(tests === null || !meant ? {} : { test: meant }),
        ...(peaks ? { peak_percent: percent } : {}),
        ...(looked ? { looked_again: true } : {}),
      }
    : null;
  // The answer belongs to what was asked: whatever changes asks anew, and nothing older can be taken.
  const found = useResource(said && JSON.stringify([attemptId, file.id, said]), () =>
    preview(attemptId, file, said!),
  );
  const store = useAction(async () => {
    if (!said) return;
    const attempt = await take(attemptId, file, said);
    play("done");
    announce(words.taken());
    await onTaken(attempt);
  });
  if (!mapping) return null;
  return (
    <>
      {tests !== null && tests.length !== 1 && (
        <SelectField
          label={words.test()}
          value={test}
          nothing={words.choose()}
          options={tests.map(value => ({ value, label: value }))}
          onValue={setTest}
        />
      )}
      {peaks && (
        <TextField
          label={words.peak()}
          hint={words.number()}
          inputMode="decimal"
          value={peak}
          onValue={setPeak}
        />
      )}
      <Wrong problem={store.problem ?? found.problem} file={file} looked={looked} onLooked={setLooked} />
      {said && found.loading && !found.data && <Loading />}
      {found.data && !found.problem && (
        <WhatItSays found={found.data} exercises={exercises}>
          <div class="row">
            <Button kind="main" size="large" busy={store.busy} onClick={() => void store.run()}>
              {words.take({ n: found.data.fit?.exercises.length ?? 0 })}
            </Button>
          </div>
        </WhatItSays>
      )}
    </>
  );
}
