import { describe, expect, it } from "vitest";
import type { Wire } from "../../api/client";
import { millilitres } from "../../words/format";
import { emptyLabel, labelBody, labelReady } from "./label-typed";
import { microlitres } from "./microlitres";
import { labelsFrom } from "./labels-from";
import { soonest } from "./soonest";

describe("volumes", () => {
  it("are typed with a comma or a point and kept in whole microlitres", () => {
    expect([microlitres("48,5"), microlitres(" 0.05 "), microlitres("0")]).toEqual([48_500, 50, 0]);
    for (const wrong of ["", " ", "-1", "ten", "1.2.3"]) expect(microlitres(wrong)).toBeUndefined();
  });

  it("are shown to the tenth, and a negative stays negative", () => {
    expect([millilitres(12_340), millilitres(-1500), millilitres(-20), millilitres(-0)]).toEqual([
      "12.3 ml",
      "-1.5 ml",
      "0.0 ml",
      "0.0 ml",
    ]);
  });
});

describe("labels of several bottles", () => {
  it("count on from the last number and keep its zeros", () => {
    expect(labelsFrom("B-09", 3)).toEqual(["B-09", "B-10", "B-11"]);
    expect(labelsFrom("LOT7-099", 2)).toEqual(["LOT7-099", "LOT7-100"]);
  });

  it("get a number where the first has none", () => {
    expect(labelsFrom("spare", 2)).toEqual(["spare", "spare-2"]);
  });
});

describe("a supplier's label", () => {
  it("is enough when it is scanned, and typed twice otherwise", () => {
    expect(labelReady({ ...emptyLabel, label: "0109" }, true)).toBe(true);
    expect(labelReady({ ...emptyLabel, lot: "A1", expiry: "2027-08" }, true)).toBe(false);
    expect(labelReady({ ...emptyLabel, lot: "A1", lotAgain: "A1" }, true)).toBe(false);
    expect(labelReady({ ...emptyLabel, lot: "A1", lotAgain: "A1" }, false)).toBe(true);
  });

  it("says only what was typed", () => {
    expect(labelBody({ ...emptyLabel, label: " 0109 " })).toEqual({ label: "0109" });
  });
});

describe("what runs out", () => {
  const station = {
    agent: "saccharin",
    solution: "test",
    station: "s1",
    name: "Station 1",
    drawn_ul: 0,
    shortage_ul: 0,
    ends_at: "2026-03-10T17:00:00Z",
  } as const;
  const forecast = (stations: object[]) => ({ stations, supplies: [] }) as unknown as Wire<"Forecast">;

  it("stands once for a thing, with the sooner time and everything there is to do", () => {
    const rows = soonest(
      forecast([
        { ...station, own_empty_at: "2026-03-10T12:00:00Z", refill_at: "2026-03-10T11:00:00Z" },
        { ...station, station: "s2", name: "Station 2", refill_at: "2026-03-10T10:30:00Z" },
      ]),
    );
    expect(rows.map(one => [one.where, one.at, one.todo.length])).toEqual([
      ["Station 2", Date.parse("2026-03-10T10:30:00Z"), 1],
      ["Station 1", Date.parse("2026-03-10T11:00:00Z"), 2],
    ]);
  });

  it("is nothing where nothing has an end", () => {
    expect(soonest(forecast([station]))).toEqual([]);
  });
});
