// One gate: its answer to one reading. The server is asked while it answers quickly; otherwise the gate answers alone,
// and what it said is kept before it is shown and reaches the server once.
import { signal } from "@preact/signals";
import { api, need, newId, nowText, type Wire } from "../../api/client";
import { asProblem, Problem } from "../../api/problem";
import { unreachableSince } from "../../api/reach";
import type { Read } from "../../badge/read";
import type { Entry } from "../../outbox";
import type { Outbox } from "../../outbox/outbox";
import { answer, type Instruction, type Word } from "../../pack/answer";
import { type Reading, workedOut } from "./clock";
import { understood } from "./instruction";
import type { Link } from "./link";

export type Reason = Wire<"LeadEntryReason">;

/** An answer, as it is shown. */
export interface Shown {
  /** The scan. */
  id: string;
  word: Word;
  instruction: Instruction | undefined;
  /** The server's own sentence, where it is none that is known here. */
  text: string;
  fallback: string | undefined;
  checkName: boolean;
  name: string | undefined;
  respirator: string | undefined;
  serial: string | undefined;
  typed: boolean;
  /** Whether the gate answered alone, and then how old its knowledge was, in milliseconds; null where there was none. */
  alone: boolean;
  ageMs: number | null;
  /** Whether what was said alone is safe on this device until the server has it. */
  kept: boolean;
}

/** Somebody was let in under a lead's name. */
export interface LetIn {
  lead: string;
  reason: Reason;
  at: number;
  kept: boolean;
}

/** A guard waits no longer than this for a server: then the gate answers alone. */
const PATIENCE_MS = 700;
const SCAN = "gate_scan";
const FIND = "badge_find";

export class Gate {
  readonly shown = signal<Shown | null>(null);
  readonly letIn = signal<LetIn | null>(null);
  readonly asking = signal(false);
  private latest = 0;
  /** What the server said last, perhaps after the gate had answered alone. */
  private heard: Shown | undefined;
  private readonly stops: (() => void)[];

  constructor(
    readonly link: Link,
    private readonly box: Outbox,
  ) {
    this.stops = [
      box.beforeSending(SCAN, entry => this.atTheRightMoment(entry)),
      link.gate.subscribe(gate => {
        if (gate) void box.inherit(entry => entry.path.startsWith(`/api/v1/gates/${gate}/`));
      }),
      box.refused.subscribe(refused =>
        refused.forEach(entry => {
          void this.underAnotherId(entry);
          void this.noneOfOurs(entry);
        }),
      ),
    ];
  }

  close(): void {
    for (const stop of this.stops) stop();
    this.link.close();
  }

  /** Nothing of the person before stays. */
  clear(): void {
    this.shown.value = null;
    this.letIn.value = null;
  }

  /** The answer to a reading. What is read meanwhile is the newer question, and the older answer is not shown. */
  async scan(read: Read): Promise<void> {
    const mine = ++this.latest;
    this.letIn.value = null;
    this.asking.value = true;
    const shown = await this.answered(read);
    if (mine !== this.latest) return;
    this.asking.value = false;
    this.shown.value = this.heard?.id === shown.id ? this.heard : shown;
  }

  /** Keeps an entry under a lead's name. Nothing is asked of anybody before. */
  async letInUnder(lead: string, reason: Reason): Promise<void> {
    const gate = this.link.gate.value;
    const id = newId();
    const scan_id = this.shown.value?.id;
    const entry = { at: Date.now(), lead, reason };
    this.letIn.value = { ...entry, kept: true };
    try {
      if (!gate) throw new Problem("not_found", "", 404);
      await this.box.put({
        lane: `lead:${id}`,
        what: "lead_entry",
        path: `/api/v1/gates/${gate}/lead_entries`,
        body: { id, lead, reason, happened_at: nowText(), ...(scan_id ? { scan_id } : {}) },
      });
    } catch {
      this.letIn.value = { ...entry, kept: false };
    }
  }

  /** Keeps that a badge was handed in. A server that answers quickly says at once where it is none of ours. */
  async keepFind(body: Wire<"NewBadgeFind">): Promise<void> {
    if (unreachableSince.value === null && (await this.foundTold(body))) return;
    await this.box.put({ lane: `find:${body.id}`, what: FIND, path: "/api/v1/badge_finds", body });
  }

  /** Whether the server took it; where it took longer than a guard waits, it is told again and keeps it once. */
  private async foundTold(body: Wire<"NewBadgeFind">): Promise<boolean> {
    const told = need(api.POST("/api/v1/badge_finds", { body })).then(
      () => true,
      (error: unknown) => {
        if (asProblem(error).passes || asProblem(error).status === 401) return false;
        throw error;
      },
    );
    return Promise.race([told, patience(false)]);
  }

