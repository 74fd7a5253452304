// What a gate knows and how it stays young: the pack is kept, asked for again and again, and compared with the clock.
import { computed, signal } from "@preact/signals";
import { asProblem } from "../../api/problem";
import { unreachableSince } from "../../api/reach";
import { TokenRefused } from "../../badge/jws";
import { PackUnreadable } from "../../pack/columns";
import {
  type Doubt,
  doubtOf,
  look,
  type Mark,
  metServer,
  confirmed,
  type Reading,
  readClocks,
  since,
} from "./clock";
import { fetchPack, type Fetched, type Held, load, NotTaken } from "./held";
import type { Keep } from "./keep";

/** How often a gate asks whether what it knows still holds, while the server answers. */
const REFRESH_MS = 20_000;
/** Where knowledge counts for a short time only, it is asked for so many times within it. */
const TIMES_WITHIN = 3;
/** The waits between tries while it does not; the last one is repeated. */
const WAITS_MS = [1_000, 2_000, 5_000, 10_000, 15_000] as const;
/** How far the steady counter may run before the clock's mark is kept again. */
const MARK_EVERY_MS = 30_000;

export class Link {
  readonly held = signal<Held | undefined>(undefined);
  /** What came between the gate and a pack, beyond a network that is away. */
  readonly trouble = signal<"none" | "unreadable" | "refused" | "no_gate">("none");
  readonly doubt = signal<Doubt | null>(null);
  /** The gate's id, once it is known. */
  readonly gate = computed(() => this.held.value?.pack.gate);
  readonly knownAt = computed(() => this.held.value?.knownAt ?? null);

  private mark: Mark | null = null;
  private keptAt: Reading | undefined;
  /** How far this device's clock is ahead of the server's, in milliseconds, where that was measured since the start. */
  private ahead: number | undefined;
  private timer: ReturnType<typeof setTimeout> | undefined;
  private failures = 0;
  private stopped = false;
  private stopWatching: () => void = () => undefined;

  private constructor(private readonly keep: Keep) {}

  /** What was kept, at once; the server is asked meanwhile. */
  static async open(keep: Keep): Promise<Link> {
    const link = new Link(keep);
    link.mark = await keep.mark();
    try {
      link.held.value = await load(keep);
    } catch (error) {
      // Another pack comes as soon as the server answers.
      console.info("the pack that was kept is not believed:", error);
      link.trouble.value = "unreadable";
    }
    link.lookAtClock();
    link.stopWatching = link.whenBack();
    void link.refresh();
    return link;
  }

  close(): void {
    this.stopped = true;
    clearTimeout(this.timer);
    this.stopWatching();
  }

  /** Looks at the clock. What is remembered is kept when it tells something new, or after a while. */
  lookAtClock(): Mark {
    const before = this.mark;
    const mark = look(before, readClocks());
    const recent = this.keptAt && since(mark.reading, this.keptAt);
    if (recent === undefined || recent > MARK_EVERY_MS || mark.doubt !== before?.doubt) this.remember(mark);
    this.mark = mark;
    this.doubt.value = doubtOf(mark, this.knownAt.value);
    return mark;
  }

  /** A person looked at a clock. */
  confirmClock(): void {
    this.remember(confirmed(this.lookAtClock()));
    this.lookAtClock();
  }

  /** How far this device's clock is ahead of the server's, where it is known. */
  clockAhead(): number | undefined {
    return this.ahead;
  }

  /** Meets the server now, for whoever has to know its clock; throws where it does not answer. */
  async meet(): Promise<void> {
    const fetched = await fetchPack(this.keep, this.held.value);
    this.take(fetched);
  }

  /** Asks for the pack, and again after a while. */
  async refresh(): Promise<void> {
    clearTimeout(this.timer);
    if (this.stopped) return;
    try {
      await this.meet();
      this.failures = 0;
      this.trouble.value = "none";
    } catch (error) {
      this.failures += 1;
      this.explain(error);
    }
    if (this.stopped) return;
    const wait = WAITS_MS[Math.min(this.failures, WAITS_MS.length) - 1] ?? this.refreshMs();
    clearTimeout(this.timer);
    this.timer = setTimeout(() => void this.refresh(), wait);
  }

  private take({ held, date, askedAt, answeredAt }: Fetched): void {
    this.held.value = held;
    this.remember(metServer(this.lookAtClock(), held.knownAt * 1000));
    this.lookAtClock();
    // The answer names the second that had begun: half a second is added for the middle of it.
    const told = Date.parse(date ?? "");
    if (!Number.isNaN(told)) this.ahead = Math.round((askedAt + answeredAt) / 2 - told - 500);
  }

  private refreshMs(): number {
    const limit = this.held.value?.pack.policy(Date.now() * 1000)?.ageMaxSeconds ?? Infinity;
    return Math.max(1_000, Math.min(REFRESH_MS, (limit * 1_000) / TIMES_WITHIN));
  }

  /** A full disk costs the memory, not the answer. */
  private remember(mark: Mark): void {
    this.mark = mark;
    this.keptAt = mark.reading;
    void this.keep.keepMark(mark).catch(() => undefined);
  }

  private explain(error: unknown): void {
    const notBelieved = [NotTaken, TokenRefused, PackUnreadable].some(kind => error instanceof kind);
    if (notBelieved) this.trouble.value = "refused";
    else if (asProblem(error).code === "not_found") this.trouble.value = "no_gate";
    if (notBelieved) console.info("the pack that was sent is not taken:", error);
  }

  /** The network is back: what is known is renewed at once. */
  private whenBack(): () => void {
    let away = unreachableSince.value !== null;
    return unreachableSince.subscribe(at => {
      const back = away && at === null;
      away = at !== null;
      if (back && this.failures > 0) void this.refresh();
    });
  }
}
