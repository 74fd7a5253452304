// What a station reads between tests and holds on to when the network goes.
import { all, api, need, type Wire } from "../../api/client";
import { asProblem } from "../../api/problem";
import { type Station } from "../../app/place";
import { type Resource, useResource } from "../../app/use-resource";
import type { Fill } from "./fills";
import { keep, kept } from "./keep";
import { now } from "./time";

export type Respirator = Wire<"RespiratorView">;
export type Equipment = Wire<"EquipmentView">;
export type Agent = Wire<"Agent">;
type Plans = Wire<"StationPlansView">;

export interface Pack {
  plans: Plans;
  respirators: Respirator[];
  fills: Fill[];
  hoods: Equipment[];
  /** When the server said so, in milliseconds since 1970. */
  asOf: number;
}

/** What changes any of it: a fill may no longer be used once its lot is stopped or its nebulizer found clogged. */
const NOUNS = [
  ...["fills", "fill_emptyings", "equipment", "equipment_checks", "lot_stops"],
  ...["respirators", "stations", "stops", "stop_releases"],
];

/** Everything of it, from the server or, while that is away, as it was kept. */
export function usePack(station: Station): Resource<Pack> {
  return useResource(`pack ${station.id}`, () => load(station), {
    nouns: NOUNS,
    everyMs: 60_000,
  });
}

async function load(station: Station): Promise<Pack> {
  const key = `pack ${station.id}`;
  try {
    const pack = await read(station.id);
    await keep(key, pack).catch(() => undefined);
    return pack;
  } catch (error) {
    const before = asProblem(error).passes ? await kept<Pack>(key) : undefined;
    if (before) return before.value;
    throw error;
  }
}

async function read(station_id: string): Promise<Pack> {
  const path = { params: { path: { station_id } } };
  const [plans, respirators, fills, equipment] = await Promise.all([
    need(api.GET("/api/v1/stations/{station_id}/plans", path)),
    all(cursor => api.GET("/api/v1/respirators", { params: { query: { cursor } } })),
    all(cursor =>
      api.GET("/api/v1/stations/{station_id}/fills", {
        params: { path: { station_id }, query: { cursor } },
      }),
    ),
    all(cursor => api.GET("/api/v1/equipment", { params: { query: { cursor } } })),
  ]);
  return {
    plans,
    respirators: respirators.filter(one => !one.retired_at),
    fills,
    hoods: equipment.filter(one => one.kind === "hood"),
    asOf: Date.now(),
  };
}

/** How long ago it was made. */
export const ageOf = (fill: Fill): number => Math.max(0, now() - Date.parse(fill.happened_at));

/** Make, model, style and size in one line: a pass belongs to all of them together. */
export function respiratorName(one: Respirator): string {
  return [one.make, one.model, one.style, one.size].filter(Boolean).join(" · ");
}

/** The plan that lies ready for this agent after so many sets, and for this kind of facepiece. */
export function readyPlan(pack: Pack, agent: Agent, sets: number, facepiece: Respirator["facepiece"] | null) {
  const full = facepiece === "full_facepiece";
  const plans = pack.plans.attempts.filter(one => one.plan.method === agent && one.full_facepiece === full);
  return plans.sort((one, other) => (one.level ?? 0) - (other.level ?? 0))[sets - 1];
}
