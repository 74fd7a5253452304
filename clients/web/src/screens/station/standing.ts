// Where a run stands, from its plan and what was recorded of it: for showing what comes next while no server answers.
// It decides nothing. The verdict is the server's, which works it out from the same events.
import type { Wire } from "../../api/client";

export type Plan = Wire<"Plan">;
export type AttemptEvent = Wire<"AttemptEvent">;
export type AttemptEventKind = Wire<"AttemptEventKind">;
export type ScreeningEvent = Wire<"ScreeningEvent">;
export type ScreeningEventKind = Wire<"ScreeningEventKind">;
export type ScreeningPlan = Wire<"ScreeningPlanView">;

export interface Dose {
  squeezes: number;
  /** When it is due, and from when until when it is taken; the first one waits for nothing. */
  dueAt: number | null;
  earliestAt: number;
  latestAt: number;
}

export interface Standing {
  phase: "fitting" | "testing" | "closing" | "ended";
  donnedAt: number | null;
  wornUntil: number | null;
  seal: "unchecked" | "good" | "leaking";
  hooded: boolean;
  dose: Dose | null;
  running: { number: number; startedAt: number; endsAt: number } | null;
  nextExercise: number | null;
  askedAgain: boolean;
  nebulizerClear: boolean;
  /** A dose that was due is gone by: nothing makes this a pass any more. */
  missed: boolean;
}

/** What ends a taste test at once, at any moment after its first dose. */
const ENDS = ["tasted", "unsure", "adjusted", "interrupted", "hood_off", "doffed", "unwell"];

const at = (event: { happened_at: string }) => Date.parse(event.happened_at);

/** Where an attempt with a taste agent stands at a moment. */
export function standing(plan: Plan, events: readonly AttemptEvent[], moment: number): Standing {
  const found: Standing = {
    phase: "fitting",
    donnedAt: null,
    wornUntil: null,
    seal: "unchecked",
    hooded: false,
    dose: null,
    running: null,
    nextExercise: 1,
    askedAgain: false,
    nebulizerClear: false,
    missed: false,
  };
  const testing: Testing = { firstAt: null, redoses: 0, done: 0, endedAt: null };
  for (const event of events) {
    if (found.phase === "ended") break;
    if (found.phase === "fitting") fit(found, event);
    test(found, testing, plan, event);
  }
  if (found.donnedAt !== null && found.phase === "fitting") {
    found.wornUntil = found.donnedAt + plan.wear_seconds * 1000;
  }
  found.dose = dose(found, testing, plan);
  found.missed = found.dose !== null && moment > found.dose.latestAt;
  found.nextExercise = found.running || found.phase !== "testing" ? null : testing.done + 1;
  return found;
}

interface Testing {
  firstAt: number | null;
  redoses: number;
  done: number;
  endedAt: number | null;
}

function fit(found: Standing, event: AttemptEvent): void {
  switch (event.kind) {
    case "donned":
      Object.assign(found, { donnedAt: at(event), seal: "unchecked", hooded: false });
      break;
    case "doffed":
      Object.assign(found, { donnedAt: null, seal: "unchecked", hooded: false });
      break;
    case "seal_checked":
      found.seal = event.result === "ok" ? "good" : event.result === "failed" ? "leaking" : "unchecked";
      break;
    case "adjusted":
      if (found.seal !== "leaking") found.seal = "unchecked";
      break;
    case "hooded":
      found.hooded = event.taste_gone;
      break;
    case "hood_off":
      found.hooded = false;
      break;
    case "interrupted":
    case "unwell":
      found.phase = "ended";
  }
}

function test(found: Standing, testing: Testing, plan: Plan, event: AttemptEvent): void {
  if (event.kind === "dose_given") {
    if (testing.firstAt === null) {
      testing.firstAt = at(event);
      found.phase = "testing";
    } else testing.redoses += 1;
    return;
  }
  if (testing.firstAt === null) return;
  switch (event.kind) {
    case "exercise_started": {
      const seconds = plan.exercises[event.number - 1]?.seconds ?? 0;
      found.running = { number: event.number, startedAt: at(event), endsAt: at(event) + seconds * 1000 };
      break;
    }
    case "exercise_ended":
      found.running = null;
      testing.done = event.number;
      if (event.number >= plan.exercises.length) {
        testing.endedAt = at(event);
        found.phase = "closing";
      }
      break;
    case "asked_again":
      if (event.tasted || !event.comfortable) found.phase = "ended";
      found.askedAgain = true;
      break;
    case "nebulizer_checked":
      if (!event.clear) found.phase = "ended";
      else if (found.phase === "closing") found.nebulizerClear = true;
      break;
    case "signed":
      found.phase = "ended";
      break;
    default:
      // Once the wearer has been asked, hood and respirator come off as they should.
      if (
        ENDS.includes(event.kind) &&
        !(found.askedAgain && !["tasted", "unsure", "unwell"].includes(event.kind))
      )
        found.phase = "ended";
  }
}

/** The dose that comes next, on the grid that the plan counts from the first one. */
function dose(found: Standing, testing: Testing, plan: Plan): Dose | null {
  const { doses } = plan;
  if (!doses || found.phase === "ended") return null;
  if (testing.firstAt === null) {
    return { squeezes: doses.first_dose, dueAt: null, earliestAt: 0, latestAt: Number.POSITIVE_INFINITY };
  }
  const dueAt = testing.firstAt + (testing.redoses + 1) * doses.redose_interval_seconds * 1000;
  if (testing.endedAt !== null && dueAt >= testing.endedAt) return null;
  return {
    squeezes: doses.redose,
    dueAt,
    earliestAt: dueAt - doses.dose_early_tolerance_seconds * 1000,
    latestAt: dueAt + doses.dose_late_tolerance_seconds * 1000,
  };
}

export interface Screened {
  explained: boolean;
  waterTried: boolean;
  sets: number;
  /** Nothing more is recorded; the level is that of the set in which it was tasted. */
  ended: "tasted" | "not_tasted" | "void" | null;
}

/** Where a screening with a taste agent stands. */
export function screened(plan: ScreeningPlan, events: readonly ScreeningEvent[]): Screened {
  const found: Screened = { explained: false, waterTried: false, sets: 0, ended: null };
  for (const event of events) {
    if (event.kind === "explained") found.explained = true;
    else if (event.kind === "plain_water_tried") {
      found.waterTried = true;
      if (event.tasted) found.ended = "void";
    } else if (event.kind === "set_done") {
      found.sets += 1;
      if (event.tasted) found.ended = "tasted";
      else if (found.sets >= plan.sets) found.ended = "not_tasted";
    } else if (event.kind === "interrupted" || event.kind === "unwell") found.ended = "void";
    else if (event.kind === "nebulizer_checked" && !event.clear) found.ended = "void";
  }
  return found;
}
