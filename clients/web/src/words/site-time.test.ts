import { afterEach, describe, expect, it } from "vitest";
import { timeZone } from "./format";
import { momentTyped, typedAtSite } from "./site-time";

afterEach(() => void (timeZone.value = "UTC"));

// Offsets and changes: IANA tz database.
describe("a time that is typed", () => {
  it("is one on the clocks of the site", () => {
    timeZone.value = "America/St_Johns";
    expect(momentTyped("2026-11-27T07:00")).toBe("2026-11-27T10:30:00.000Z");
    timeZone.value = "Pacific/Kiritimati";
    expect(momentTyped("2026-11-27T07:00")).toBe("2026-11-26T17:00:00.000Z");
  });

  it("in an hour that the clocks repeat is the first of the two (Europe/Lisbon, 25 October 2026)", () => {
    timeZone.value = "Europe/Lisbon";
    expect(momentTyped("2026-10-25T01:30")).toBe("2026-10-25T00:30:00.000Z");
    expect(momentTyped("2026-10-25T02:00")).toBe("2026-10-25T02:00:00.000Z");
  });

  it("in an hour that the clocks skip is as much later (Europe/Lisbon, 29 March 2026; America/New_York, 8 March)", () => {
    timeZone.value = "Europe/Lisbon";
    expect(momentTyped("2026-03-29T01:30")).toBe("2026-03-29T01:30:00.000Z");
    expect(typedAtSite("2026-03-29T01:30:00Z")).toBe("2026-03-29T02:30");
    timeZone.value = "America/New_York";
    expect(momentTyped("2026-03-08T02:30")).toBe("2026-03-08T07:30:00.000Z");
  });

  it("comes back as it was typed", () => {
    for (const zone of ["Asia/Kathmandu", "Australia/Lord_Howe", "Africa/Casablanca"]) {
      timeZone.value = zone;
      expect(typedAtSite(momentTyped("2026-07-01T00:05") ?? "")).toBe("2026-07-01T00:05");
    }
  });

  it("is nothing where nothing or no time was typed", () => {
    expect(momentTyped("")).toBeUndefined();
    expect(momentTyped("2026-02-30T25:00")).toBeUndefined();
  });
});
