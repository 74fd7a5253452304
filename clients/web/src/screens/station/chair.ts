// Who is in the chair, and what was done with them: kept on this device before it is shown, and sent in order by the
// outbox. A reload, a dead battery or a dead network in the middle of a test loses nothing of it.
import { signal } from "@preact/signals";
import { api, need, newId, type Wire } from "../../api/client";
import { asProblem } from "../../api/problem";
import { unreachableSince } from "../../api/reach";
import { remembered } from "../../app/remembered";
import { type Delivered, type Entry, outbox } from "../../outbox";
import type { Outbox } from "../../outbox/outbox";
import { added, answered, asAnswered } from "./answered";
import { forget, keep, kept } from "./keep";
import type { Agent } from "./pack";
import type { AttemptEvent, AttemptEventKind, Plan, ScreeningEvent, ScreeningEventKind } from "./standing";
import { now, nowText } from "./time";

export type NextStep = Wire<"NextStep">;
export type Person = Pick<
  Wire<"PersonView">,
  "id" | "given_name" | "family_name" | "birth_month_day" | "staff_number" | "unit"
>;

export interface ScreeningRun {
  kind: "screening";
  id: string;
  agent: Agent;
  events: ScreeningEvent[];
  /** What the server last said of it. */
  answer: Wire<"ScreeningView"> | null;
}

export interface AttemptRun {
  kind: "attempt";
  id: string;
  method: Wire<"Method">;
  respirator_id: string;
  plan: Plan;
  events: AttemptEvent[];
  /** The instrument runs by itself since then, and its file follows. */
  by_itself_since?: string | null;
  answer: Wire<"AttemptView"> | null;
}

/** What happened; at another moment than now where it is named. */
type Happened = (AttemptEventKind | ScreeningEventKind) & { happened_at?: string };

export type Run = ScreeningRun | AttemptRun;

export interface Case {
  visit_id: string;
  ticket: number;
  person: Person;
  /** What was told at check-in and matters in the chair. */
  gear: string | null;
  needs: string | null;
  /** Two facts were asked. */
  confirmed: boolean;
  /** What the server said was to be done when it handed the person over. */
  next: NextStep | null;
  runs: Run[];
}

/** When the screen was last alive, so that a restart knows how long it was gone. */
const seen = remembered<number | null>("station_seen", null);
const ATTEMPTS = "/api/v1/attempts";
const SCREENINGS = "/api/v1/screenings";

export class Chair {
  readonly current = signal<Case | null>(null);
  /** The screen began again with a run under way: for how long it was gone, in milliseconds. */
  readonly gone = signal<number | null>(null);
  /** Something could not be kept on this device, and was not recorded. */
  readonly unkept = signal(false);

  private constructor(
    readonly stationId: string,
    readonly box: Outbox,
  ) {}

  static async open(stationId: string): Promise<Chair> {
    const chair = new Chair(stationId, await outbox());
    const before = await kept<Case>(chair.key);
    if (before) {
      const found = withWaiting(before.value, chair.box.lane(lane(before.value)));
      const open = openRun(found);
      if (open && open.events.length > 0) chair.gone.value = Math.max(0, now() - (seen.get() ?? before.at));
      chair.current.value = found;
    }
    return chair;
  }

  private get key(): string {
    return `chair ${this.stationId}`;
  }

  /** Listens to what the outbox delivers; returns how to stop. */
  listen(): () => void {
    const stop = this.box.onDelivered(delivered => this.delivered(delivered));
    const beat = setInterval(() => seen.set(now()), 1000);
    return () => {
      stop();
      clearInterval(beat);
    };
  }

  /** Asks the server for the next person. */
  async call(step: Wire<"VisitStep">): Promise<void> {
    const { visit, next_step } = await need(
      api.POST("/api/v1/stations/{station_id}/calls", {
        params: { path: { station_id: this.stationId } },
        body: { id: newId(), step, happened_at: nowText() },
      }),
    );
    await this.seat(visit, next_step);
  }

