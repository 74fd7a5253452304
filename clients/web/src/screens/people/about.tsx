import { useState } from "preact/hooks";
import { api, need } from "../../api/client";
import { may } from "../../app/session";
import { useAction } from "../../app/use-action";
import { announce } from "../../kit/announce";
import { Button } from "../../kit/button";
import { Notice, ProblemNotice } from "../../kit/notice";
import { Facts, Panel } from "../../kit/page";
import { date, dayAndClock, monthDay } from "../../words/format";
import { kit } from "../../words/kit";
import { peopleWords } from "../../words/people";
import { person as words } from "../../words/person";
import { type Person, readPerson } from "./person";
import { changesOf, typedOf, upon } from "./typed";
import { complete, PersonFields } from "./person-fields";

/** Who this is, and the way to correct it. */
export function About({ person, onChanged }: { person: Person; onChanged: () => void }) {
  const [editing, setEditing] = useState<Person | null>(null);
  if (editing) {
    const close = () => setEditing(null);
    return (
      <Panel title={words.edit_title()}>
        <Edit
          person={editing}
          onCancel={close}
          onDone={() => {
            close();
            onChanged();
            announce(words.stored());
          }}
        />
      </Panel>
    );
  }
  const born = person.birth_month_day;
  return (
    <Panel
      title={words.about()}
      actions={
        may("update_person") && <Button onClick={() => setEditing(person)}>{peopleWords.edit()}</Button>
      }
    >
      <Facts
        facts={[
          [peopleWords.number(), <span class="number">{person.staff_number}</span>],
          [peopleWords.birthday(), born && monthDay(born)],
          [peopleWords.unit(), person.unit],
          [words.kind(), words[`kind_${person.kind}`]()],
          [peopleWords.sponsor(), person.sponsor],
          [words.left_on(), person.left_on && date(person.left_on)],
          [words.recorded(), dayAndClock(person.created_at)],
        ]}
      />
    </Panel>
  );
}

/** A correction upon one version: whoever was first wins, and what was typed is not lost. */
function Edit({ person, onDone, onCancel }: { person: Person; onDone: () => void; onCancel: () => void }) {
  const [base, setBase] = useState(person);
  const [typed, setTyped] = useState(() => typedOf(person));
  const [tried, setTried] = useState(false);
  const changes = changesOf(base, typed);
  const same = Object.keys(changes).length === 0;
  const save = useAction(async () => {
    const params = { path: { person_id: base.id }, header: { "If-Match": `"${base.version}"` } };
    await need(api.PATCH("/api/v1/people/{person_id}", { params, body: changes }));
    onDone();
  });
  const again = useAction(async () => {
    const fresh = await readPerson(base.id);
    setTyped(upon(fresh, base, typed));
    setBase(fresh);
    save.clear();
  });
  const stale = save.problem?.code === "stale_version";
  return (
    <form
      class="stack"
      noValidate
      onSubmit={event => {
        event.preventDefault();
        setTried(true);
        if (!same && complete(typed)) void save.run();
      }}
    >
      <PersonFields
        value={typed}
        onValue={setTyped}
        tried={tried}
        problem={save.problem}
        stored={{
          birthday: base.birth_month_day ? monthDay(base.birth_month_day) : words.born_nothing(),
        }}
      />
      {tried && same && <Notice tone="plain" title={words.nothing_changed()} urgent />}
      <ProblemNotice problem={save.problem} />
      {stale && (
        <div class="row">
          <Button busy={again.busy} onClick={() => void again.run()}>
            {words.read_again()}
          </Button>
        </div>
      )}
      <ProblemNotice problem={again.problem} />
      <div class="row">
        <Button kind="main" type="submit" busy={save.busy}>
          {kit.save()}
        </Button>
        <Button onClick={onCancel}>{kit.cancel()}</Button>
      </div>
    </form>
  );
}
