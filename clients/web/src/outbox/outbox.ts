// Sends what waits, lane by lane and in order, until the server has taken or refused it.
import { computed, type ReadonlySignal, signal } from "@preact/signals";
import { Problem } from "../api/problem";
import type { Body, Entry, Store } from "./store";

export interface NewEntry {
  lane: string;
  what: string;
  path: string;
  /** What is sent. A function makes the lane a numbered one: it is given 1, 2, 3, ... in the order of the calls. */
  body: Body;
  /** Kept beside the body for whoever looks at it once more before it is sent: see `beforeSending`. */
  aside?: unknown;
}

/** Makes the body anew before it is first sent; throws a `Problem` that passes where it cannot be told yet. */
export type Remake = (entry: Entry) => Promise<object>;

export interface Delivered {
  entry: Entry;
  answer: unknown;
}

/** What the outbox needs of the world; tests give their own. */
export interface Surroundings {
  /** Sends one request; throws a `Problem` for anything but a success. */
  send: (path: string, body: unknown) => Promise<unknown>;
  /** Who is signed in, to sign what is put in and to send only their own. */
  who: () => { id: string; name: string } | null;
  /** Only one page of the browser sends at a time. */
  alone: (work: () => Promise<void>) => Promise<void>;
  /** Tells other pages of this browser that something changed. */
  tellOthers?: () => void;
}

/** The waits between tries; the last one is repeated. */
const WAITS_MS = [1_000, 2_000, 5_000, 10_000, 20_000, 30_000] as const;

export class Outbox {
  /** Everything that was not taken yet, in order. */
  readonly entries = signal<readonly Entry[]>([]);
  /** How many wait to be sent. */
  readonly waiting: ReadonlySignal<number> = computed(
    () => this.entries.value.filter(one => !one.refused).length,
  );
  /** What the server refused: a person has to look at it. */
  readonly refused: ReadonlySignal<readonly Entry[]> = computed(() =>
    this.entries.value.filter(one => one.refused),
  );

  private readonly listeners = new Set<(delivered: Delivered) => void>();
  private readonly remakes = new Map<string, Remake>();
  private timer: ReturnType<typeof setTimeout> | undefined;
  private failures = 0;
  private wanted = false;
  private stopped = false;
  private running: Promise<void> | null = null;

  constructor(
    private readonly store: Store,
    private readonly world: Surroundings,
  ) {}

  /** Reads what an earlier page left, and begins to send. */
  async start(): Promise<void> {
    await this.refresh();
    void this.deliver();
  }

  /** Puts a request in. It is kept once this returns, whatever happens to the page or the network then. */
  async put({ body, ...entry }: NewEntry): Promise<Entry> {
    const who = this.world.who();
    if (!who) throw new Problem("not_signed_in", "Nobody is signed in.", 401);
    const signed = {
      ...entry,
      user_id: who.id,
      user_name: who.name,
      put_at: Date.now(),
      tries: 0,
      refused: null,
    };
    const kept = await this.store.put(signed, body);
    await this.refresh();
    this.world.tellOthers?.();
    void this.deliver();
    return kept;
  }

  /** Sets the next number of a lane, from what the server has of it. */
  async continueAt(lane: string, next: number): Promise<void> {
    await this.store.number(lane, next);
  }

  /** Tells of every request that was taken, with the server's answer. Returns how to stop. */
  onDelivered(listener: (delivered: Delivered) => void): () => void {
    this.listeners.add(listener);
    return () => this.listeners.delete(listener);
  }

  /**
   * Looks at requests of a kind that keep something aside once more, just before each is first sent; what is made then is
   * kept, so that every try sends the same. Returns how to stop.
   */
  beforeSending(what: string, remake: Remake): () => void {
    this.remakes.set(what, remake);
    return () => this.remakes.delete(what);
  }

  /** What waits or was refused in one lane. */
  lane(lane: string): readonly Entry[] {
    return this.entries.value.filter(one => one.lane === lane);
  }

  /** A person decided that a refused request, and what stands behind it in its lane, is not to be sent. */
  async drop(entry: Entry): Promise<void> {
    if (entry.at !== undefined) await this.store.remove(entry.at);
    await this.refresh();
    void this.deliver();
  }

