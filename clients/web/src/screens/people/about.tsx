import { useState } from "preact/hooks";
import { api, need } from "../../api/client";
import { may } from "../../app/session";
import { useAction } from "../../app/use-action";
import { useForm } from "../../app/use-form";
import { announce } from "../../kit/announce";
import { Button } from "../../kit/button";
import { FormBody } from "../../kit/form";
import { Notice, ProblemNotice } from "../../kit/notice";
import { Facts, Panel } from "../../kit/page";
import { date, dayAndClock, monthDay } from "../../words/format";
import { peopleWords } from "../../words/people";
import { person as words } from "../../words/person";
import { type Person, readPerson } from "./person";
import { incomplete, PersonFields } from "./person-fields";
import { changesOf, type PersonTyped, typedOf, upon } from "./typed";

/** Where the form tells that there is nothing to store. */
const NOTHING = "nothing";

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
  const form = useForm<PersonTyped>(() => typedOf(person), {
    check: typed => ({
      ...incomplete(typed),
      [NOTHING]: Object.keys(changesOf(base, typed)).length === 0 && words.nothing_changed(),
    }),
    save: async typed => {
      const params = { path: { person_id: base.id }, header: { "If-Match": `"${base.version}"` } };
      await need(api.PATCH("/api/v1/people/{person_id}", { params, body: changesOf(base, typed) }));
      onDone();
    },
  });
  const again = useAction(async () => {
    const fresh = await readPerson(base.id);
    form.restart(upon(fresh, base, form.typed));
    setBase(fresh);
  });
  const nothing = form.fault(NOTHING);
  const birthday = base.birth_month_day ? monthDay(base.birth_month_day) : words.born_nothing();
  return (
    <FormBody form={form} onCancel={onCancel}>
      <PersonFields form={form} stored={{ birthday }} />
      {nothing && <Notice tone="plain" title={nothing} urgent />}
      {form.problem?.code === "stale_version" && (
        <div class="row">
          <Button busy={again.busy} onClick={() => void again.run()}>
            {words.read_again()}
          </Button>
        </div>
      )}
      <ProblemNotice problem={again.problem} />
    </FormBody>
  );
}
