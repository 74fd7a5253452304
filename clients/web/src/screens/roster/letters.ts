// The letters of a roster file, and the names of its columns.

/** UTF-8 is what the server takes; the others are what old programs write, by the WHATWG Encoding Standard's names. */
export const LETTERS = ["utf8", "1252", "1250", "1251"] as const;
export type Letters = (typeof LETTERS)[number];

/** The bytes as they are, or as UTF-8 when somebody said how they are written. */
export function inUtf8(bytes: ArrayBuffer, letters: Letters): Blob {
  const type = "text/csv";
  if (letters === "utf8") return new Blob([bytes], { type });
  return new Blob([new TextDecoder(`windows-${letters}`).decode(bytes)], { type });
}

/** The names of the columns, to choose from: the cells of the first line that says anything. */
export function headersOf(text: string, delimiter: string): string[] {
  const line = text.replace(/^\uFEFF/, "").split(/\r\n|\n|\r/, 1)[0] ?? "";
  const cells: string[] = [];
  let cell = "";
  let quoted = false;
  for (const letter of line) {
    if (letter === '"') quoted = !quoted;
    else if (letter === delimiter && !quoted) {
      cells.push(cell.trim());
      cell = "";
    } else cell += letter;
  }
  return [...cells, cell.trim()].filter(Boolean);
}
