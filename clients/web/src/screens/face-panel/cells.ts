// The cells of a panel as they are typed or pasted from a table.
import type { Wire } from "../../api/client";

type Cell = Wire<"Cell">;

/** A decimal number in either way of writing it; numbers stay as texts, so that nothing is rounded on the way. */
const NUMBER = /^\d{1,4}([.,]\d{1,3})?$/;

/** The cells, or the first line (from 1) that is none. Empty lines are left out. */
export function readCells(text: string): { cells: Cell[] } | { wrong: number } {
  const cells: Cell[] = [];
  for (const [n, line] of text.split("\n").entries()) {
    if (line.trim() === "") continue;
    const [name = "", ...typed] = line.split(/[;\t]/).map(one => one.trim());
    const bounds = typed.map(one => one.replace(",", "."));
    const [length_from_mm, length_below_mm, width_from_mm, width_below_mm, ...more] = bounds;
    const whole =
      name !== "" && more.length === 0 && bounds.length === 4 && bounds.every(one => NUMBER.test(one));
    if (!whole || !length_from_mm || !length_below_mm || !width_from_mm || !width_below_mm) {
      return { wrong: n + 1 };
    }
    const upright =
      Number(length_from_mm) < Number(length_below_mm) && Number(width_from_mm) < Number(width_below_mm);
    if (!upright) return { wrong: n + 1 };
    cells.push({ name, length_from_mm, length_below_mm, width_from_mm, width_below_mm });
  }
  return { cells };
}
