// What a tester does at the chair, step by step, on the screen of the station.
import { expect, vi } from "vitest";
import { Actor } from "./hospital";
import type { Chairside } from "./room";

export const MINUTE = 60_000;

export interface View {
  id: string;
  respirator_id: string;
  screening_id: string | null;
  station_id: string;
  method: string;
  plan: { doses?: { first_dose: number; redose: number; redose_interval_seconds: number } };
  events: { kind: string; happened_at: string; squeezes?: number }[];
  state: { verdict?: { outcome: string; reason: string; exercise: number | null }; next_seq: number };
}

/** The attempt of a person, as the server has it; of two, the one that is not `other`. */
export async function attemptOf(person_id: string, other?: string): Promise<View> {
  const coordinator = await Actor.signIn("coordinator");
  const { items } = await coordinator.get<{ items: { id: string }[] }>(
    `/api/v1/attempts?person_id=${person_id}`,
  );
  const found = items.filter(one => one.id !== other).at(-1);
  return coordinator.get<View>(`/api/v1/attempts/${found?.id}`);
}

/** The same once the server has judged it: a station shows what came out before its last event has arrived. */
export async function judgedOf(person_id: string, other?: string): Promise<View> {
  const judged = async () => {
    const found = await attemptOf(person_id, other);
    expect(found.state.verdict).toBeTruthy();
    return found;
  };
  return vi.waitFor(judged, { timeout: 30_000 });
}

/** Called, confirmed, and told what a screening is. */
export async function begins(side: Chairside): Promise<void> {
  await side.press("Call next for screening");
  await side.press("Yes, this is the person");
  await side.press("Start");
  await side.press("Explained");
}

/** Called, confirmed and screened: nothing tasted in thirty squeezes. */
export async function tastesNothing(side: Chairside): Promise<void> {
  await begins(side);
  for (let set = 1; set <= 3; set++) {
    await side.sees(`Set ${set} of 3`);
    await side.press("All 10 given, nothing tasted");
  }
}

/** Called, confirmed and screened: tasted in the set of this level. */
export async function screens(side: Chairside, level: 10 | 20 | 30): Promise<void> {
  await begins(side);
  for (let set = 1; set < level / 10; set++) await side.press("All 10 given, nothing tasted");
  await side.sees(`Set ${level / 10} of 3`);
  await side.press("Tasted");
  await side.press("4");
}

/** Everything before the first dose. */
export async function fits(side: Chairside, respirator = 0): Promise<void> {
  await side.press("Go on at this station");
  await side.page.getByRole("radio").nth(respirator).check({ force: true });
  await side.press("Start");
  await side.press("On, put on by the wearer");
  await side.press("No leak felt");
  await side.go(5 * MINUTE);
  await side.press("Hood on, taste gone");
}

/** The first dose and the exercises up to the end of this one; returns when the first dose was given. */
export async function exercises(
  side: Chairside,
  level: number,
  last: number,
  from = 1,
  began?: number,
): Promise<number> {
  let first = began ?? 0;
  if (from === 1) {
    await side.press(`Given: ${level}`);
    await side.press("Start exercise 1");
    first = side.now;
  }
  for (let number = from; number <= last; number++) {
    await dose(side, level / 2, first + (number - 0.5) * MINUTE);
    await dose(side, level / 2, first + number * MINUTE);
    await side.until(first + number * MINUTE + 500);
    await side.press(number < 7 ? /^Next: / : "Exercises done");
  }
  return first;
}

async function dose(side: Chairside, squeezes: number, at: number): Promise<void> {
  await side.until(at - 3000);
  await side.press(`Given: ${squeezes}`);
}

export async function closes(side: Chairside): Promise<void> {
  await side.press("Not noticed, comfortable");
  await side.press("Spray seen");
  await side.press(/^This is .* with/);
  await side.press("Sign");
}
