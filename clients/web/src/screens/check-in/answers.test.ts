import { describe, expect, it } from "vitest";
import { type Answers, missing, NOTHING, todayAt, wire } from "./answers";

const now = new Date("2026-11-27T09:20:30Z");
const lisbon = "Europe/Lisbon";
const good: Answers = { ...NOTHING, intake: "no", well: "yes", shaven: "yes", changed: "no" };

describe("the answers at check-in", () => {
  it("are all asked for, and none is assumed", () => {
    expect(missing(NOTHING, now, lisbon)).toEqual(["intake", "well", "shaven", "changed"]);
    expect(missing(good, now, lisbon)).toEqual([]);
  });

  it("ask for a time that has come, when there is one", () => {
    expect(missing({ ...good, intake: "at" }, now, lisbon)).toEqual(["intake_time"]);
    expect(missing({ ...good, intake: "at", intakeAt: "09:19" }, now, lisbon)).toEqual([]);
    expect(missing({ ...good, intake: "at", intakeAt: "09:21" }, now, lisbon)).toEqual(["intake_future"]);
  });

  it("take a time as the clock of the site shows it, not that of the tablet", () => {
    expect(todayAt("09:05", now, lisbon)?.toISOString()).toBe("2026-11-27T09:05:00.000Z");
    // Auckland is 13 hours ahead in November (tz database).
    expect(todayAt("22:05", now, "Pacific/Auckland")?.toISOString()).toBe("2026-11-27T09:05:00.000Z");
    expect(todayAt("x", now, lisbon)).toBeUndefined();
  });

  it("are sent as the server takes them, and what was not said is left out", () => {
    expect(wire(good, [], now, lisbon)).toEqual({
      last_intake_at: undefined,
      feels_well: true,
      hair_at_seal: false,
      face_changed: false,
      gear_worn: undefined,
      needs: undefined,
    });
    const all: Answers = {
      ...good,
      intake: "now",
      shaven: "no",
      otherGear: " visor ",
      needs: " interpreter ",
    };
    expect(wire(all, ["glasses"], now, lisbon)).toMatchObject({
      last_intake_at: now.toISOString(),
      hair_at_seal: true,
      gear_worn: "glasses, visor",
      needs: "interpreter",
    });
  });
});
