// The mistakes that the server found in the text of a rule set, and where they stand in it.
import type { Problem } from "../../api/problem";

export interface Mistake {
  /** From 1, as editors count. */
  line: number;
  /** The character in the line, from 1. */
  column: number;
  key: string;
  kind: "malformed" | "looser_without_confirmation";
  reason: string;
}

/** None where the problem is another one. */
export function mistakesOf(problem: Problem | undefined): Mistake[] {
  const found = problem?.facts["mistakes"];
  return Array.isArray(found) ? (found as Mistake[]) : [];
}

/** How far from the beginning of the text it stands. The server counts characters, a text field counts UTF-16 units. */
export function placeOf(text: string, { line, column }: Pick<Mistake, "line" | "column">): number {
  const lines = text.split("\n");
  const before = lines.slice(0, line - 1).reduce((sum, one) => sum + one.length + 1, 0);
  const within = [...(lines[line - 1] ?? "")].slice(0, column - 1).join("").length;
  return Math.min(before + within, text.length);
}
