import type { Problem } from "../../api/problem";
import { Choice, TextField } from "../../kit/field";
import { peopleWords as words } from "../../words/people";
import { person as more } from "../../words/person";
import type { Kind, PersonTyped } from "./typed";

interface Props {
  value: PersonTyped;
  onValue: (value: PersonTyped) => void;
  /** Whether the form was sent: only then is what is missing told. */
  tried: boolean;
  problem: Problem | undefined;
  /** Whether this may be somebody of the staff, or only somebody who is on no roster. */
  chooseKind?: boolean;
  /** The birthday that is stored; the year never comes back. */
  stored?: { birthday: string };
}

/** What is known of a person, for somebody new and for a correction. Each refusal stands at its field. */
export function PersonFields({ value, onValue, tried, problem, chooseKind, stored }: Props) {
  const set = (part: Partial<PersonTyped>) => onValue({ ...value, ...part });
  const fault = (name: string) => (problem?.field === name ? problem.detail : undefined);
  const missing = (there: boolean, sentence: string) => (tried && !there ? sentence : undefined);
  return (
    <>
      {chooseKind && (
        <Choice<Kind>
          label={more.kind()}
          value={value.kind}
          options={[
            { value: "staff", label: more.kind_staff() },
            { value: "temporary", label: more.kind_temporary() },
          ]}
          onValue={kind => set({ kind })}
          problem={missing(value.kind !== null, more.kind_needed())}
        />
      )}
      <TextField
        label={words.given_name()}
        value={value.given}
        onValue={given => set({ given })}
        autocomplete="off"
        problem={missing(named(value), words.name_needed()) ?? fault("given_name")}
      />
      <TextField
        label={words.family_name()}
        value={value.family}
        onValue={family => set({ family })}
        autocomplete="off"
        problem={fault("family_name")}
      />
      <TextField
        label={words.birth_date()}
        hint={stored ? more.born_hint(stored) : words.birth_date_hint()}
        type="date"
        value={value.born}
        onValue={born => set({ born })}
        problem={fault("birth_date")}
      />
      <TextField
        label={words.unit()}
        value={value.unit}
        onValue={unit => set({ unit })}
        autocomplete="off"
        problem={fault("unit")}
      />
      {value.kind === "temporary" && (
        <TextField
          label={words.sponsor()}
          hint={words.sponsor_hint()}
          value={value.sponsor}
          onValue={sponsor => set({ sponsor })}
          autocomplete="off"
          problem={missing(value.sponsor.trim() !== "", words.sponsor_needed()) ?? fault("sponsor")}
        />
      )}
      <TextField
        label={value.kind === "temporary" && !stored ? words.new_number() : words.number()}
        value={value.number}
        onValue={number => set({ number })}
        autocomplete="off"
        problem={missing(value.number.trim() !== "", more.number_needed()) ?? fault("staff_number")}
      />
      {stored && (
        <TextField
          label={more.left_on()}
          hint={more.left_on_hint()}
          type="date"
          value={value.left}
          onValue={left => set({ left })}
          problem={fault("left_on")}
        />
      )}
    </>
  );
}

const named = ({ given, family }: PersonTyped) => given.trim() !== "" || family.trim() !== "";

/** Whether everything is there that only the person in front of the form can know. */
export const complete = (typed: PersonTyped): boolean =>
  typed.kind !== null &&
  named(typed) &&
  typed.number.trim() !== "" &&
  (typed.kind === "staff" || typed.sponsor.trim() !== "");