  /**
   * A person whom the server knows to be here, and this screen does not: another device served the station. Whoever has
   * no run open goes back into the queue and is called anew; an open run is taken over as it stands.
   */
  async takeOver(visit_id: string): Promise<void> {
    const params = { path: { visit_id } };
    try {
      const body = { id: newId(), reason: "other" as const, wait_seconds: 0, happened_at: nowText() };
      await need(api.POST("/api/v1/visits/{visit_id}/returns", { params, body }));
    } catch (error) {
      const { facts } = asProblem(error);
      const run = await readRun(String(facts["attempt_id"] ?? ""), String(facts["screening_id"] ?? ""));
      if (!run) throw error;
      await this.seat(await need(api.GET("/api/v1/visits/{visit_id}", { params })), null);
      await this.append(run);
      this.gone.value = Math.max(0, now() - Date.parse(run.events.at(-1)?.happened_at ?? nowText()));
    }
  }

  private async seat(visit: Wire<"VisitView">, next: NextStep | null): Promise<void> {
    const person_id = visit.person_id;
    const person = await need(api.GET("/api/v1/people/{person_id}", { params: { path: { person_id } } }));
    this.gone.value = null;
    await this.set({
      visit_id: visit.id,
      ticket: visit.ticket,
      person,
      gear: visit.answers?.gear_worn ?? null,
      needs: visit.answers?.needs ?? null,
      confirmed: false,
      next,
      runs: [],
    });
  }

  /** The two facts were asked and agree. */
  async confirm(): Promise<void> {
    await this.change(one => ({ ...one, confirmed: true }));
  }

  /** Sends the person back into the queue. */
  async giveBack(reason: Wire<"ReturnReason">, wait_seconds: number): Promise<void> {
    const one = this.current.value;
    if (!one) return;
    await need(
      api.POST("/api/v1/visits/{visit_id}/returns", {
        params: { path: { visit_id: one.visit_id } },
        body: { id: newId(), reason, wait_seconds, happened_at: nowText() },
      }),
    );
    await this.leave();
  }

  /** The person leaves the chair: nothing of them stays on the screen. */
  async leave(): Promise<void> {
    this.current.value = null;
    this.gone.value = null;
    await forget(this.key);
  }

  async openScreening(agent: Agent, hood_id: string | null): Promise<void> {
    const one = this.must();
    const id = newId();
    const opening = { id, visit_id: one.visit_id, station_id: this.stationId, agent, hood_id };
    await this.put(one, SCREENINGS, { ...opening, afterwards: this.alone(one), happened_at: nowText() });
    await this.append({ kind: "screening", id, agent, events: [], answer: null });
  }

  async openAttempt(
    opening: Pick<Wire<"NewAttempt">, "respirator_id" | "screening_id" | "method" | "instrument" | "hood_id">,
    plan: Plan,
  ): Promise<void> {
    const one = this.must();
    const id = newId();
    const whole = { ...opening, id, visit_id: one.visit_id, station_id: this.stationId };
    await this.put(one, ATTEMPTS, { ...whole, afterwards: this.alone(one), happened_at: nowText() });
    const { respirator_id } = opening;
    await this.append({
      kind: "attempt",
      id,
      method: plan.method,
      respirator_id,
      plan,
      events: [],
      answer: null,
    });
  }

  /** Records what happened in the run that is open. It is kept once this returns. */
  async record(...kinds: Happened[]): Promise<void> {
    const one = this.must();
    const run = one.runs.at(-1);
    if (!run) return;
    const happened_at = nowText();
    const first = (run.events.at(-1)?.seq ?? 0) + 1;
    const events = kinds.map((kind, index) => ({ seq: first + index, happened_at, ...kind }));
    await this.put(one, `${pathOf(run)}/events`, { events });
    await this.change(before => ({
      ...before,
      runs: before.runs.map(other => added(other, run.id, events)),
    }));
  }

  /** The instrument was started at this moment and runs by itself; null once its readings are typed after all. */
  async runsByItself(by_itself_since: string | null): Promise<void> {
    await this.change(before => ({
      ...before,
      runs: before.runs.map((run, index) =>
        run.kind === "attempt" && index === before.runs.length - 1 ? { ...run, by_itself_since } : run,
      ),
    }));
  }

  /** What the server says of a run of this chair. */
  async heard(view: Wire<"AttemptView"> | Wire<"ScreeningView">): Promise<void> {
    await this.change(before => ({ ...before, runs: before.runs.map(run => answered(run, view)) }));
  }

  /** A person read why the server refused this: what waits behind it goes with it, and the server's state holds. */
  async giveWay(entry: Entry): Promise<void> {
    const behind = this.box.lane(entry.lane).filter(other => (other.at ?? 0) >= (entry.at ?? 0));
    // From the end, so that nothing that stands behind the refused one is sent in between.
    for (const other of behind.reverse()) await this.box.drop(other);
    const dropped = new Set(behind.filter(other => !other.path.endsWith("/events")).map(idOf));
    await this.change(before => {
      const runs = before.runs.filter(run => !dropped.has(run.id));
      return { ...before, runs: runs.map(run => (run.id === runOf(entry) ? asAnswered(run) : run)) };
    });
  }

