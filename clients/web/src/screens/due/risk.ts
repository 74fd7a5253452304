// Whom each gate will turn away at each moment ahead, as the server says, gathered by person and put in the order of
// what it means at the doors. Nothing about a clearance is worked out here.
import type { Wire } from "../../api/client";

type Turned = Wire<"PersonOutlookView">;

/** One answer of the server: at this gate, so many days ahead. */
export interface Asked {
  gateId: string;
  days: number;
  items: readonly Turned[];
}

export interface AtGate {
  gateId: string;
  /** The first of the moments asked about at which they are turned away. */
  days: number;
  /** Whether they came in there lately. */
  uses: boolean;
  outlook: Turned;
}

export interface Due {
  person: Turned;
  gates: AtGate[];
  group: Group;
  /** The soonest of the gates. */
  days: number;
}

/** In the order of what it means at the doors. */
export const GROUPS = ["uses_not", "uses_loses", "not", "loses"] as const;
export type Group = (typeof GROUPS)[number];

/**
 * Everybody whom a gate turns away. First whoever uses a door and is not let in, then whoever will lose one they use,
 * then the others; within each group the soonest first, then the most gates, then the staff number.
 */
export function dueOf(asked: readonly Asked[], users: ReadonlyMap<string, ReadonlySet<string>>): Due[] {
  const people = new Map<string, Map<string, AtGate>>();
  for (const { gateId, days, items } of asked) {
    for (const outlook of items) {
      const gates = people.get(outlook.person_id) ?? new Map<string, AtGate>();
      people.set(outlook.person_id, gates);
      const known = gates.get(gateId);
      if (known && known.days <= days) continue;
      const uses = users.get(gateId)?.has(outlook.person_id) ?? false;
      gates.set(gateId, { gateId, days, uses, outlook });
    }
  }
  return [...people.values()].map(one => dueAt([...one.values()])).sort(before);
}

function dueAt(all: AtGate[]): Due {
  const used = all.filter(one => one.uses);
  const bears = used.length > 0 ? used : all;
  const days = Math.min(...bears.map(one => one.days));
  const now = days === 0;
  const group: Group = used.length > 0 ? (now ? "uses_not" : "uses_loses") : now ? "not" : "loses";
  const gates = all.toSorted((one, other) => Number(other.uses) - Number(one.uses) || one.days - other.days);
  // Of several gates, what helps is shown for the first at which anything does.
  const helped = gates.find(one => one.outlook.retest_on.length > 0 || one.outlook.needs_permission);
  return { person: (helped ?? gates[0]!).outlook, gates, group, days };
}

const before = (one: Due, other: Due): number =>
  GROUPS.indexOf(one.group) - GROUPS.indexOf(other.group) ||
  one.days - other.days ||
  other.gates.length - one.gates.length ||
  one.person.staff_number.localeCompare(other.person.staff_number);
