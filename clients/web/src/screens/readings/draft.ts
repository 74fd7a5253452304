// A mapping as somebody makes it by pointing at the columns of a file: what each holds, and what is still missing.
import type { Wire } from "../../api/client";
import { type Delimiter, differing, type Sheet } from "./sheet";

export type Basis = Wire<"ReadingColumns">["basis"];
export type Member = "fit_factor" | "before" | "after" | "outside" | "inside";

export const BASES = ["fit_factor", "continuous", "each", "inside"] as const satisfies readonly Basis[];
/** What one measurement consists of. */
export const MEMBERS: Record<Basis, readonly Member[]> = {
  fit_factor: ["fit_factor"],
  continuous: ["outside", "inside"],
  each: ["before", "after", "inside"],
  inside: ["inside"],
};

/** What belongs to the whole test rather than to one measurement. */
export type Whole = "exercise" | "test" | "outside_before" | "outside_after" | "outside_both";
/** What a column holds: a member of the measurement, the same of one exercise (`3.inside`), or a word of the test. */
export type Meaning = Member | `${number}.${Member}` | Whole;
/** The exercise of a line: its number, or `out` for a line that is left out. */
export type Place = `${number}` | "out";

export interface Draft {
  name: string;
  delimiter: Delimiter;
  decimal_mark: Wire<"DecimalMark"> | null;
  /** As it is typed; 0 where no line names the columns. */
  header_line: string;
  rows: Wire<"Layout">["rows"] | null;
  basis: Basis | null;
  /** By the place of the column. */
  meanings: Readonly<Record<number, Meaning>>;
  /** By the text in the column of the exercise, or by the place of the line where no column names it. */
  exercises: Readonly<Record<string, Place>>;
}

export interface Exercise {
  number: number;
  name: string;
}

/** More names than any protocol has exercises: then it is another column that was meant. */
export const NAMES_MAX = 40;

/** What a column may hold, in the order in which it is offered. */
export function meanings({ rows, basis }: Draft, exercises: readonly Exercise[]): Meaning[] {
  if (!rows || !basis) return [];
  const members = MEMBERS[basis];
  const single = rows === "row_per_exercise";
  const measured: Meaning[] = single
    ? [...members]
    : exercises.flatMap(({ number }) => members.map(member => `${number}.${member}` as const));
  const outside: Meaning[] = [
    "outside_before",
    "outside_after",
    ...(single ? ["outside_both" as const] : []),
  ];
  return [
    ...(single ? (["exercise"] as const) : []),
    ...measured,
    ...(basis === "inside" ? outside : []),
    "test",
  ];
}

/** The column that holds this; nothing where none does. */
export function columnWith(draft: Draft, meaning: Meaning): number | undefined {
  const found = Object.entries(draft.meanings).find(([, one]) => one === meaning);
  return found && Number(found[0]);
}

/** What has to be given an exercise: the names in its column, or, where none names it, the lines of the first test. */
export function unplaced(draft: Draft, sheet: Sheet): string[] {
  if (draft.rows !== "row_per_exercise") return [];
  const named = columnWith(draft, "exercise");
  if (named !== undefined) return differing(sheet, named);
  const test = columnWith(draft, "test");
  const first = test === undefined ? undefined : sheet.rows[0]?.[test];
  const lines = sheet.rows.filter(row => test === undefined || row[test] === first);
  return lines.map((_, line) => String(line + 1));
}

/** The exercise that a name or a line stands for: as somebody said, or the number that it is. */
export function placed(draft: Draft, key: string): Place | "" {
  const own = /^[1-9]\d?$/.test(key) ? (key as Place) : "";
  return draft.exercises[key] ?? own;
}

/** What a mapping cannot do without and no column holds yet. */
export function lacking(draft: Draft): Meaning[] {
  const { rows, basis } = draft;
  if (!rows || !basis) return [];
  const held = Object.values(draft.meanings);
  const parts: Meaning[] =
    rows === "row_per_exercise"
      ? [...MEMBERS[basis]]
      : measuredExercises(draft).flatMap(number =>
          MEMBERS[basis].map(member => `${number}.${member}` as const),
        );
  const both = held.includes("outside_both");
  const outside: Meaning[] = basis === "inside" && !both ? ["outside_before", "outside_after"] : [];
  return [...parts, ...outside].filter(one => !held.includes(one));
}

/** The exercises that columns are given to, where one line is a whole test. */
export function measuredExercises(draft: Draft): number[] {
  const numbers = Object.values(draft.meanings).map(meaning => Number.parseInt(meaning, 10));
  return [...new Set(numbers.filter(Number.isInteger))].sort((one, other) => one - other);
}

/** Columns that are given the same meaning as one before them. */
export function doubled(draft: Draft): number[] {
  const held = Object.entries(draft.meanings);
  return held
    .filter(([, meaning], index) => held.findIndex(([, other]) => other === meaning) < index)
    .map(([place]) => Number(place));
}
