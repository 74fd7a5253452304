import { all, api, need, type Wire } from "../../api/client";
import { readGates } from "../gates/lists";
import type { Asked } from "./risk";
import { type Due, dueOf } from "./risk";

/** How far ahead is asked: each answer says who is turned away by then. */
export const AHEAD = [0, 14, 28, 56, 91] as const;
/** Who came in so lately uses the door. */
const USES_DAYS = 30;
const DAY_MS = 86_400_000;
/** A moment ahead has to be ahead when it arrives. */
const MARGIN_MS = 60_000;

export interface DueList {
  due: Due[];
  gates: readonly Wire<"GateView">[];
  people: number;
  /** Gates at which no policy is in force: they let nobody in, whoever is tested. */
  closed: string[];
}

/** Everybody on the roster, at every gate, up to so many days ahead. */
export async function readDue(until: number): Promise<DueList> {
  const [gates, people] = await Promise.all([
    readGates(),
    all(cursor => api.GET("/api/v1/people", { params: { query: { cursor, limit: 500 } } }), Infinity),
  ]);
  const here = new Map(people.filter(one => !one.left_on).map(one => [one.id, one]));
  const units = [...new Set([...here.values()].map(one => one.unit))];
  if (here.size === 0) return { due: [], gates, people: 0, closed: [] };
  const moments = AHEAD.filter(days => days <= until);
  const at = (days: number) => new Date(Date.now() + MARGIN_MS + days * DAY_MS).toISOString();
  const ask = (gate_id: string, body: Wire<"OutlookQuestion">) =>
    need(api.POST("/api/v1/gates/{gate_id}/outlooks", { params: { path: { gate_id } }, body }));
  const asked: Asked[] = [];
  const users = new Map<string, Set<string>>();
  const closed: string[] = [];
  // Gate after gate: a server that gates ask all day is not held up by a list.
  for (const gate of gates) {
    const [lately, ...answers] = await Promise.all([
      ask(gate.id, { at: at(until), entered_within_days: USES_DAYS }),
      ...moments.map(days => ask(gate.id, { at: at(days), units })),
    ]);
    users.set(gate.id, new Set(lately.items.map(one => one.person_id)));
    if (answers.some(one => !one.policy_id)) closed.push(gate.name);
    for (const [n, { items, policy_id }] of answers.entries()) {
      if (!policy_id) continue;
      const days = moments[n] ?? until;
      asked.push({ gateId: gate.id, days, items: items.filter(one => here.has(one.person_id)) });
    }
  }
  return { due: dueOf(asked, users), gates, people: here.size, closed };
}
