// The gate pack: one signed document from which one gate answers without the server. Read as api-spec/gate-pack.md
// describes it; the answers are those of server/badge/src/pack, and a table of its cases is run through this as well.
import { open, type Ring, ringOf } from "../badge/jws";
import { serialNumber } from "../badge/serial";
import { type Column, deflated, numberAt, PackUnreadable, plain } from "./columns";
import { comesTo, inForce, type Listed, type Policy, type PolicyVersion } from "./policy";

const PACK = "sellion-gate-pack+jwt";
const CURRENT = "sellion-gate-pack-current+jwt";
const SERIAL = 6;
const END = 4;
const DAY = 86_400;
const BADGES_MAX = 4_000_000;
const RESPIRATORS_MAX = 1_000;

type Span = [state: "cleared" | "held", from: number | null, until: number];

interface Claims {
  sub: string;
  iat: number;
  content: string;
  gate: string;
  zone: string;
  jwks: unknown;
  policies: PolicyVersion[];
  respirators: Listed[];
  badges: { count: number; serials: string; ends: string; standings: string; unclaimed?: string };
  unclaimed_after_days?: number | null;
  spans: Span[];
  clearances: string[];
  span_bytes: number;
}

/** What a pack says of one badge. */
export interface Stored {
  standing: "counts" | "ended" | "held";
  /** The first moment at which it no longer holds, in microseconds. */
  end: number;
  /** From when on it opens no gate because nobody handed it over; later than all times where it always does. */
  unclaimedFrom: number;
}

/** What is known of a clearance: its state, and the moments between which it stands, in microseconds. */
export interface Clearance {
  respirator: string;
  state: "cleared" | "held";
  from: number;
  until: number;
}

/** A genuine pack. */
export class Pack {
  private readonly serials: Column;
  private readonly ends: Column;
  private readonly standings: Column;
  private readonly unclaimed: Column | undefined;
  private readonly columns: Column[];

  private constructor(
    private readonly claims: Claims,
    /** The keys it trusts from here on. */
    readonly ring: Ring,
  ) {
    const { badges, clearances, span_bytes } = claims;
    this.serials = plain(badges.serials, badges.count * SERIAL);
    this.ends = deflated(badges.ends, badges.count * END);
    this.standings = deflated(badges.standings, Math.ceil(badges.count / 4));
    this.unclaimed =
      badges.unclaimed === undefined ? undefined : deflated(badges.unclaimed, badges.count * END);
    this.columns = clearances.map(text => deflated(text, badges.count * span_bytes));
  }

  /** Opens a pack whose signature a key of `ring` made. */
  static async open(ring: Ring, text: string): Promise<Pack> {
    const claims = JSON.parse(await open(ring, PACK, text)) as Claims;
    if (!isBounded(claims)) throw new PackUnreadable("columns");
    return new Pack(claims, await ringOf(claims.jwks));
  }

  /**
   * The moment, in seconds since 1970, at which the server says that this pack was current. The word may be signed by a
   * key that only the pack names.
   */
  async current(text: string): Promise<number> {
    const word = JSON.parse(await open(this.ring, CURRENT, text)) as {
      sub: string;
      content: string;
      iat: number;
    };
    const mine = word.sub === this.gate && word.content === this.content;
    if (!mine || !Number.isSafeInteger(word.iat)) throw new PackUnreadable("the word for another pack");
    return word.iat;
  }

  get gate(): string {
    return this.claims.sub;
  }

  get gateName(): string {
    return this.claims.gate;
  }

  get content(): string {
    return this.claims.content;
  }

  /** The keys as it names them. */
  get keys(): unknown {
    return this.claims.jwks;
  }

  get zone(): string {
    return this.claims.zone;
  }

  get badges(): number {
    return this.claims.badges.count;
  }

  get policies(): readonly PolicyVersion[] {
    return this.claims.policies;
  }

  get respirators(): readonly Listed[] {
    return this.claims.respirators;
  }

  /** What the policy in force comes to at a moment, in microseconds. */
  policy(at: number): Policy | undefined {
    const version = inForce(this.policies, at);
    return version && comesTo(version, this.respirators, at);
  }

  /** The words for a respirator. */
  nameOf(respirator: string): string | undefined {
    return this.respirators.find(one => one.respirator === respirator)?.name;
  }

  /** The place of a serial. Read from end to end: it is asked for serials that are typed by hand. */
  async placeOf(serial: string): Promise<number | undefined> {
    const [wanted, serials] = [serialNumber(serial), await this.serials()];
    for (let place = 0; place < this.badges; place++) {
      if (numberAt(serials, place, SERIAL) === wanted) return place;
    }
    return undefined;
  }

  async isAt(place: number, serial: string): Promise<boolean> {
    return numberAt(await this.serials(), place, SERIAL) === serialNumber(serial);
  }

  async stored(place: number): Promise<Stored> {
    const four = (await this.standings())[place >> 2] ?? 0x55;
    const standing = (["counts", "ended", "held"] as const)[(four >> ((place & 3) * 2)) & 3];
    if (!standing) throw new PackUnreadable("the standing of a badge");
    const end = numberAt(await this.ends(), place, END) * 1_000_000;
    const from = this.unclaimed ? numberAt(await this.unclaimed(), place, END) : 0;
    return { standing, end, unclaimedFrom: from === 0 ? Infinity : from * 1_000_000 };
  }

  /** From when on a badge that is younger than the pack, issued at a second, opens no gate. */
  unclaimedFrom(issued: number): number {
    const days = this.claims.unclaimed_after_days;
    return days === undefined || days === null ? Infinity : (issued + days * DAY) * 1_000_000;
  }

  /** How the clearances of a badge stand for some respirators. */
  async clearances(place: number, respirators: readonly string[]): Promise<Clearance[]> {
    const found: Clearance[] = [];
    for (const respirator of respirators) {
      const column = this.columns[this.respirators.findIndex(one => one.respirator === respirator)];
      if (!column) throw new PackUnreadable("a respirator");
      const number = numberAt(await column(), place, this.claims.span_bytes);
      if (number === 0) continue;
      const span = this.claims.spans[number - 1];
      if (!span) throw new PackUnreadable("a span");
      const [state, from, until] = span;
      found.push({ respirator, state, from: from ?? -Infinity, until });
    }
    return found;
  }
}

function isBounded({ badges, respirators, clearances, span_bytes, zone }: Claims): boolean {
  try {
    new Intl.DateTimeFormat("en", { timeZone: zone });
  } catch {
    return false;
  }
  return (
    badges.count <= BADGES_MAX &&
    respirators.length <= RESPIRATORS_MAX &&
    clearances.length === respirators.length &&
    (span_bytes === 2 || span_bytes === 4)
  );
}
