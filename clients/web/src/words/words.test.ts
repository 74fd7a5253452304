import { afterEach, describe, expect, it } from "vitest";
import { Problem } from "../api/problem";
import { defined, filled } from "./define";
import * as format from "./format";
import { chooseLanguage } from "./language";
import { explain } from "./problems";
import { problemsEn } from "./problems/en";
import { problemsEs } from "./problems/es";

// Every set of words registers itself when it is loaded.
const modules = import.meta.glob(["./*.ts", "!./*.test.ts"], { eager: true });

const placeholders = (message: unknown): string[] =>
  (JSON.stringify(message).match(/\{\w+\}/g) ?? []).filter((one, n, all) => all.indexOf(one) === n).sort();

afterEach(() => {
  chooseLanguage("en");
  format.timeZone.value = "UTC";
});

describe("words", () => {
  it("fill in the same things in both languages", () => {
    expect(Object.keys(modules).length).toBeGreaterThan(3);
    for (const { en, es } of defined) {
      for (const key of Object.keys(en)) {
        expect({ key, fills: placeholders(es[key]) }).toEqual({ key, fills: placeholders(en[key]) });
      }
    }
    for (const [code, row] of Object.entries(problemsEn)) {
      const other = problemsEs[code as keyof typeof problemsEs];
      expect({ code, fills: placeholders(other) }).toEqual({ code, fills: placeholders(row) });
    }
  });

  it("are nowhere empty, and nowhere left in English", () => {
    for (const { en, es } of defined) {
      for (const [key, message] of Object.entries(en)) {
        expect(message, key).not.toBe("");
        const same = typeof message === "string" && message.split(" ").length > 2 && message === es[key];
        expect(same, `${key} reads the same in both languages`).toBe(false);
      }
    }
  });

  it("count by the rules of the language (CLDR plural rules)", () => {
    const people = { one: "{n} person", other: "{n} people" };
    expect(filled(people, { n: 1 })).toBe("1 person");
    expect(filled(people, { n: 0 })).toBe("0 people");
    expect(filled("{a} before {a}", { a: "x" })).toBe("x before x");
  });

  it("explain a refusal by its code and its facts, and never with a gap", () => {
    const early = new Problem("dose_too_early", "", 422, { seconds_remaining: 12 });
    expect(explain(early).todo).toBe("Wait 12 seconds.");
    expect(explain(new Problem("dose_too_early", "", 422)).todo).toBe("");
    chooseLanguage("es");
    expect(explain(early).todo).toBe("Espere 12 segundos.");
    const newer = new Problem("of_a_newer_server" as "internal", "A sentence of its own.", 422);
    expect(explain(newer).happened).toBe("A sentence of its own.");
  });
});

describe("times", () => {
  it("are those of the site, across its changes of the clock (tz database, Europe/Lisbon, 29 March 2026)", () => {
    format.timeZone.value = "Europe/Lisbon";
    expect(format.clock("2026-03-29T00:59:00Z")).toBe("00:59");
    expect(format.clock("2026-03-29T01:00:00Z")).toBe("02:00");
    format.timeZone.value = "Pacific/Auckland";
    expect(format.dateAtSite("2026-11-26T20:00:00Z")).toBe("2026-11-27");
  });

  it("typed at the site are the site's, an hour that comes twice or not at all included (tz database)", () => {
    format.timeZone.value = "Europe/Lisbon";
    const typed = (text: string) => format.momentAtSite(text).toISOString();
    expect(typed("2026-01-10T09:40")).toBe("2026-01-10T09:40:00.000Z");
    expect(typed("2026-07-10T09:40")).toBe("2026-07-10T08:40:00.000Z");
    // 25 October 2026: 01:30 comes at 00:30 UTC and again at 01:30 UTC.
    expect(typed("2026-10-25T01:30")).toBe("2026-10-25T00:30:00.000Z");
    // 29 March 2026: 01:30 is left out.
    expect(typed("2026-03-29T01:30")).toBe("2026-03-29T01:30:00.000Z");
    format.timeZone.value = "Pacific/Auckland";
    expect(typed("2026-11-27T09:40")).toBe("2026-11-26T20:40:00.000Z");
    format.timeZone.value = "America/Denver";
    expect(typed("2026-11-27T09:40")).toBe("2026-11-27T16:40:00.000Z");
  });

  it("that are left end at nothing, and not before", () => {
    expect(format.minutesAndSeconds(61_000)).toBe("1:01");
    expect(format.minutesAndSeconds(1)).toBe("0:01");
    expect(format.minutesAndSeconds(0)).toBe("0:00");
    expect(format.minutesAndSeconds(-5)).toBe("0:00");
  });

  it("say dates as dates, wherever the reader is", () => {
    format.timeZone.value = "Pacific/Auckland";
    expect(format.date("2027-02-28")).toBe("28 February 2027");
    expect(format.monthDay("02-29")).toBe("29 February");
    chooseLanguage("es");
    expect(format.date("2027-02-28")).toBe("28 de febrero de 2027");
  });

  it("say how long ago in the unit that fits", () => {
    expect(format.span(1_000)).toBe("1 second");
    expect(format.span(59_000)).toBe("59 seconds");
    expect(format.span(3 * 60_000 + 5)).toBe("3 minutes");
    expect(format.span(9 * 86_400_000)).toBe("9 days");
  });
});
