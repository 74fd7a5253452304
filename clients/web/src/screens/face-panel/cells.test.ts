import { describe, expect, it } from "vitest";
import { readCells } from "./cells";

describe("the cells of a panel", () => {
  it("are read with either separator and either decimal sign, and never rounded", () => {
    expect(readCells("1; 98.5; 108,5; 120.5; 132.5\n\n2\t108.5\t118.5\t120.5\t132.5\n")).toEqual({
      cells: [
        {
          name: "1",
          length_from_mm: "98.5",
          length_below_mm: "108.5",
          width_from_mm: "120.5",
          width_below_mm: "132.5",
        },
        {
          name: "2",
          length_from_mm: "108.5",
          length_below_mm: "118.5",
          width_from_mm: "120.5",
          width_below_mm: "132.5",
        },
      ],
    });
  });

  it("are none where a number is missing, is no number, or its bounds stand the wrong way round", () => {
    expect(readCells("1; 98.5; 108.5; 120.5")).toEqual({ wrong: 1 });
    expect(readCells("1; 98.5; 108.5; 120.5; 132.5\n\n2; 1O8.5; 118.5; 120.5; 132.5")).toEqual({ wrong: 3 });
    expect(readCells("1; 108.5; 98.5; 120.5; 132.5")).toEqual({ wrong: 1 });
    expect(readCells("; 98.5; 108.5; 120.5; 132.5")).toEqual({ wrong: 1 });
  });
});
