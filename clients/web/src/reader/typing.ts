// A USB scanner is a keyboard that types fast. What it types is taken wherever the focus is, so that nobody has to put it
// anywhere; what a person types into a field stays theirs.
import { useEffect, useRef } from "preact/hooks";
import { PREFIX } from "../badge/code";

/** Keys of a scanner follow each other within a few milliseconds; a person needs longer for each. */
const BURST_MS = 80;
/** No hand begins a line like a badge: the rest of it may take its time, on a device that is busy. */
const SURE_MS = 1_500;
/** Shorter lines are a hand on the keyboard. */
const SHORTEST = 6;
/** Far longer than any code; the rest is passed over. */
const LONGEST = 1_000;

/** Gathers keys into lines. `key` says whether it took the key. */
export class Line {
  private text = "";
  private lastAt = -Infinity;

  constructor(private readonly onLine: (line: string) => void) {}

  key(key: string, at: number): boolean {
    const fast = at - this.lastAt < (this.text.startsWith(PREFIX) ? SURE_MS : BURST_MS);
    if (!fast) this.text = "";
    if (key === "Enter" || key === "Tab") {
      const line = this.text;
      this.text = "";
      if (!fast || line.length < SHORTEST) return false;
      this.onLine(line);
      return true;
    }
    if (key.length !== 1) return fast && key === "Shift";
    this.lastAt = at;
    if (this.text.length < LONGEST) this.text += key;
    // A blank or a letter would press what has the focus, or scroll the page.
    return this.text.length > 1;
  }
}

const isField = (target: EventTarget | null): boolean =>
  target instanceof HTMLElement &&
  target.matches("input:not([type=radio]):not([type=checkbox]), textarea, select");

/** Lines that a scanner types anywhere on the page but into a field. */
export function useScanner(onLine: (line: string) => void): void {
  const latest = useRef(onLine);
  latest.current = onLine;
  useEffect(() => {
    const line = new Line(text => latest.current(text));
    const press = (event: KeyboardEvent) => {
      if (isField(event.target) || event.ctrlKey || event.altKey || event.metaKey) return;
      if (!line.key(event.key, event.timeStamp)) return;
      event.preventDefault();
      event.stopPropagation();
    };
    window.addEventListener("keydown", press, true);
    return () => window.removeEventListener("keydown", press, true);
  }, []);
}
