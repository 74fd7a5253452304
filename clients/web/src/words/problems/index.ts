import type { Problem, ProblemCode } from "../../api/problem";
import { filled } from "../define";
import { language } from "../language";
import { problemsEn } from "./en";
import { problemsEs } from "./es";

const tables = { en: problemsEn, es: problemsEs };

/** What happened and what to do, in the reader's language. */
export function explain(problem: Problem): { happened: string; todo: string } {
  const row = tables[language.value][problem.code];
  // A newer server may refuse with a code that these screens do not know yet: its own sentence is better than none.
  if (!row) return { happened: problem.detail, todo: "" };
  const fill = Object.fromEntries(
    Object.entries(problem.facts).filter(
      (fact): fact is [string, string | number] => typeof fact[1] === "string" || typeof fact[1] === "number",
    ),
  );
  const todo = filled(row[1], fill);
  // A number that was not sent leaves a gap in the sentence; then the first half has to do.
  return { happened: row[0], todo: todo.includes("{") ? "" : todo };
}

/** What a code means, for a state that carries one. */
export const meaning = (code: ProblemCode): string => tables[language.value][code]?.[0] ?? code;
