import { describe, expect, it } from "vitest";
import type { Wire } from "../../api/client";
import { type Asked, dueOf } from "./risk";

const person = (staff_number: string): Wire<"PersonOutlookView"> => ({
  person_id: staff_number,
  staff_number,
  given_name: "Oda",
  family_name: "Brennick",
  unit: "Heron ward",
  cleared_for: [],
  enters_now: false,
  enters_then: false,
  needs_permission: false,
  retest_on: [],
});
const asked = (gateId: string, days: number, ...numbers: string[]): Asked => ({
  gateId,
  days,
  items: numbers.map(person),
});
const users = (gateId: string, ...numbers: string[]) => new Map([[gateId, new Set(numbers)]]);

describe("the due list", () => {
  it("puts whoever uses a door before whoever does not, and the soonest first", () => {
    const found = dueOf(
      [
        asked("heron", 0, "4", "2"),
        asked("heron", 14, "4", "3", "2", "1"),
        asked("heron", 28, "4", "3", "2", "1", "5"),
      ],
      users("heron", "1", "2", "5"),
    );
    expect(found.map(one => [one.person.staff_number, one.group, one.days])).toEqual([
      ["2", "uses_not", 0],
      ["1", "uses_loses", 14],
      ["5", "uses_loses", 28],
      ["4", "not", 0],
      ["3", "loses", 14],
    ]);
  });

  it("goes by the door they use, and still names the others", () => {
    const [found] = dueOf(
      [asked("plover", 0, "1"), asked("heron", 28, "1"), asked("plover", 28, "1")],
      users("heron", "1"),
    );
    expect(found).toMatchObject({ group: "uses_loses", days: 28 });
    expect(found?.gates.map(one => [one.gateId, one.days, one.uses])).toEqual([
      ["heron", 28, true],
      ["plover", 0, false],
    ]);
  });

  it("is the same whatever order the answers come in", () => {
    const answers = [asked("heron", 0, "1"), asked("heron", 14, "1", "2"), asked("plover", 14, "2")];
    const nobody = new Map<string, Set<string>>();
    const names = (all: Asked[]) => dueOf(all, nobody).map(one => [one.person.staff_number, one.days]);
    expect(names(answers)).toEqual(names(answers.toReversed()));
  });
});
