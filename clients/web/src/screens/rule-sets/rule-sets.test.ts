import { describe, expect, it } from "vitest";
import type { Wire } from "../../api/client";
import { Problem } from "../../api/problem";
import { differences } from "./compare";
import { mistakesOf, placeOf } from "./mistakes";

const value = (key: string, more: Partial<Wire<"RuleValue">>): Wire<"RuleValue"> => ({
  key,
  value: 1,
  unit: "seconds",
  source: "",
  status: "verified",
  decided_by: [],
  ...more,
});

describe("two rule sets", () => {
  it("differ where a value, its unit or whether it counts differs, and where one has none", () => {
    const one = [value("a", {}), value("b", {}), value("c", {}), value("d", {}), value("only here", {})];
    const other = [
      value("d", { status: "unconfirmed" }),
      value("b", { value: 2 }),
      value("a", { source: "another text", status: "confirmed" }),
      value("c", { unit: "minutes" }),
      value("only there", {}),
    ];
    expect(differences(one, other).map(pair => pair.key)).toEqual(["b", "c", "d", "only here", "only there"]);
    expect(differences(one, one)).toEqual([]);
  });
});

describe("a mistake", () => {
  it("is led to by line and column, with letters outside the basic plane counted once", () => {
    const text = 'name = "x"\ntitle = "𝄞 a"\nwrong';
    expect(text.slice(placeOf(text, { line: 3, column: 1 }))).toBe("wrong");
    expect(text.slice(placeOf(text, { line: 2, column: 12 }))).toBe('a"\nwrong');
    expect(placeOf(text, { line: 99, column: 1 })).toBe(text.length);
  });

  it("is found in the refusal, and in no other", () => {
    const mistakes = [{ line: 2, column: 9, key: "", kind: "malformed", reason: "x" }];
    expect(mistakesOf(new Problem("rule_set_invalid", "", 422, { mistakes }))).toEqual(mistakes);
    expect(mistakesOf(new Problem("already_exists", "", 409))).toEqual([]);
    expect(mistakesOf(undefined)).toEqual([]);
  });
});
