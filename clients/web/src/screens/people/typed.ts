// A person as somebody types them, and what of it differs from what is stored.
import type { Wire } from "../../api/client";

type Person = Wire<"PersonView">;
export type Kind = Wire<"PersonKind">;

/** What is typed of a person; dates as the browser's own control gives them, empty for none. */
export interface PersonTyped {
  kind: Kind | null;
  number: string;
  given: string;
  family: string;
  born: string;
  unit: string;
  sponsor: string;
  left: string;
}

export const emptyPerson: PersonTyped = {
  kind: null,
  number: "",
  given: "",
  family: "",
  born: "",
  unit: "",
  sponsor: "",
  left: "",
};

/** What is stored, as somebody would have typed it; the birth date is never shown again. */
export const typedOf = (person: Person): PersonTyped => ({
  kind: person.kind,
  number: person.staff_number,
  given: person.given_name,
  family: person.family_name,
  born: "",
  unit: person.unit,
  sponsor: person.sponsor ?? "",
  left: person.left_on ?? "",
});

/** Only what differs from what is stored: what somebody else changes meanwhile stays theirs. */
export function changesOf(person: Person, typed: PersonTyped): Wire<"PersonPatch"> {
  const patch: Wire<"PersonPatch"> = {};
  const was = typedOf(person);
  if (typed.number !== was.number) patch.staff_number = typed.number;
  if (typed.given !== was.given) patch.given_name = typed.given;
  if (typed.family !== was.family) patch.family_name = typed.family;
  if (typed.unit !== was.unit) patch.unit = typed.unit;
  if (typed.born !== "") patch.birth_date = typed.born;
  if (typed.sponsor !== was.sponsor) patch.sponsor = typed.sponsor.trim() || null;
  if (typed.left !== was.left) patch.left_on = typed.left || null;
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
