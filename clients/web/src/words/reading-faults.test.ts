import { afterEach, expect, it } from "vitest";
import { language } from "./language";
import { readingFault } from "./reading-faults";

afterEach(() => void (language.value = "en"));

const one = { code: "cell_empty", line: 4, reason: "The cell is empty where a number is needed." } as const;

it("says what is wrong with a file in the server's words, or in those of the reader", () => {
  expect(readingFault(one)).toBe(one.reason);
  language.value = "es";
  expect(readingFault(one)).toBe("La celda está vacía donde hace falta un número.");
});

it("keeps to the server's sentence for a code that is newer than this screen", () => {
  language.value = "es";
  expect(readingFault({ ...one, code: "of_tomorrow" as "cell_empty" })).toBe(one.reason);
});
