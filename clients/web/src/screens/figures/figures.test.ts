import { afterEach, describe, expect, it } from "vitest";
import { timeZone } from "../../words/format";
import { daysFault, lastDays, momentsOf } from "./days";
import { type DayFigures, type GateFigures, misprintsOf, reprintsOf, saidBy, total } from "./sums";

afterEach(() => {
  timeZone.value = "UTC";
});

describe("the days that are counted", () => {
  it("end today at the site, wherever the reader is", () => {
    timeZone.value = "Pacific/Auckland";
    const evening = Date.parse("2026-03-01T20:00Z");
    expect(lastDays(1, evening)).toEqual({ from: "2026-03-02", to: "2026-03-02" });
    expect(lastDays(3, evening)).toEqual({ from: "2026-02-28", to: "2026-03-02" });
  });

  it("are whole days of the site, also when its clocks change (tz database, Europe/Lisbon, 29 March 2026)", () => {
    timeZone.value = "Europe/Lisbon";
    expect(momentsOf({ from: "2026-03-28", to: "2026-03-29" })).toEqual({
      from: "2026-03-28T00:00:00.000Z",
      until: "2026-03-29T23:00:00.000Z",
    });
  });

  it("are both given, in order, and at most a year", () => {
    expect(daysFault({ from: "", to: "2026-03-01" })).toBe("missing");
    expect(daysFault({ from: "2026-03-02", to: "2026-03-01" })).toBe("order");
    expect(daysFault({ from: "2026-03-01", to: "2026-03-01" })).toBeUndefined();
    expect(daysFault({ from: "2026-03-01", to: "2027-03-01" })).toBeUndefined();
    expect(daysFault({ from: "2026-03-01", to: "2027-03-02" })).toBe("long");
  });
});

const day = (part: Partial<DayFigures>): DayFigures => ({
  day: "2026-03-10",
  made: 0,
  handed_over: 0,
  misprints: [],
  reprints: [],
  ...part,
});

describe("sums", () => {
  it("put the causes of several days together, the most frequent first", () => {
    const days = [
      day({ misprints: [{ cause: "smeared", count: 1 }], reprints: [{ reason: "lost", count: 2 }] }),
      day({
        misprints: [
          { cause: "cut_wrong", count: 3 },
          { cause: "smeared", count: 1 },
        ],
      }),
    ];
    expect(misprintsOf(days)).toEqual([
      { name: "cut_wrong", count: 3 },
      { name: "smeared", count: 2 },
    ]);
    expect(total(misprintsOf(days))).toBe(5);
    expect(reprintsOf(days)).toEqual([{ name: "lost", count: 2 }]);
  });

  it("count what gates said, and nothing for an answer that none gave", () => {
    const gate = (items: GateFigures["items"]): GateFigures => ({ gate_id: "", from: "", until: "", items });
    const said = saidBy([
      gate([{ answer: "enter", count: 7, repeats: 2 }]),
      gate([
        { answer: "enter", count: 1, repeats: 0 },
        { answer: "not_valid", count: 2, repeats: 1 },
      ]),
    ]);
    expect(said).toEqual({
      answers: { enter: 8, not_cleared: 0, cannot_confirm: 0, not_valid: 2 },
      all: 10,
      repeats: 3,
    });
  });
});
