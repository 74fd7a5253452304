// Base45 (RFC 9285), read strictly: one text for one string of bytes, and nothing is mended.

const ALPHABET = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ $%*+-./:";

/** The bytes of a text; null for whatever no bytes are written as. */
export function decode(text: string): Uint8Array<ArrayBuffer> | null {
  if (text.length % 3 === 1) return null;
  const bytes = new Uint8Array(Math.floor((text.length * 2) / 3));
  let filled = 0;
  for (let at = 0; at < text.length; at += 3) {
    const group = [...text.slice(at, at + 3)].map(character => ALPHABET.indexOf(character));
    if (group.includes(-1)) return null;
    const value = group.reduceRight((sum, digit) => sum * 45 + digit, 0);
    if (value >= 256 ** (group.length - 1)) return null;
    if (group.length === 3) bytes[filled++] = value >> 8;
    bytes[filled++] = value & 255;
  }
  return bytes;
}
