// How a person is told apart from others, the same on every screen that finds people.
import { all, api, need, type Wire } from "../../api/client";
import { date, monthDay } from "../../words/format";
import { peopleWords as words } from "../../words/people";

export type Person = Wire<"PersonView">;

/** More than a person reads through: whoever finds so many types more. */
export const SHOWN_MAX = 30;

export const fullName = (person: Pick<Person, "given_name" | "family_name">): string =>
  [person.given_name, person.family_name].filter(Boolean).join(" ");

/** What tells people of one name apart: the number, the birthday, the ward. */
export const apart = (person: Person): string =>
  [
    person.staff_number,
    person.birth_month_day && monthDay(person.birth_month_day),
    person.unit,
    person.kind === "temporary" && words.temporary(),
    person.left_on && words.left({ date: date(person.left_on) }),
  ]
    .filter(Boolean)
    .join(" · ");

/** Names that several of these people have. */
export function sharedNames(people: readonly Person[]): ReadonlySet<string> {
  const seen = new Set<string>();
  const shared = new Set<string>();
  for (const name of people.map(one => fullName(one).toLocaleLowerCase()))
    (seen.has(name) ? shared : seen).add(name);
  return shared;
}

export const search = (q: string): Promise<Person[]> =>
  all(
    cursor => api.GET("/api/v1/people", { params: { query: { q, cursor, limit: SHOWN_MAX + 1 } } }),
    SHOWN_MAX + 1,
  );

/** The one person with this whole number, as a scanner reads it. */
export async function byNumber(number: string): Promise<Person | undefined> {
  const { items } = await need(api.GET("/api/v1/people", { params: { query: { staff_number: number } } }));
  return items.length === 1 ? items[0] : undefined;
}

export const readPerson = (id: string): Promise<Person> =>
  need(api.GET("/api/v1/people/{person_id}", { params: { path: { person_id: id } } }));
