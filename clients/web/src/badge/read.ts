// What was read at a gate or a desk: the text of a code, or a serial that somebody typed. The server understands it alike.
import { PREFIX, unpack } from "./code";
import { parseSerial } from "./serial";

export interface Read {
  how: "code" | "serial";
  text: string;
}

/**
 * The text of a code without what a scanner that types puts around it: line ends and tabulators, and blanks too where
 * only without them a code is left. A blank is a digit of base45 and may well be the last one (RFC 9285 section 4.1).
 */
export function codeOf(text: string): Read {
  const line = text.replace(/^[\r\n\t]+|[\r\n\t]+$/g, "");
  const bare = line.trim();
  const onlyBare = bare !== line && unpack(line) === null && unpack(bare) !== null;
  return { how: "code", text: onlyBare ? bare : line };
}

/** A serial as somebody typed it. */
export const typed = (text: string): Read => ({
  how: "serial",
  text: text.replace(/^[^\p{Alphabetic}\p{N}]+|[^\p{Alphabetic}\p{N}]+$/gu, ""),
});

/** One line from a keyboard or from a scanner that types: whatever reads as a serial was typed as one. */
export function lineOf(text: string): Read {
  const serial = typed(text);
  const isSerial = !text.trim().startsWith(PREFIX) && parseSerial(serial.text) !== null;
  return isSerial ? serial : codeOf(text);
}
