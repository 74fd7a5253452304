import { describe, expect, it } from "vitest";
import { Line } from "./typing";

function typed(keys: string[], everyMs: number): { lines: string[]; taken: boolean[] } {
  const lines: string[] = [];
  const line = new Line(text => lines.push(text));
  return { lines, taken: keys.map((key, n) => line.key(key, 1000 + n * everyMs)) };
}

describe("a scanner that types", () => {
  it("makes a line of what it types, shifted signs and blanks included", () => {
    const code = "SL1:2 4%$*+-./:A";
    const keys = [...code].flatMap(sign => (/[A-Z%$*+:]/.test(sign) ? ["Shift", sign] : [sign]));
    expect(typed([...keys, "Enter"], 3).lines).toEqual([code]);
    expect(typed([..."7KQ2M-XW9RD", "Tab"], 5).lines).toEqual(["7KQ2M-XW9RD"]);
  });

  it("leaves a hand on the keyboard alone", () => {
    const { lines, taken } = typed(["a", "b", "c", "d", "e", "f", "g", "Enter", " ", "Tab"], 150);
    expect(lines).toEqual([]);
    expect(taken).not.toContain(true);
  });

  it("does not let its keys press what has the focus", () => {
    const { taken } = typed([..."7KQ2M XW9RD", "Enter"], 4);
    // The first one may still be a hand's.
    expect(taken.slice(1)).not.toContain(false);
  });

  it("has more time within a badge's code", () => {
    const lines: string[] = [];
    const line = new Line(text => lines.push(text));
    const keys = [..."SL1:AB CD", "Enter"];
    keys.forEach((key, n) => line.key(key, n < 5 ? n * 4 : 16 + (n - 4) * 400));
    expect(lines).toEqual(["SL1:AB CD"]);
  });

  it("begins anew after a pause", () => {
    const lines: string[] = [];
    const line = new Line(text => lines.push(text));
    line.key("x", 0);
    [..."2222CYW98D", "Enter"].forEach((key, n) => line.key(key, 500 + n * 4));
    expect(lines).toEqual(["2222CYW98D"]);
  });
});
