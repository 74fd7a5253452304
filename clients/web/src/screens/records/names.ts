// What ids are called: people, respirators, stations. Lists carry ids only.
import { api, need } from "../../api/client";
import { stationsOf } from "../../app/place";
import { useResource } from "../../app/use-resource";
import { respiratorName } from "../stores/names";
import { useRespirators } from "../stores/lists";
import { type Person, readPerson } from "../people/person";

export type Names = ReadonlyMap<string, string>;

/** What each respirator is called. */
export function useRespiratorNames(): Names {
  const respirators = useRespirators().data ?? [];
  return new Map(respirators.map(one => [one.id, respiratorName(one)]));
}

/** What each station of a day is called; of no day, nothing. */
export function useStationNames(dayId: string | null): Names {
  const stations = useResource(dayId && `stations ${dayId}`, () => stationsOf(dayId ?? ""), {
    nouns: ["stations"],
  });
  return new Map(stations.data?.map(one => [one.id, one.name]));
}

/** So few people are asked for one by one; of more, the list is read until all of them are found. */
const SINGLY_MAX = 12;

/** The people behind these ids. */
export async function peopleOf(ids: Iterable<string>): Promise<Map<string, Person>> {
  const wanted = new Set(ids);
  const found = new Map<string, Person>();
  let cursor: string | undefined;
  while (wanted.size > SINGLY_MAX) {
    const page = await need(api.GET("/api/v1/people", { params: { query: { cursor, limit: 500 } } }));
    for (const person of page.items) if (wanted.delete(person.id)) found.set(person.id, person);
    cursor = page.next ?? undefined;
    if (!cursor) break;
  }
  for (const person of await Promise.all([...wanted].map(readPerson))) found.set(person.id, person);
  return found;
}
