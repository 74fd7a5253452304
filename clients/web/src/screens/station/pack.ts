// What a station reads between tests and holds on to when the network goes.
import { all, api, need, type Wire } from "../../api/client";
import { asProblem } from "../../api/problem";
import { type Station } from "../../app/place";
import { type Resource, useResource } from "../../app/use-resource";
import { keep, kept } from "./keep";
import { now } from "./time";

export type Respirator = Wire<"RespiratorView">;
export type Fill = Wire<"FillView">;
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

/** Everything of it, from the server or, while that is away, as it was kept. */
export function usePack(station: Station): Resource<Pack> {
  return useResource(`pack ${station.id}`, () => load(station), {
    nouns: ["fills", "equipment", "respirators", "stations", "stops"],
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

/** The fill of this agent and solution that was made last and not emptied. */
export function currentFill(pack: Pack, agent: Agent, solution: Fill["solution"]): Fill | undefined {
  const found = pack.fills.filter(one => one.agent === agent && one.solution === solution && !one.emptied_at);
  return found.sort((one, other) => Date.parse(other.happened_at) - Date.parse(one.happened_at))[0];
}

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