  private async answered(read: Read): Promise<Shown> {
    const reading = this.link.lookAtClock().reading;
    const id = newId();
    return (await this.fromServer(id, read, reading)) ?? (await this.alone(id, read, reading));
  }

  /** The server's answer, where it comes quickly. */
  private async fromServer(id: string, read: Read, reading: Reading): Promise<Shown | undefined> {
    const gate_id = this.link.gate.value;
    if (!gate_id || unreachableSince.value !== null) return undefined;
    const really = workedOut(this.link.lookAtClock(), reading);
    const body = {
      id,
      [read.how]: read.text,
      happened_at: new Date(really ?? reading.wall).toISOString(),
      clock_ahead_ms: really === undefined ? this.link.clockAhead() : 0,
    };
    const asked = need(
      api.POST("/api/v1/gates/{gate_id}/scans", { params: { path: { gate_id } }, body }),
    ).then(
      told => this.hear(fromTold(told, read)),
      () => undefined,
    );
    return Promise.race([asked, patience(undefined)]);
  }

  /** An answer that comes late takes the place of the gate's own, as long as that stands there: it knows more. */
  private hear(told: Shown): Shown {
    this.heard = told;
    if (this.shown.value?.id === told.id) this.shown.value = told;
    return told;
  }

  private async alone(id: string, read: Read, reading: Reading): Promise<Shown> {
    const held = this.link.held.value;
    const shown: Shown = {
      id,
      word: "cannot_confirm",
      instruction: "too_old",
      text: "",
      fallback: undefined,
      checkName: false,
      name: undefined,
      respirator: undefined,
      serial: undefined,
      typed: read.how === "serial",
      alone: true,
      ageMs: null,
      kept: false,
    };
    if (!held) return shown;
    const { pack, knownAt } = held;
    shown.ageMs = Math.max(0, reading.wall - knownAt * 1000);
    try {
      const clockTrusted = this.link.doubt.value === null;
      Object.assign(shown, await answer(pack, read, { at: reading.wall * 1000, knownAt, clockTrusted }));
    } catch {
      this.link.trouble.value = "unreadable";
    }
    return { ...shown, kept: await this.keep(shown, pack.gate, knownAt, read, reading) };
  }

  /** Kept before it is shown; every scan in a lane of its own, so that none waits for another. */
  private async keep(
    shown: Shown,
    gate: string,
    knownAt: number,
    read: Read,
    reading: Reading,
  ): Promise<boolean> {
    const showed = new Date(reading.wall).toISOString();
    const known_at = new Date(knownAt * 1000).toISOString();
    const entry = {
      lane: `scan:${shown.id}`,
      what: SCAN,
      path: `/api/v1/gates/${gate}/scans`,
      body: {
        id: shown.id,
        [read.how]: read.text,
        happened_at: showed,
        given: { answer: shown.word, known_at, clock_showed: showed },
      },
      aside: reading,
    };
    return this.box.put(entry).then(
      () => true,
      () => false,
    );
  }

  /** When the badge was really read, once the server's clock was met; kept, so that every try sends the same. */
  private async atTheRightMoment({ body, aside }: Entry): Promise<object> {
    const reading = aside as Reading;
    if (this.link.lookAtClock().met?.reading.boot !== this.link.lookAtClock().reading.boot)
      await this.link.meet();
    const really = workedOut(this.link.lookAtClock(), reading);
    const happened_at = new Date(really ?? reading.wall).toISOString();
    return { ...(body as object), happened_at };
  }

  /**
   * The server had taken the question, its answer came too late, and the gate had said another word by then: what was
   * shown is kept too, as a reading of its own.
   */
  private async underAnotherId(entry: Entry): Promise<void> {
    const body = entry.body as { id: string };
    const first = entry.lane === `scan:${body.id}`;
    if (entry.what !== SCAN || entry.refused?.code !== "id_reused" || !first) return;
    await this.box.amend(entry, { ...body, id: newId() });
  }

  /** What was handed in is none of our badges after all: nobody at a gate can do more than hand it on. */
  private async noneOfOurs(entry: Entry): Promise<void> {
    if (entry.what === FIND && entry.refused?.code === "not_found") await this.box.drop(entry);
  }
}

/** What holds where the server has not answered for as long as a guard waits. */
const patience = <Otherwise>(otherwise: Otherwise): Promise<Otherwise> =>
  new Promise(over => setTimeout(() => over(otherwise), PATIENCE_MS));

function fromTold(told: Wire<"ScanAnswer">, read: Read): Shown {
  const { instruction, text, fallback } = understood(told.instruction);
  return {
    id: told.id,
    word: told.answer,
    instruction,
    text,
    fallback,
    checkName: told.check_name,
    name: told.name ?? undefined,
    respirator: told.respirator ?? undefined,
    serial: undefined,
    typed: read.how === "serial",
    alone: false,
    ageMs: 0,
    kept: true,
  };
}
