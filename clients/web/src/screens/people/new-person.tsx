import { useState } from "preact/hooks";
import { api, need, newId } from "../../api/client";
import { useAction } from "../../app/use-action";
import { Button } from "../../kit/button";
import { ProblemNotice } from "../../kit/notice";
import { kit } from "../../words/kit";
import { peopleWords as words } from "../../words/people";
import type { Person } from "./person";
import { emptyPerson, type PersonTyped } from "./typed";
import { complete, PersonFields } from "./person-fields";

interface Props {
  onMade: (person: Person) => void;
  onCancel: () => void;
  /** Whether it may be somebody of the staff; a desk adds only people who are on no roster. */
  staffToo?: boolean;
}

/** Somebody who is new: of the staff, or on no roster and with the name of who answers for them. */
export function NewPerson({ onMade, onCancel, staffToo = false }: Props) {
  const [id] = useState(newId);
  const [typed, setTyped] = useState<PersonTyped>(() => ({
    ...emptyPerson,
    kind: staffToo ? null : "temporary",
    // Short enough to say aloud; the server refuses one that is taken.
    number: staffToo ? "" : proposed(id),
  }));
  const [tried, setTried] = useState(false);
  const save = useAction(async () => {
    const made = await need(
      api.POST("/api/v1/people", {
        body: {
          id,
          kind: typed.kind ?? "temporary",
          staff_number: typed.number,
          given_name: typed.given,
          family_name: typed.family,
          birth_date: typed.born || undefined,
          unit: typed.unit,
          sponsor: typed.kind === "temporary" ? typed.sponsor : undefined,
        },
      }),
    );
    onMade(made);
  });
  return (
    <form
      class="stack"
      noValidate
      onSubmit={event => {
        event.preventDefault();
        setTried(true);
        if (complete(typed)) void save.run();
      }}
    >
      <p class="soft">{words.new_intro()}</p>
      <PersonFields
        value={typed}
        onValue={next => {
          const proposes = next.kind === "temporary" && typed.kind !== "temporary" && next.number === "";
          setTyped({ ...next, number: proposes ? proposed(id) : next.number });
        }}
        tried={tried}
        problem={save.problem}
        chooseKind={staffToo}
      />
      <ProblemNotice problem={save.problem} />
      <div class="row">
        <Button kind="main" type="submit" busy={save.busy}>
          {words.create()}
        </Button>
        <Button onClick={onCancel}>{kit.cancel()}</Button>
      </div>
    </form>
  );
}

const proposed = (id: string) => `T-${id.slice(-6).toUpperCase()}`;
