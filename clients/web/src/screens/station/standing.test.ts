// What the station shows while no server answers, against what the server says of the same events. The answers were
// recorded from the real server by its own tests (api-spec/examples), so that both are held to one truth.
import { readdirSync, readFileSync } from "node:fs";
import { describe, expect, it } from "vitest";
import type { Wire } from "../../api/client";
import { type AttemptEvent, standing } from "./standing";

const EXAMPLES = new URL("../../../../../api-spec/examples/", import.meta.url);

type View = Wire<"AttemptView">;
const isView = (value: unknown): value is View =>
  typeof value === "object" && value !== null && "plan" in value && "state" in value && "events" in value;

/** Every attempt in the recorded answers. */
function recorded(): View[] {
  const found: View[] = [];
  const look = (value: unknown) => {
    if (isView(value)) found.push(value);
    else if (typeof value === "object" && value !== null) Object.values(value).forEach(look);
  };
  for (const file of readdirSync(EXAMPLES).filter(name => /attempt/.test(name))) {
    look(JSON.parse(readFileSync(new URL(file, EXAMPLES), "utf8")));
  }
  return found.filter(view => view.plan.doses);
}

const moment = (text: string | null | undefined) => (text ? Date.parse(text) : null);

describe("where an attempt stands, beside the server's word", () => {
  const views = recorded();

  it("has something to compare", () => expect(views.length).toBeGreaterThan(0));

  it.each(views.map(view => [view.id, view] as const))("agrees on %s", (_, view) => {
    const { state, plan } = view;
    const at = standing(plan, view.events, 0);
    expect(at.phase).toBe(state.phase);
    expect(at.wornUntil).toBe(moment(state.worn_until));
    expect(at.running?.number).toBe(state.current_exercise?.number);
    expect(at.running?.endsAt ?? null).toBe(moment(state.current_exercise?.ends_at));
    expect(at.dose?.squeezes).toBe(state.next_dose?.squeezes);
    expect(at.dose?.dueAt ?? null).toBe(moment(state.next_dose?.due_at));
  });
});

describe("a whole run", () => {
  const plan = recorded()[0]!.plan;
  const interval = plan.doses!.redose_interval_seconds;
  const zero = Date.parse("2026-03-10T08:30:00Z");
  const log: AttemptEvent[] = [];
  const say = (second: number, kind: Wire<"AttemptEventKind">) =>
    log.push({ seq: log.length + 1, happened_at: new Date(zero + second * 1000).toISOString(), ...kind });

  it("asks for the doses of 29 CFR 1910.134 App. A I.B.3(b)(6)-(8) and ends where the plan ends", () => {
    say(-360, { kind: "donned", by_wearer: true });
    say(-340, { kind: "seal_checked", result: "ok" });
    say(-5, { kind: "hooded", taste_gone: true });
    say(0, { kind: "dose_given", squeezes: plan.doses!.first_dose });
    let due = interval;
    for (const exercise of plan.exercises) {
      const begin = (exercise.number - 1) * exercise.seconds;
      say(begin, { kind: "exercise_started", number: exercise.number });
      while (due < begin + exercise.seconds) {
        expect(standing(plan, log, zero + due * 1000).dose?.dueAt).toBe(zero + due * 1000);
        say(due, { kind: "dose_given", squeezes: plan.doses!.redose });
        due += interval;
      }
      say(begin + exercise.seconds, { kind: "exercise_ended", number: exercise.number });
    }
    const doses = log.filter(event => event.kind === "dose_given").length;
    expect(doses - 1).toBe(plan.doses!.expected_redoses);
    expect(standing(plan, log, zero).phase).toBe("closing");
    expect(standing(plan, log, zero).dose).toBeNull();
  });

  it("knows that a dose was missed, and not before its tolerance is over", () => {
    const first = log.slice(0, 4);
    const latest = zero + (interval + plan.doses!.dose_late_tolerance_seconds) * 1000;
    expect(standing(plan, first, latest).missed).toBe(false);
    expect(standing(plan, first, latest + 1).missed).toBe(true);
  });

  it("is over with the first word that ends it, and nothing after it counts", () => {
    for (const kind of ["tasted", "adjusted", "interrupted", "unwell", "hood_off", "unsure"] as const) {
      const said = [...log.slice(0, 5), { seq: 6, happened_at: new Date(zero + 9000).toISOString(), kind }];
      expect(standing(plan, said, zero + 9000).phase).toBe("ended");
    }
  });
});