  /** Sends a refused request again: the reason may be gone. */
  async again(entry: Entry): Promise<void> {
    if (entry.at !== undefined) await this.store.change(entry.at, { refused: null });
    await this.refresh();
    void this.deliver();
  }

  /** Sends a refused request again in other words: a person said what was not known when it was put in. */
  async amend(entry: Entry, body: object): Promise<void> {
    if (entry.at !== undefined) await this.store.change(entry.at, { body, refused: null });
    await this.refresh();
    void this.deliver();
  }

  /** Work that is nobody's own, such as a gate's scans, goes on under the device that stands there now. */
  async inherit(which: (entry: Entry) => boolean): Promise<void> {
    const user_id = this.world.who()?.id;
    if (!user_id) return;
    for (const entry of await this.store.all()) {
      const left = entry.at !== undefined && entry.user_id !== user_id && which(entry);
      if (left) await this.store.change(entry.at as number, { user_id });
    }
    await this.refresh();
    void this.deliver();
  }

  /** Ends sending, and returns when nothing is under way any more. What waits stays kept. */
  async stop(): Promise<void> {
    this.stopped = true;
    clearTimeout(this.timer);
    await this.running;
  }

  /** Sends now instead of after the wait: the network is back, or somebody signed in. */
  async deliver(): Promise<void> {
    if (this.stopped) return;
    clearTimeout(this.timer);
    this.wanted = true;
    this.running ??= this.world
      .alone(() => this.whileWanted())
      .finally(() => {
        this.running = null;
        // What was put in while the last round was ending.
        if (this.wanted) void this.deliver();
      });
    await this.running;
  }

  /** Reads again what is kept: another page of this browser may have sent or added. */
  async refresh(): Promise<void> {
    this.entries.value = await this.store.all();
  }

  private async whileWanted(): Promise<void> {
    while (this.wanted && !this.stopped) {
      this.wanted = false;
      await this.deliverAll();
    }
  }

  /** One entry after another, until nothing can be sent now. */
  private async deliverAll(): Promise<void> {
    for (;;) {
      const next = sendable(await this.store.all(), this.world.who()?.id);
      if (!next) break;
      if (!(await this.deliverOne(next))) return this.later();
      if (this.stopped) return;
    }
    this.failures = 0;
  }

  /** Whether delivery goes on at once: not after a failure that passes by itself. */
  private async deliverOne(entry: Entry & { at: number }): Promise<boolean> {
    try {
      const answer = await this.world.send(entry.path, await this.bodyOf(entry));
      await this.store.remove(entry.at);
      await this.refresh();
      this.failures = 0;
      this.world.tellOthers?.();
      for (const tell of this.listeners) tell({ entry, answer });
      return true;
    } catch (error) {
      const problem = error instanceof Problem ? error : new Problem("internal", String(error), 0);
      if (problem.passes || problem.status === 401) {
        await this.store.change(entry.at, { tries: entry.tries + 1 });
        await this.refresh();
        return false;
      }
      const { code, detail, status, facts } = problem;
      await this.store.change(entry.at, { tries: entry.tries + 1, refused: { code, detail, status, facts } });
      await this.refresh();
      this.world.tellOthers?.();
      return true;
    }
  }

  private async bodyOf(entry: Entry & { at: number }): Promise<unknown> {
    const remake = this.remakes.get(entry.what);
    if (!remake || entry.aside === undefined || entry.aside === null) return entry.body;
    const body = await remake(entry);
    await this.store.change(entry.at, { body, aside: null });
    return body;
  }

  private later(): void {
    if (this.stopped) return;
    const wait = WAITS_MS[Math.min(this.failures, WAITS_MS.length - 1)];
    this.failures += 1;
    this.timer = setTimeout(() => void this.deliver(), wait);
  }
}

/** The first entry that may go now: the first of its lane, its user's own, and not behind a refusal. */
export function sendable(
  entries: readonly Entry[],
  user: string | undefined,
): (Entry & { at: number }) | undefined {
  const closed = new Set<string>();
  for (const entry of entries) {
    if (closed.has(entry.lane)) continue;
    closed.add(entry.lane);
    if (entry.refused || entry.user_id !== user || entry.at === undefined) continue;
    return entry as Entry & { at: number };
  }
  return undefined;
}
