// The answer of a gate alone: a function of what was read, the pack and the moment. The order of the questions is that of
// api-spec/gate-pack.md, "Answer"; the first that applies counts.
import type { Wire } from "../api/client";
import { type BadgeClaims, genuine } from "../badge/code";
import { TokenRefused } from "../badge/jws";
import type { Read } from "../badge/read";
import { parseSerial } from "../badge/serial";
import { endOfDay } from "./moments";
import type { Clearance, Pack, Stored } from "./pack";
import type { Policy } from "./policy";

export type Word = Wire<"Answer">;

/** What the guard is asked to do. Reasons that must not be told apart share one. */
export type Instruction =
  | "enter"
  | "none_needed"
  | "not_cleared"
  | "held"
  | "too_old"
  | "clock"
  | "no_policy"
  | "unreadable"
  | "not_ours"
  | "over";

export const WORD_OF: Record<Instruction, Word> = {
  enter: "enter",
  none_needed: "enter",
  not_cleared: "not_cleared",
  held: "cannot_confirm",
  too_old: "cannot_confirm",
  clock: "cannot_confirm",
  no_policy: "cannot_confirm",
  unreadable: "not_valid",
  not_ours: "not_valid",
  over: "not_valid",
};

/** When the question is asked, as far as the gate can tell. */
export interface Moment {
  /** The gate's clock, in microseconds since 1970. */
  at: number;
  /** When the pack was last known to be current, in seconds since 1970. */
  knownAt: number;
  clockTrusted: boolean;
}

export interface Told {
  word: Word;
  instruction: Instruction;
  /** The respirator the person may go in with, in words. */
  respirator: string | undefined;
  /** The serial, when a badge was recognised. */
  serial: string | undefined;
  /** What the site wrote down for "cannot confirm". */
  fallback: string | undefined;
}

/** How much earlier than the pack a badge may have been issued and yet be missing in it, in seconds. */
const BEING_STORED = 60;

/** A badge and what is known of it. */
interface Known extends Stored {
  serial: string;
  clearances: (respirators: readonly string[]) => Promise<Clearance[]>;
}

/** How old the knowledge is, in seconds; nothing where the clock shows a time before it. */
export const ageSeconds = ({ at, knownAt }: Pick<Moment, "at" | "knownAt">): number =>
  Math.max(0, Math.trunc((at - knownAt * 1_000_000) / 1_000_000));

export async function answer(pack: Pack, read: Read, moment: Moment): Promise<Told> {
  const policy = pack.policy(moment.at);
  const known = await find(pack, read, moment);
  const [instruction, respirator] =
    typeof known === "string" ? [known] : await verdict(known, policy, moment);
  const word = WORD_OF[instruction];
  return {
    word,
    instruction,
    respirator: respirator && pack.nameOf(respirator),
    serial: typeof known === "string" ? undefined : known.serial,
    fallback: word === "cannot_confirm" && policy?.fallback ? policy.fallback : undefined,
  };
}

async function verdict(
  known: Known,
  policy: Policy | undefined,
  moment: Moment,
): Promise<[Instruction, respirator?: string]> {
  if (known.standing === "ended") return ["over"];
  // What is no badge of ours, or was ended, is known without a clock; nothing else is.
  if (!moment.clockTrusted) return ["clock"];
  if (known.end <= moment.at) return ["over"];
  if (!policy) return ["no_policy"];
  if (ageSeconds(moment) > policy.ageMaxSeconds) return ["too_old"];
  if (policy.noneNeeded) return ["none_needed"];
  if (known.standing === "held" || known.unclaimedFrom <= moment.at) return ["held"];
  const clearances = await known.clearances(policy.accepted);
  const inDate = clearances.filter(({ from, until }) => from <= moment.at && moment.at < until);
  // In the order of the policy, so that the preferred respirator is the one named.
  const cleared = inDate.find(one => one.state === "cleared");
  if (cleared) return ["enter", cleared.respirator];
  return inDate.length > 0 ? ["held"] : ["not_cleared"];
}

async function find(pack: Pack, read: Read, moment: Moment): Promise<Known | Instruction> {
  if (read.how === "serial") {
    const serial = parseSerial(read.text);
    if (serial === null) return "unreadable";
    const place = await pack.placeOf(serial);
    return place === undefined ? "not_ours" : stored(pack, place, serial);
  }
  let claims: BadgeClaims;
  try {
    claims = await genuine(pack.ring, read.text);
  } catch (error) {
    if (!(error instanceof TokenRefused)) throw error;
    return error.why === "malformed" ? "unreadable" : "not_ours";
  }
  if (claims.sti < pack.badges) {
    const isThere = await pack.isAt(claims.sti, claims.jti);
    return isThere ? stored(pack, claims.sti, claims.jti) : "not_ours";
  }
  return claims.iat + BEING_STORED >= moment.knownAt ? newer(pack, claims) : "not_ours";
}

async function stored(pack: Pack, place: number, serial: string): Promise<Known> {
  const clearances = (respirators: readonly string[]) => pack.clearances(place, respirators);
  return { ...(await pack.stored(place)), serial, clearances };
}

/** A badge that is younger than the pack: what it says itself is signed, and is the newest knowledge there is. */
function newer(pack: Pack, claims: BadgeClaims): Known {
  const printed = claims.rsp.flatMap(([code, lastDay]): Clearance[] => {
    const number = /^[+-]?\d+$/.test(code) ? Number(code) : NaN;
    const respirator = pack.respirators.find(one => one.number === number)?.respirator;
    const [from, until] = [claims.iat * 1_000_000, endOfDay(lastDay, pack.zone)];
    return respirator ? [{ respirator, state: "cleared", from, until }] : [];
  });
  const clearances = (respirators: readonly string[]) =>
    Promise.resolve(respirators.flatMap(id => printed.filter(one => one.respirator === id)));
  const unclaimedFrom = pack.unclaimedFrom(claims.iat);
  return { serial: claims.jti, standing: "counts", end: claims.exp * 1_000_000, unclaimedFrom, clearances };
}
