import { describe, expect, it } from "vitest";
import { type Draft, doubled, lacking, meanings, placed, unplaced } from "./draft";
import { inForce, mappingOf, type Stored, testsOf } from "./mapping";
import { columnOf, likelyDelimiter, placeOf, sheetOf } from "./sheet";

const draft = (part: Partial<Draft>): Draft => ({
  name: "Counter 2",
  delimiter: "comma",
  decimal_mark: "point",
  header_line: "1",
  rows: "row_per_exercise",
  basis: "fit_factor",
  meanings: {},
  exercises: {},
  ...part,
});

describe("a file that somebody points at", () => {
  it("has its cells read from the line that names the columns", () => {
    const sheet = sheetOf("\uFEFFCounter 2\r\n\r\nex; ff \r\n1;120,5\r\n\r\n2;80\r\n", "semicolon", 3);
    expect(sheet).toEqual({
      headers: ["ex", "ff"],
      rows: [
        ["1", "120,5"],
        ["2", "80"],
      ],
      columns: 2,
    });
    expect(sheetOf('1,"2,5"\n', "comma", 0)).toMatchObject({ headers: [], rows: [["1", "2,5"]] });
  });

  it("says what most likely separates its columns", () => {
    expect(likelyDelimiter("ex;ff\n1;120,5\n")).toBe("semicolon");
    expect(likelyDelimiter("1;120,5\n2;80,25\n")).toBe("semicolon");
    expect(likelyDelimiter("ex\tff\n1\t120\n")).toBe("tab");
    expect(likelyDelimiter("ex,ff\n1,120\n")).toBe("comma");
  });

  it("has columns named by their header, and by number where that tells them apart", () => {
    const sheet = sheetOf("a,b,b,\n1,2,3,4\n", "comma", 1);
    expect([0, 1, 3].map(place => columnOf(sheet, place))).toEqual(["a", 2, 4]);
    expect([placeOf(sheet, "a"), placeOf(sheet, "b"), placeOf(sheet, 4), placeOf(sheet, 5)]).toEqual([
      0, -1, 3, -1,
    ]);
  });
});

describe("a mapping", () => {
  const named = sheetOf("who,step,value\nA,bend,120\nA,talk,80\nB,bend,90\n", "comma", 1);

  it("names the exercises whose names are no numbers, and leaves lines out", () => {
    const one = draft({
      meanings: { 1: "exercise", 2: "fit_factor" },
      exercises: { bend: "1", talk: "out" },
    });
    expect(unplaced(one, named)).toEqual(["bend", "talk"]);
    expect(mappingOf(one, named)).toEqual({
      delimiter: "comma",
      decimal_mark: "point",
      header_line: 1,
      layout: {
        rows: "row_per_exercise",
        exercise: { by: "column", column: "step", names: { bend: 1, talk: null } },
        columns: { basis: "fit_factor", fit_factor: "value" },
      },
    });
  });

  it("takes the lines of the first test in their order where no column names the exercise", () => {
    const one = draft({ meanings: { 0: "test", 2: "fit_factor" }, exercises: { 2: "4" } });
    expect(unplaced(one, named)).toEqual(["1", "2"]);
    const mapping = mappingOf(one, named);
    expect(mapping.layout).toMatchObject({ exercise: { by: "order", exercises: [1, 4] } });
    expect(mapping.test).toBe("who");
    expect(testsOf(named, mapping)).toEqual(["A", "B"]);
  });

  it("leaves a number that is the exercise itself without a name", () => {
    const sheet = sheetOf("ex,ff\n1,120\n7,80\n", "comma", 1);
    const one = draft({ meanings: { 0: "exercise", 1: "fit_factor" }, exercises: { 7: "out" } });
    expect([placed(one, "1"), placed(one, "7"), placed(one, "bend")]).toEqual(["1", "out", ""]);
    expect(mappingOf(one, sheet).layout).toMatchObject({ exercise: { names: { 7: null } } });
  });

  it("of a whole test in one line has a group of columns for each exercise", () => {
    const sheet = sheetOf("o1,i1,o2,i2\n1000,5,1100,6\n", "comma", 1);
    const one = draft({
      rows: "row_per_test",
      basis: "continuous",
      meanings: { 0: "1.outside", 1: "1.inside" },
    });
    expect(lacking(one)).toEqual([]);
    expect(lacking({ ...one, meanings: { ...one.meanings, 2: "2.outside" } })).toEqual(["2.inside"]);
    expect(mappingOf(one, sheet).layout).toEqual({
      rows: "row_per_test",
      measurements: [{ exercise: 1, columns: { basis: "continuous", outside: "o1", inside: "i1" } }],
    });
  });

  it("of the inside alone needs what is outside, which may stand in one column", () => {
    const one = draft({ basis: "inside", meanings: { 0: "exercise", 1: "inside" } });
    expect(lacking(one)).toEqual(["outside_before", "outside_after"]);
    const both = draft({ ...one, meanings: { ...one.meanings, 2: "outside_both" } });
    expect(lacking(both)).toEqual([]);
    const sheet = sheetOf("ex,in,out\n1,5,1000\n", "comma", 1);
    expect(mappingOf(both, sheet).outside).toEqual({ before: "out", after: "out" });
  });

  it("lets a column hold what its layout knows, and each thing once", () => {
    const offered = meanings(draft({ rows: "row_per_test", basis: "each" }), [
      { number: 3, name: "Talking" },
    ]);
    expect(offered).toEqual(["3.before", "3.after", "3.inside", "test"]);
    expect(meanings(draft({ rows: null }), [])).toEqual([]);
    expect(doubled(draft({ meanings: { 0: "test", 1: "fit_factor", 2: "test" } }))).toEqual([2]);
  });

  it("of several with one name the newest counts", () => {
    const stored = (id: string, name: string, recorded_at: string) => ({ id, name, recorded_at }) as Stored;
    const all = [
      stored("1", "B", "2026-01-01"),
      stored("2", "A", "2026-01-01"),
      stored("3", "B", "2026-01-02"),
    ];
    expect(inForce(all).map(one => one.id)).toEqual(["2", "3"]);
  });
});
