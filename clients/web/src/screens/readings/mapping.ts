// From what somebody pointed at to the mapping that the server remembers.
import type { Wire } from "../../api/client";
import {
  columnWith,
  type Draft,
  type Meaning,
  measuredExercises,
  type Member,
  MEMBERS,
  placed,
  unplaced,
} from "./draft";
import { columnOf, placeOf, type Sheet } from "./sheet";

export type Mapping = Wire<"Mapping">;
export type Stored = Wire<"ReadingMappingView">;

/** The mapping of a draft in which nothing is lacking. */
export function mappingOf(draft: Draft, sheet: Sheet): Mapping {
  const column = (meaning: Meaning) => columnOf(sheet, columnWith(draft, meaning) ?? -1);
  const test = columnWith(draft, "test");
  return {
    delimiter: draft.delimiter,
    decimal_mark: draft.decimal_mark ?? "point",
    header_line: Number(draft.header_line),
    ...(test === undefined ? {} : { test: columnOf(sheet, test) }),
    ...outsideOf(draft, column),
    layout:
      draft.rows === "row_per_test"
        ? {
            rows: "row_per_test",
            measurements: measuredExercises(draft).map(exercise => ({
              exercise,
              columns: columnsOf(draft, member => column(`${exercise}.${member}`)),
            })),
          }
        : { rows: "row_per_exercise", exercise: exerciseOf(draft, sheet), columns: columnsOf(draft, column) },
  };
}

function outsideOf(draft: Draft, column: (meaning: Meaning) => Wire<"Column">): Pick<Mapping, "outside"> {
  if (draft.basis !== "inside") return {};
  const both = columnWith(draft, "outside_both") !== undefined;
  const [before, after] = both
    ? (["outside_both", "outside_both"] as const)
    : (["outside_before", "outside_after"] as const);
  return { outside: { before: column(before), after: column(after) } };
}

function columnsOf(draft: Draft, column: (member: Member) => Wire<"Column">): Wire<"ReadingColumns"> {
  const basis = draft.basis ?? "fit_factor";
  const members = MEMBERS[basis].map(member => [member, column(member)] as const);
  // The members of each basis stand in one table, which the compiler cannot follow from its name.
  return { basis, ...Object.fromEntries(members) } as Wire<"ReadingColumns">;
}

function exerciseOf(draft: Draft, sheet: Sheet): Wire<"ExerciseOf"> {
  const number = (key: string) => {
    const place = placed(draft, key);
    return place === "out" ? null : Number(place);
  };
  const keys = unplaced(draft, sheet);
  const named = columnWith(draft, "exercise");
  if (named === undefined) return { by: "order", exercises: keys.map(number) };
  // A cell that is the number itself needs no name.
  const others = keys.filter(key => placed(draft, key) !== key);
  const names = Object.fromEntries(others.map(key => [key, number(key)]));
  return { by: "column", column: columnOf(sheet, named), names };
}

/** Of several mappings with one name the newest counts; by name. */
export function inForce(all: readonly Stored[]): Stored[] {
  const newest = new Map<string, Stored>();
  for (const one of all) {
    const before = newest.get(one.name);
    if (!before || before.recorded_at <= one.recorded_at) newest.set(one.name, one);
  }
  return [...newest.values()].sort((one, other) => one.name.localeCompare(other.name));
}

/** The tests that a file holds by the column that tells them apart; nothing where the mapping names none. */
export function testsOf(sheet: Sheet, { test }: Mapping): string[] | null {
  if (test == null) return null;
  const place = placeOf(sheet, test);
  return [...new Set(sheet.rows.map(row => row[place] ?? "").filter(Boolean))];
}
