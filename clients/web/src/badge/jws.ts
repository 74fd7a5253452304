// Compact JWS (RFC 7515) as Sellion signs: ES256 and nothing else, under a header of known members, verified by the
// browser's own cryptography. api-spec/badge-format.md says the same in words.
import { decode, encode } from "./base64url";

/** Public keys by their id. */
export type Ring = ReadonlyMap<string, CryptoKey>;

/** Why a token is not believed. `malformed`: not of this kind at all. */
export type Refused = "malformed" | "not_ours";

export class TokenRefused extends Error {
  override readonly name = "TokenRefused";

  constructor(
    readonly why: Refused,
    /** Named by the header, but not in the ring: the set may have grown since. */
    readonly unknownKey = false,
  ) {
    super(unknownKey ? "unknown key" : why);
  }
}

const ES256 = { name: "ECDSA", namedCurve: "P-256", hash: "SHA-256" };
/** Characters of the thumbprint that make a key's id. */
const KID_LENGTH = 8;

/** The keys of a JWK Set (RFC 7517). A key whose id does not follow from it makes the whole set worthless. */
export async function ringOf(jwks: unknown): Promise<Ring> {
  const { keys } = jwks as { keys: { kid: string; x: string; y: string }[] };
  const ring = new Map<string, CryptoKey>();
  for (const { kid, x, y } of keys) {
    if ((await thumbprint(x, y)).slice(0, KID_LENGTH) !== kid) throw new TokenRefused("malformed");
    const jwk = { kty: "EC", crv: "P-256", x, y };
    ring.set(kid, await crypto.subtle.importKey("jwk", jwk, ES256, false, ["verify"]));
  }
  return ring;
}

/** RFC 7638 section 3: the digest of the needed members in the order of their names. */
async function thumbprint(x: string, y: string): Promise<string> {
  const members = new TextEncoder().encode(JSON.stringify({ crv: "P-256", kty: "EC", x, y }));
  return encode(new Uint8Array(await crypto.subtle.digest("SHA-256", members)));
}

/** The payload of a token of the kind `typ` that a key of the ring signed. A badge has no `typ`. */
export async function open(ring: Ring, typ: string | undefined, token: string): Promise<string> {
  const texts = token.split(".");
  const [header, payload, signature] = texts.map(decode);
  if (texts.length !== 3 || !header?.length || !payload?.length || !signature?.length)
    throw new TokenRefused("malformed");
  const key = ring.get(kidOf(header, typ));
  if (!key) throw new TokenRefused("not_ours", true);
  const message = new TextEncoder().encode(token.slice(0, token.lastIndexOf(".")));
  const holds = await crypto.subtle.verify(ES256, key, signature, message);
  if (!holds) throw new TokenRefused("not_ours");
  return textOf(payload);
}

/** The header never chooses the algorithm, and a member that is not known, or named twice, is refused. */
function kidOf(header: Uint8Array, typ: string | undefined): string {
  const read = exactly(textOf(header));
  if (typeof read["alg"] !== "string") throw new TokenRefused("malformed");
  if (read["alg"] !== "ES256") throw new TokenRefused("not_ours");
  const known = new Set(["alg", "kid", "typ"]);
  const foreign = Object.keys(read).some(member => !known.has(member));
  if (foreign || typeof read["kid"] !== "string" || read["typ"] !== typ) throw new TokenRefused("malformed");
  return read["kid"];
}

function textOf(bytes: Uint8Array): string {
  try {
    return new TextDecoder("utf-8", { fatal: true, ignoreBOM: true }).decode(bytes);
  } catch {
    throw new TokenRefused("malformed");
  }
}

/** An object of JSON in which no member is named twice. */
export function exactly(text: string): Record<string, unknown> {
  let value: unknown;
  try {
    value = JSON.parse(text);
  } catch {
    throw new TokenRefused("malformed");
  }
  const isObject = typeof value === "object" && value !== null && !Array.isArray(value);
  // Outside of texts, a colon stands after the name of a member and nowhere else.
  const named = withoutTexts(text).split(":").length - 1;
  if (!isObject || named !== members(value)) throw new TokenRefused("malformed");
  return value as Record<string, unknown>;
}

/** JSON without the texts in it. */
export const withoutTexts = (json: string): string => json.replace(/"(?:[^"\\]|\\.)*"/g, "");

function members(value: unknown): number {
  if (typeof value !== "object" || value === null) return 0;
  const inside = Object.values(value).reduce<number>((sum, one) => sum + members(one), 0);
  return (Array.isArray(value) ? 0 : Object.keys(value).length) + inside;
}
