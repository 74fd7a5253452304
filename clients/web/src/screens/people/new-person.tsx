import { useState } from "preact/hooks";
import { api, need, newId } from "../../api/client";
import { useAction } from "../../app/use-action";
import { Button } from "../../kit/button";
import { TextField } from "../../kit/field";
import { ProblemNotice } from "../../kit/notice";
import { kit } from "../../words/kit";
import { peopleWords as words } from "../../words/people";
import type { Person } from "./person";

/** Somebody who is on no roster, with the name of who answers for them. */
export function NewPerson({ onMade, onCancel }: { onMade: (person: Person) => void; onCancel: () => void }) {
  const [id] = useState(newId);
  const [given, setGiven] = useState("");
  const [family, setFamily] = useState("");
  const [born, setBorn] = useState("");
  const [unit, setUnit] = useState("");
  const [sponsor, setSponsor] = useState("");
  // Short enough to say aloud; the server refuses one that is taken.
  const [number, setNumber] = useState(() => `T-${id.slice(-6).toUpperCase()}`);
  const [tried, setTried] = useState(false);
  const named = given.trim() !== "" || family.trim() !== "";
  const save = useAction(async () => {
    const made = await need(
      api.POST("/api/v1/people", {
        body: {
          id,
          kind: "temporary",
          staff_number: number,
          given_name: given,
          family_name: family,
          birth_date: born || undefined,
          unit,
          sponsor,
        },
      }),
    );
    onMade(made);
  });
  const fault = (name: string) => (save.problem?.field === name ? save.problem.detail : undefined);
  return (
    <form
      class="stack"
      noValidate
      onSubmit={event => {
        event.preventDefault();
        setTried(true);
        if (named && sponsor.trim() !== "") void save.run();
      }}
    >
      <p class="soft">{words.new_intro()}</p>
      <TextField
        label={words.given_name()}
        value={given}
        onValue={setGiven}
        autocomplete="off"
        problem={tried && !named ? words.name_needed() : fault("given_name")}
      />
      <TextField label={words.family_name()} value={family} onValue={setFamily} autocomplete="off" />
      <TextField
        label={words.birth_date()}
        hint={words.birth_date_hint()}
        type="date"
        value={born}
        onValue={setBorn}
        problem={fault("birth_date")}
      />
      <TextField
        label={words.unit()}
        value={unit}
        onValue={setUnit}
        autocomplete="off"
        problem={fault("unit")}
      />
      <TextField
        label={words.sponsor()}
        hint={words.sponsor_hint()}
        value={sponsor}
        onValue={setSponsor}
        autocomplete="off"
        problem={tried && sponsor.trim() === "" ? words.sponsor_needed() : fault("sponsor")}
      />
      <TextField
        label={words.new_number()}
        value={number}
        onValue={setNumber}
        autocomplete="off"
        problem={fault("staff_number")}
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
