import { useEffect, useState } from "preact/hooks";
import { newId } from "../../api/client";
import { to } from "../../app/screens";
import { useAction } from "../../app/use-action";
import { announce } from "../../kit/announce";
import { Answer } from "../../kit/answer";
import { Button } from "../../kit/button";
import { FileField, SelectField } from "../../kit/field";
import { ProblemNotice } from "../../kit/notice";
import { Page, Panel } from "../../kit/page";
import { play } from "../../kit/sound";
import { explain } from "../../words/problems";
import { roster as words } from "../../words/roster";
import { Columns } from "./columns";
import { type Preview, preview, take, type Taken, type Told } from "./file";
import { Before } from "./before";
import { Found } from "./found";
import { headersOf, inUtf8, type Letters, LETTERS } from "./letters";

/** What would this file change? It is looked at first, and taken whole or not at all. */
export default function Roster() {
  const [taken, setTaken] = useState<Taken | null>(null);
  return (
    <Page title={words.title()} intro={words.intro()}>
      {taken ? (
        <Panel>
          <Answer tone="go" word={words.taken()}>
            <p>
              {words.taken_more({
                added: taken.added_count,
                changed: taken.changed_count,
                unchanged: taken.unchanged_count,
                missing: taken.missing_count,
              })}
            </p>
          </Answer>
          <div class="row">
            <Button href={to("/people")}>{words.to_people()}</Button>
            <Button onClick={() => setTaken(null)}>{words.another()}</Button>
          </div>
        </Panel>
      ) : (
        <Look onTaken={setTaken} />
      )}
      <Before key={taken?.id} />
    </Page>
  );
}

function Look({ onTaken }: { onTaken: (taken: Taken) => void }) {
  const [bytes, setBytes] = useState<ArrayBuffer | null>(null);
  const [letters, setLetters] = useState<Letters>("utf8");
  const [told, setTold] = useState<Told>({});
  const [headers, setHeaders] = useState<string[]>([]);
  const [found, setFound] = useState<Preview | null>(null);
  // One file is one import, however often it is sent.
  const [id, setId] = useState(newId);
  const look = useAction(async (sent: Blob, as: Told) => {
    setFound(null);
    const answer = await preview(sent, as);
    setFound(answer);
    setHeaders(headersOf(await sent.text(), answer.delimiter));
    announce(answer.problem_count > 0 ? words.problems({ n: answer.problem_count }) : words.ready());
  });
  const store = useAction(async () => {
    if (!bytes) return;
    const answer = await take(inUtf8(bytes, letters), told, id);
    play("done");
    onTaken(answer);
  });
  useEffect(() => {
    store.clear();
    if (bytes) void look.run(inUtf8(bytes, letters), told);
  }, [bytes, letters, told]);
  const missing = look.problem?.code === "roster_column_missing" ? look.problem : undefined;
  const columns = missing ? String(missing.facts["columns"] ?? "").split(" | ") : headers;
  const notText = look.problem?.code === "roster_not_text";
  return (
    <>
      <Panel>
        <FileField
          label={words.file()}
          hint={words.file_hint()}
          accept=".csv,.txt,text/csv"
          onFile={file =>
            void file.arrayBuffer().then(read => {
              setLetters("utf8");
              setTold({});
              setId(newId());
              setBytes(read);
            })
          }
        />
        {(notText || letters !== "utf8") && (
          <SelectField
            label={words.letters()}
            hint={words.letters_hint()}
            value={letters}
            options={LETTERS.map(value => ({ value, label: words[`letters_${value}`]() }))}
            onValue={setLetters}
          />
        )}
        <ProblemNotice problem={look.problem} />
        {bytes && columns.length > 0 && (
          <Columns
            headers={columns}
            told={told}
            taken={found?.columns as Told | undefined}
            missing={missing?.field}
            sentence={missing && explain(missing).todo}
            onTold={setTold}
          />
        )}
      </Panel>
      {found && (
        <Found found={found}>
          <ProblemNotice problem={store.problem} />
          <div class="row">
            <Button kind="main" busy={store.busy} onClick={() => void store.run()}>
              {words.take({ n: found.row_count })}
            </Button>
          </div>
        </Found>
      )}
    </>
  );
}
