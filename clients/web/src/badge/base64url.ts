// Base64url without padding (RFC 4648 section 5), read strictly: one text for one string of bytes.

const CANONICAL = /^[A-Za-z0-9_-]*$/;
const DIGITS = "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789-_";

/** The bytes of a text; null for padding, foreign characters and bits that no byte needs. */
export function decode(text: string): Uint8Array<ArrayBuffer> | null {
  if (!CANONICAL.test(text) || text.length % 4 === 1) return null;
  const spare = { 2: 15, 3: 3 }[text.length % 4] ?? 0;
  if (DIGITS.indexOf(text.at(-1) ?? "A") & spare) return null;
  const characters = atob(text.replaceAll("-", "+").replaceAll("_", "/"));
  // A loop: a pack of a hundred thousand badges has megabytes.
  const bytes = new Uint8Array(characters.length);
  for (let at = 0; at < bytes.length; at++) bytes[at] = characters.charCodeAt(at);
  return bytes;
}

export function encode(bytes: Uint8Array): string {
  const text = Array.from(bytes, byte => String.fromCharCode(byte)).join("");
  return btoa(text).replaceAll("+", "-").replaceAll("/", "_").replaceAll("=", "");
}
