// The pack that a gate holds: kept signed, believed only with a signature that is right, and never replaced by an older
// one.
import { need, api } from "../../api/client";
import { Problem, problemOf } from "../../api/problem";
import { reach } from "../../api/reach";
import { type Ring, ringOf, TokenRefused } from "../../badge/jws";
import { Pack } from "../../pack/pack";
import type { Keep } from "./keep";

/** A genuine pack and when it was last known to be current, in seconds since 1970 by the server's clock. */
export interface Held {
  pack: Pack;
  knownAt: number;
  trusted: unknown;
  text: string;
}

/** What came of asking for a pack. */
export interface Fetched {
  held: Held;
  /** When the answer was sent by the server's clock, to the second, and when it was asked and answered by ours. */
  date: string | null;
  askedAt: number;
  answeredAt: number;
}

/** A pack that was sent and is not to be taken: the one held stays. */
export class NotTaken extends Error {
  override readonly name = "NotTaken";
}

const CURRENT = "sellion-pack-current";

/** The pack that was kept; nothing before the first. */
export async function load(keep: Keep): Promise<Held | undefined> {
  const kept = await keep.pack();
  if (!kept) return undefined;
  const { trusted, text, current } = kept;
  const pack = await Pack.open(await ringOf(trusted), text);
  return { pack, knownAt: await pack.current(current), trusted, text };
}

/** Asks for the pack, or for the server's word that the one held is current, and keeps what came. */
export async function fetchPack(keep: Keep, before: Held | undefined): Promise<Fetched> {
  const headers = before ? { "if-none-match": `"${before.pack.content}"` } : undefined;
  const askedAt = Date.now();
  const response = await reach(new Request("/api/v1/gate_pack", { headers, cache: "no-store" }));
  const answeredAt = Date.now();
  const current = response.headers.get(CURRENT);
  if (response.status !== 304 && !response.ok) {
    throw problemOf(await response.json().catch(() => undefined), response.status);
  }
  // A proxy that answers in the place of the server has nothing signed.
  if (!current) throw new Problem("unreachable", "no word that the pack is current", response.status);
  const held =
    response.status === 304
      ? await still(before, current)
      : await take(before, await response.text(), current);
  await keep.keepPack({ trusted: held.trusted, text: held.text, current });
  return { held, date: response.headers.get("date"), askedAt, answeredAt };
}

async function still(before: Held | undefined, current: string): Promise<Held> {
  if (!before) throw new NotTaken("the server speaks of a pack that this gate does not hold");
  const knownAt = await before.pack.current(current);
  if (knownAt < before.knownAt) throw new NotTaken("an older word than the one held");
  return { ...before, knownAt };
}

/** A key that is not known may be one that was made since: the server publishes them. */
async function take(before: Held | undefined, text: string, current: string): Promise<Held> {
  if (before) {
    try {
      return await taken(before, before.pack.ring, before.pack.keys, text, current);
    } catch (error) {
      if (!(error instanceof TokenRefused && error.unknownKey)) throw error;
    }
  }
  const published = await need(api.GET("/.well-known/jwks.json"));
  return taken(before, await ringOf(published), published, text, current);
}

async function taken(
  before: Held | undefined,
  ring: Ring,
  trusted: unknown,
  text: string,
  current: string,
): Promise<Held> {
  const pack = await Pack.open(ring, text);
  const knownAt = await pack.current(current);
  if (before && before.pack.gate !== pack.gate) throw new NotTaken("a pack of another gate");
  if (before && knownAt < before.knownAt) throw new NotTaken("an older pack than the one held");
  return { pack, knownAt, trusted, text };
}
