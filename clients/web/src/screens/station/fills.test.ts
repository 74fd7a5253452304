import { describe, expect, it } from "vitest";
import { currentFill, type Fill, stateOf } from "./fills";

const HOUR = 3_600_000;
const text = (offset: number) => new Date(Date.now() + offset).toISOString();

/** A fill of the sweet test solution, so long ago. */
const fill = (id: string, hoursAgo: number, more: Partial<Fill> = {}): Fill => ({
  id,
  station_id: "station",
  bottle_id: "bottle",
  lot_id: "lot",
  bottle_label: "T-14",
  agent: "saccharin",
  solution: "test",
  vessel: "nebulizer",
  nebulizer: "1 test",
  volume_ul: 2000,
  rinsed: true,
  afterwards: false,
  happened_at: text(-hoursAgo * HOUR),
  recorded_at: text(-hoursAgo * HOUR),
  ...more,
});

const current = (...fills: Fill[]) => currentFill(fills, "saccharin", "test")?.id;

describe("what is in a station's nebulizer", () => {
  it("is the newest fill", () => {
    expect(current(fill("old", 3, { refilled_at: text(-HOUR) }), fill("new", 1))).toBe("new");
  });

  it("is nothing once the newest was emptied, whatever was in it before", () => {
    const fills = [fill("old", 3, { refilled_at: text(-HOUR) }), fill("new", 1, { emptied_at: text(-1) })];
    expect(current(...fills)).toBeUndefined();
    expect(current()).toBeUndefined();
  });

  it("is none of the other solution or agent", () => {
    expect(current(fill("weak", 1, { solution: "screening" }))).toBeUndefined();
    expect(current(fill("bitter", 1, { agent: "denatonium_benzoate" }))).toBeUndefined();
  });

  it("may be used until the server's moment, also while the server is away", () => {
    const until = text(HOUR);
    expect(stateOf(fill("good", 3, { usable_until: until }), Date.now())).toEqual({
      may: true,
      until: Date.parse(until),
    });
    expect(stateOf(fill("over", 5, { usable_until: text(-1) }), Date.now())).toEqual({
      may: false,
      why: "fill_too_old",
    });
    const stopped = fill("stopped", 1, { not_usable: "lot_stopped" });
    expect(stateOf(stopped, Date.now())).toEqual({ may: false, why: "lot_stopped" });
  });
});
