import type { Faults, Form } from "../../app/use-form";
import { Choice, TextField } from "../../kit/field";
import { peopleWords as words } from "../../words/people";
import { person as more } from "../../words/person";
import type { Kind, PersonTyped } from "./typed";

interface Props {
  form: Form<PersonTyped>;
  /** Chooses between the staff and those who are on no roster, where it is a question. */
  onKind?: (kind: Kind) => void;
  /** The birthday that is stored; the year never comes back. */
  stored?: { birthday: string };
}

/** What is known of a person, for somebody new and for a correction. Each refusal stands at its field. */
export function PersonFields({ form, onKind, stored }: Props) {
  const temporary = form.typed.kind === "temporary";
  return (
    <>
      {onKind && (
        <Choice<Kind>
          label={more.kind()}
          value={form.typed.kind}
          options={[
            { value: "staff", label: more.kind_staff() },
            { value: "temporary", label: more.kind_temporary() },
          ]}
          onValue={onKind}
          problem={form.fault("kind")}
        />
      )}
      <TextField label={words.given_name()} autocomplete="off" {...form.field("given_name")} />
      <TextField label={words.family_name()} autocomplete="off" {...form.field("family_name")} />
      <TextField
        label={words.birth_date()}
        hint={stored ? more.born_hint(stored) : words.birth_date_hint()}
        type="date"
        {...form.field("birth_date")}
      />
      <TextField label={words.unit()} autocomplete="off" {...form.field("unit")} />
      {temporary && (
        <TextField
          label={words.sponsor()}
          hint={words.sponsor_hint()}
          autocomplete="off"
          {...form.field("sponsor")}
        />
      )}
      <TextField
        label={temporary && !stored ? words.new_number() : words.number()}
        autocomplete="off"
        {...form.field("staff_number")}
      />
      {stored && (
        <TextField label={more.left_on()} hint={more.left_on_hint()} type="date" {...form.field("left_on")} />
      )}
    </>
  );
}

const blank = (text: string): boolean => text.trim() === "";

/** What is missing that only the person in front of the form can know. */
export const incomplete = (typed: PersonTyped): Faults<PersonTyped> => ({
  kind: typed.kind === null && more.kind_needed(),
  given_name: blank(typed.given_name) && blank(typed.family_name) && words.name_needed(),
  sponsor: typed.kind === "temporary" && blank(typed.sponsor) && words.sponsor_needed(),
  staff_number: blank(typed.staff_number) && more.number_needed(),
});
