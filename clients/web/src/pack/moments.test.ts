import { describe, expect, it } from "vitest";
import { endOfDay, micros } from "./moments";

const end = (day: number, zone: string) => new Date(endOfDay(day, zone) / 1000).toISOString();

describe("the end of a day", () => {
  it("is the next midnight of the site", () => {
    expect(end(20270831, "Europe/Lisbon")).toBe("2027-08-31T23:00:00.000Z");
    expect(end(20271231, "America/Los_Angeles")).toBe("2028-01-01T08:00:00.000Z");
    expect(end(20280228, "UTC")).toBe("2028-02-29T00:00:00.000Z");
    expect(end(20270101, "Pacific/Kiritimati")).toBe("2027-01-01T10:00:00.000Z");
  });

  // Zones whose clocks change at midnight, from the IANA time zone database.
  it("is the first moment that exists where midnight is skipped, and the first of two where it happens twice", () => {
    // Cuba's clocks went from 00:00 to 01:00 on 10 March 2024.
    expect(end(20240309, "America/Havana")).toBe("2024-03-10T05:00:00.000Z");
    // And from 01:00 back to 00:00 on 3 November 2024.
    expect(end(20241102, "America/Havana")).toBe("2024-11-03T04:00:00.000Z");
  });
});

it("keeps the microseconds that a date does not", () => {
  expect(micros("2026-11-27T05:55:30.540519Z") - micros("2026-11-27T05:55:30.54Z")).toBe(519);
  expect(micros("2026-11-27T05:55:30Z") % 1_000_000).toBe(0);
});
