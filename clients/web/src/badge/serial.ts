// The serial beside a code: ten characters, the last of which catches one that is wrong and two that changed places.

const ALPHABET = "23456789ABCDEFGHJKMNPQRSTVWXY";
const LENGTH = 10;
/** More than this cannot be a serial with a few blanks and dashes in it. */
const INPUT_MAX = 40;

export type SerialProblem = "length" | "character" | "check";

/** A typed serial: the ten characters, or what is wrong. Small letters, blanks and dashes are as good. */
export function readSerial(text: string): { serial: string } | { problem: SerialProblem } {
  const typed = [...text.toUpperCase()].filter(character => !/[\s-]/u.test(character));
  if (text.length > INPUT_MAX) return { problem: "length" };
  if (typed.some(character => !ALPHABET.includes(character))) return { problem: "character" };
  if (typed.length !== LENGTH) return { problem: "length" };
  const sum = typed.reduce((so, character, place) => so + ALPHABET.indexOf(character) * (LENGTH - place), 0);
  return sum % ALPHABET.length === 0 ? { serial: typed.join("") } : { problem: "check" };
}

/** The ten characters of a typed serial; null where it is none. */
export function parseSerial(text: string): string | null {
  const read = readSerial(text);
  return "serial" in read ? read.serial : null;
}

/** The number that the first nine characters write to the base of 29. */
export function serialNumber(serial: string): number {
  const counting = [...serial.slice(0, LENGTH - 1)];
  return counting.reduce((number, character) => number * ALPHABET.length + ALPHABET.indexOf(character), 0);
}

/** As it is printed: `7KQ2M-XW9RD`. */
export const printedSerial = (serial: string): string => `${serial.slice(0, 5)}-${serial.slice(5)}`;
