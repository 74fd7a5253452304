// The text in a badge's code, and what it says. Step by step as in api-spec/badge-format.md, "To verify a code".
import { decode } from "./base45";
import { encode } from "./base64url";
import { exactly, open, type Ring, TokenRefused, withoutTexts } from "./jws";
import { parseSerial } from "./serial";

export const PREFIX = "SL1:";
const CODE_MAX = 730;
const TOKEN_MAX = 1024;
/** The first second of the year 10000. */
const END_MAX = 253_402_300_800;

/** What a badge says. */
export interface BadgeClaims {
  iss: string;
  /** The serial. */
  jti: string;
  /** Issued, and over, in seconds since 1970. */
  iat: number;
  exp: number;
  /** Its place in the status list. */
  sti: number;
  /** Respirators by their printed numbers, with the last day as yyyymmdd. */
  rsp: [code: string, lastDay: number][];
}

/** The token in a code's text; null where it is not one of our codes. */
export function unpack(text: string): string | null {
  if (text.length > CODE_MAX || !text.startsWith(PREFIX)) return null;
  const bytes = decode(text.slice(PREFIX.length));
  if (!bytes || bytes.length < 3) return null;
  const [header = 0, high = 0, low = 0] = bytes;
  const second = 3 + header + high * 256 + low;
  const parts = [bytes.slice(3, 3 + header), bytes.slice(3 + header, second), bytes.slice(second)];
  if (second > bytes.length || parts.some(part => part.length === 0)) return null;
  return parts.map(encode).join(".");
}

/** What a code says when a key of the ring signed it. A badge that is over is genuine all the same. */
export async function genuine(ring: Ring, code: string): Promise<BadgeClaims> {
  const token = unpack(code);
  if (token === null || token.length > TOKEN_MAX) throw new TokenRefused("malformed");
  const payload = await open(ring, undefined, token);
  const claims = exactly(payload);
  // Every number of a badge is whole, and written so.
  if (!areClaims(claims) || /[.eE]/.test(withoutTexts(payload))) throw new TokenRefused("malformed");
  return claims;
}

function areClaims(claims: Record<string, unknown>): claims is Record<string, unknown> & BadgeClaims {
  const { iss, jti, iat, exp, sti, rsp } = claims;
  const whole = (value: unknown): value is number => Number.isSafeInteger(value) && (value as number) >= 0;
  return (
    Object.keys(claims).length === 6 &&
    typeof iss === "string" &&
    [...iss].length >= 1 &&
    [...iss].length <= 64 &&
    typeof jti === "string" &&
    parseSerial(jti) === jti &&
    whole(iat) &&
    whole(exp) &&
    exp > iat &&
    exp < END_MAX &&
    whole(sti) &&
    Array.isArray(rsp) &&
    rsp.length >= 1 &&
    rsp.length <= 4 &&
    rsp.every(isRespirator)
  );
}

function isRespirator(pair: unknown): boolean {
  if (!Array.isArray(pair) || pair.length !== 2) return false;
  const [code, day] = pair as unknown[];
  return typeof code === "string" && /^[A-Za-z0-9_-]{1,22}$/.test(code) && isDay(day);
}

/** Whether a number is a day of the calendar as yyyymmdd. */
function isDay(value: unknown): boolean {
  if (!Number.isSafeInteger(value)) return false;
  const day = value as number;
  const [year, month, date] = [Math.floor(day / 10_000), Math.floor(day / 100) % 100, day % 100];
  const made = new Date(0);
  made.setUTCFullYear(year, month - 1, date);
  return day >= 0 && made.getUTCMonth() === month - 1 && made.getUTCDate() === date;
}
