import { describe, expect, it } from "vitest";
import { apart } from "./apart";

describe("two lists", () => {
  it("are told apart by what names their rows, and the newer reading of a row stands", () => {
    const first = [
      { id: "a", due: 1 },
      { id: "b", due: 1 },
    ];
    const second = [
      { id: "b", due: 2 },
      { id: "c", due: 2 },
    ];
    expect(apart(first, second, one => one.id)).toEqual({
      first: [{ id: "a", due: 1 }],
      second: [{ id: "c", due: 2 }],
      both: [{ id: "b", due: 2 }],
    });
    expect(apart([], [], one => String(one))).toEqual({ first: [], second: [], both: [] });
  });
});
