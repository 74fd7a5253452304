// The letters of a roster file, and the names of its columns.
import Papa from "papaparse";

/** UTF-8 is what the server takes; the others are what old programs write, by the WHATWG Encoding Standard's names. */
export const LETTERS = ["utf8", "1252", "1250", "1251"] as const;
export type Letters = (typeof LETTERS)[number];

/** The bytes as they are, or as UTF-8 when somebody said how they are written. */
export function inUtf8(bytes: ArrayBuffer, letters: Letters): Blob {
  const type = "text/csv";
  if (letters === "utf8") return new Blob([bytes], { type });
  return new Blob([new TextDecoder(`windows-${letters}`).decode(bytes)], { type });
}

/** The names of the columns, to choose from: the cells of the first line. */
export function headersOf(text: string, delimiter: string): string[] {
  const { data } = Papa.parse<string[]>(text, { delimiter, preview: 1 });
  return (data[0] ?? []).map(cell => cell.trim()).filter(Boolean);
}
