// What still stands in the way of a mapping, and what its parts are called.
import { type Faults, missing } from "../../app/use-form";
import { list } from "../../words/format";
import { kit } from "../../words/kit";
import { readings as words } from "../../words/readings";
import {
  type Draft,
  doubled,
  type Exercise,
  lacking,
  type Meaning,
  measuredExercises,
  type Member,
  NAMES_MAX,
  placed,
  unplaced,
  type Whole,
} from "./draft";
import type { Sheet } from "./sheet";

/** What a column holds, in words. */
export function meaningWord(meaning: Meaning, exercises: readonly Exercise[]): string {
  const [number, member] = meaning.split(".");
  if (member === undefined) return words[`m_${meaning as Member | Whole}`]();
  const exercise = exercises.find(one => one.number === Number(number));
  return words.m_of({
    exercise: exercise?.name ?? words.exercise_n({ n: Number(number) }),
    what: words[`m_${member as Member}`](),
  });
}

export function faultsOf(draft: Draft, sheet: Sheet, exercises: readonly Exercise[]): Faults<Draft> {
  return {
    ...missing(draft, "name", "decimal_mark", "rows", "basis"),
    header_line: !/^\d{1,3}$/.test(draft.header_line.trim()) && words.header_line_wrong(),
    columns: sheet.columns === 0 ? words.no_columns() : columnsFault(draft, exercises),
    ...Object.fromEntries(doubled(draft).map(place => [`columns[${place}]`, words.doubled()])),
    ...exerciseFaults(draft, sheet),
  };
}

function columnsFault(draft: Draft, exercises: readonly Exercise[]): string | undefined {
  const parts = lacking(draft);
  if (parts.length > 0) return words.lacking({ what: list(parts.map(one => meaningWord(one, exercises))) });
  const none = draft.rows === "row_per_test" && measuredExercises(draft).length === 0;
  return none ? words.lacking_any() : undefined;
}

function exerciseFaults(draft: Draft, sheet: Sheet): Faults<Draft> {
  if (draft.rows !== "row_per_exercise") return {};
  const keys = unplaced(draft, sheet);
  if (keys.length > NAMES_MAX) return { exercises: words.exercises_many() };
  const open = keys.filter(key => placed(draft, key) === "");
  if (open.length > 0) return Object.fromEntries(open.map(key => [`exercises[${key}]`, kit.required()]));
  return { exercises: keys.every(key => placed(draft, key) === "out") && words.exercises_none() };
}
