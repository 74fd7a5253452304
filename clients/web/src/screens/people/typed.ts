// A person as somebody types them, and what of it differs from what is stored.
import type { Wire } from "../../api/client";

type Person = Wire<"PersonView">;
export type Kind = Wire<"PersonKind">;

/** What is typed of a person, under the names of the API; dates as the browser's own control gives them, empty for none. */
export interface PersonTyped {
  kind: Kind | null;
  staff_number: string;
  given_name: string;
  family_name: string;
  birth_date: string;
  unit: string;
  sponsor: string;
  left_on: string;
}

export const emptyPerson: PersonTyped = {
  kind: null,
  staff_number: "",
  given_name: "",
  family_name: "",
  birth_date: "",
  unit: "",
  sponsor: "",
  left_on: "",
};

/** What is stored, as somebody would have typed it; the birth date is never shown again. */
export const typedOf = (person: Person): PersonTyped => ({
  kind: person.kind,
  staff_number: person.staff_number,
  given_name: person.given_name,
  family_name: person.family_name,
  birth_date: "",
  unit: person.unit,
  sponsor: person.sponsor ?? "",
  left_on: person.left_on ?? "",
});

/** Only what differs from what is stored: what somebody else changes meanwhile stays theirs. */
export function changesOf(person: Person, typed: PersonTyped): Wire<"PersonPatch"> {
  const patch: Wire<"PersonPatch"> = {};
  const was = typedOf(person);
  if (typed.staff_number !== was.staff_number) patch.staff_number = typed.staff_number;
  if (typed.given_name !== was.given_name) patch.given_name = typed.given_name;
  if (typed.family_name !== was.family_name) patch.family_name = typed.family_name;
  if (typed.unit !== was.unit) patch.unit = typed.unit;
  if (typed.birth_date !== "") patch.birth_date = typed.birth_date;
  if (typed.sponsor !== was.sponsor) patch.sponsor = typed.sponsor.trim() || null;
  if (typed.left_on !== was.left_on) patch.left_on = typed.left_on || null;
  return patch;
}

/** What somebody typed, upon what another has stored meanwhile: what was not touched follows the other. */
export function upon(fresh: Person, was: Person, typed: PersonTyped): PersonTyped {
  const [before, now] = [typedOf(was), typedOf(fresh)];
  const touched = Object.entries(typed).filter(
    ([name, value]) => value !== before[name as keyof PersonTyped],
  );
  return { ...now, ...(Object.fromEntries(touched) as Partial<PersonTyped>) };
}