  /** The opening of a run was refused because others have the person by now: it is told as what it was. */
  async tellAfterwards(entry: Entry): Promise<void> {
    await this.box.amend(entry, { ...(entry.body as object), afterwards: true });
  }

  /** Asks again how the last run stands: it may have been sent by an earlier page. */
  async refresh(): Promise<void> {
    const run = this.current.value?.runs.at(-1);
    if (!run || this.box.lane(lane(this.must())).length > 0) return;
    const read = await readRun(run.kind === "attempt" ? run.id : "", run.kind === "attempt" ? "" : run.id);
    if (read?.answer) await this.heard(read.answer);
  }

  /** Whether the server does not hear of it at once. */
  private alone(one: Case): boolean {
    return unreachableSince.value !== null || this.box.lane(lane(one)).length > 0;
  }

  private must(): Case {
    const one = this.current.value;
    if (!one) throw new Error("nobody is in the chair");
    return one;
  }

  private async put(one: Case, path: string, body: object): Promise<void> {
    try {
      await this.box.put({ lane: lane(one), what: "test", path, body });
      this.unkept.value = false;
    } catch (error) {
      // Where nothing can be kept, nothing may look recorded.
      if (asProblem(error).code !== "not_signed_in") this.unkept.value = true;
      throw error;
    }
  }

  private async append(run: Run): Promise<void> {
    await this.change(before => ({ ...before, runs: [...before.runs, run] }));
  }

  private async change(make: (before: Case) => Case): Promise<void> {
    const before = this.current.value;
    if (before) await this.set(make(before));
  }

  private async set(next: Case): Promise<void> {
    this.current.value = next;
    // The outbox has what matters; a full disk must not stop a test that is under way.
    await keep(this.key, next).catch(() => undefined);
  }

  private delivered({ entry, answer }: Delivered): void {
    const one = this.current.value;
    if (!one || entry.lane !== lane(one) || typeof answer !== "object" || answer === null) return;
    void this.heard(answer as Wire<"AttemptView"> | Wire<"ScreeningView">);
  }
}

/** A run as the server has it. */
async function readRun(attempt_id: string, screening_id: string): Promise<Run | null> {
  if (attempt_id) {
    const answer = await need(api.GET("/api/v1/attempts/{attempt_id}", { params: { path: { attempt_id } } }));
    const { id, method, respirator_id, plan, events } = answer;
    return { kind: "attempt", id, method, respirator_id, plan, events, answer };
  }
  if (!screening_id) return null;
  const params = { path: { screening_id } };
  const answer = await need(api.GET("/api/v1/screenings/{screening_id}", { params }));
  return { kind: "screening", id: answer.id, agent: answer.agent, events: answer.events, answer };
}

/** Everything about one visit goes in one order: an attempt stands on its screening. */
export const LANE = "visit:";
export const lane = (one: Case): string => `${LANE}${one.visit_id}`;

const pathOf = (run: Run): string => `${run.kind === "attempt" ? ATTEMPTS : SCREENINGS}/${run.id}`;
const idOf = (entry: Entry): string => String((entry.body as { id?: string }).id);
/** The run that an entry opens or adds to. */
const runOf = (entry: Entry): string =>
  entry.path.endsWith("/events") ? (entry.path.split("/").at(-2) ?? "") : idOf(entry);

/** A kept case with what still waits in the outbox: a page may have ended between the two. */
function withWaiting(one: Case, waiting: readonly Entry[]): Case {
  const runs = one.runs.map(run => {
    const own = waiting.filter(entry => entry.path.endsWith("/events") && runOf(entry) === run.id);
    return own.reduce((so_far, entry) => added(so_far, run.id, (entry.body as { events: [] }).events), run);
  });
  return { ...one, runs };
}

/** The run that has not ended as far as this device knows. */
export function openRun(one: Case): Run | undefined {
  const run = one.runs.at(-1);
  return run && !verdictOf(run) ? run : undefined;
}

/** How the run ended, as the server worked it out; nothing while it has not, or does not know of the end yet. */
export const verdictOf = (run: Run) => run.answer?.state.verdict ?? undefined;
