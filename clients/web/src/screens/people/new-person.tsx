import { useState } from "preact/hooks";
import { api, need, newId } from "../../api/client";
import { useForm } from "../../app/use-form";
import { FormBody } from "../../kit/form";
import { peopleWords as words } from "../../words/people";
import type { Person } from "./person";
import { incomplete, PersonFields } from "./person-fields";
import { emptyPerson, type Kind, type PersonTyped } from "./typed";

interface Props {
  onMade: (person: Person) => void;
  onCancel: () => void;
  /** Whether it may be somebody of the staff; a desk adds only people who are on no roster. */
  staffToo?: boolean;
}

/** Somebody who is new: of the staff, or on no roster and with the name of who answers for them. */
export function NewPerson({ onMade, onCancel, staffToo = false }: Props) {
  const [id] = useState(newId);
  // Short enough to say aloud; the server refuses one that is taken.
  const proposed = `T-${id.slice(-6).toUpperCase()}`;
  const start: PersonTyped = staffToo
    ? emptyPerson
    : { ...emptyPerson, kind: "temporary", staff_number: proposed };
  const form = useForm(start, {
    check: incomplete,
    save: async ({ kind, sponsor, birth_date, left_on: _, ...typed }) => {
      const temporary = kind !== "staff";
      const body = {
        id,
        kind: kind ?? "temporary",
        birth_date: birth_date || undefined,
        sponsor: temporary ? sponsor : undefined,
        ...typed,
      };
      onMade(await need(api.POST("/api/v1/people", { body })));
    },
  });
  const choose = (kind: Kind) => {
    const proposes = kind === "temporary" && form.typed.staff_number === "";
    form.set({ kind, ...(proposes && { staff_number: proposed }) });
  };
  return (
    <FormBody form={form} submit={words.create()} onCancel={onCancel}>
      <p class="soft">{words.new_intro()}</p>
      <PersonFields form={form} {...(staffToo && { onKind: choose })} />
    </FormBody>
  );
}
