// A delimited file as a person points at it. What it means is decided by the server, which reads it by the mapping.
import Papa from "papaparse";
import type { Wire } from "../../api/client";

export const DELIMITERS = ["comma", "semicolon", "tab"] as const;
export type Delimiter = Exclude<Wire<"Delimiter">, "from_file">;
const SIGNS: Record<Delimiter, string> = { comma: ",", semicolon: ";", tab: "\t" };

/** The most that is read for pointing at: the server reads the whole file. */
const ROWS_MAX = 1000;

export interface Sheet {
  /** One for each column; empty where no line names them. */
  headers: string[];
  rows: string[][];
  columns: number;
}

/** What most likely separates the columns, by the line that names them; a person looks at it. */
export function likelyDelimiter(text: string): Delimiter {
  const cells = (one: Delimiter) => sheetOf(text, one, 1).headers.length;
  // A comma comes last: among equals it is a decimal mark.
  return DELIMITERS.toReversed().reduce((best, one) => (cells(one) > cells(best) ? one : best));
}

/** The cells from the line on that names the columns, counted from 1 as an editor counts; 0 where no line does. */
export function sheetOf(text: string, delimiter: Delimiter, headerLine: number): Sheet {
  const lines = text.replace(/^\uFEFF/, "").split(/\r\n|\n|\r/);
  const rest = lines.slice(Math.max(0, headerLine - 1)).join("\n");
  const options = { delimiter: SIGNS[delimiter], newline: "\n" as const, preview: ROWS_MAX };
  const { data } = Papa.parse<string[]>(rest, { ...options, skipEmptyLines: "greedy" });
  const rows = data.map(row => row.map(cell => cell.trim()));
  const headers = headerLine > 0 ? (rows.shift() ?? []) : [];
  return { headers, rows, columns: Math.max(headers.length, rows[0]?.length ?? 0) };
}

/** The cells of one column that differ from each other, in the order in which they come. */
export const differing = (sheet: Sheet, column: number): string[] => [
  ...new Set(sheet.rows.map(row => row[column] ?? "").filter(Boolean)),
];

/** A column by its header, or by its number where that is the only thing that tells it from the others. */
export function columnOf(sheet: Sheet, place: number): Wire<"Column"> {
  const header = sheet.headers[place] ?? "";
  const alone = header !== "" && sheet.headers.filter(other => other === header).length === 1;
  return alone ? header : place + 1;
}

/** The place of a column in a file; -1 where the file has no such column, or several. */
export function placeOf(sheet: Sheet, column: Wire<"Column">): number {
  if (typeof column === "number") return column <= sheet.columns ? column - 1 : -1;
  const name = column.trim();
  const place = sheet.headers.indexOf(name);
  return place === sheet.headers.lastIndexOf(name) ? place : -1;
}
