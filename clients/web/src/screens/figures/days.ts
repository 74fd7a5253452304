// From which day to which something is counted, on the calendar of the site.
import { dateAtSite, momentAtSite } from "../../words/format";

/** The first and the last day as fields hold them; an empty one is not chosen yet. */
export interface Days {
  from: string;
  to: string;
}

const DAY_MS = 86_400_000;
/** The server answers for no longer than this. */
const DAYS_MAX = 366;

const utc = (day: string): number => Date.parse(`${day}T00:00Z`);
const later = (day: string, days: number): string =>
  new Date(utc(day) + days * DAY_MS).toISOString().slice(0, 10);

/** Today and the days before it, so many in all. */
export function lastDays(count: number, now: number = Date.now()): Days {
  const to = dateAtSite(now);
  return { from: later(to, 1 - count), to };
}

/** Why nothing can be counted; undefined where it can. */
export function daysFault({ from, to }: Days): "missing" | "order" | "long" | undefined {
  if (!from || !to) return "missing";
  if (to < from) return "order";
  return (utc(to) - utc(from)) / DAY_MS >= DAYS_MAX ? "long" : undefined;
}

/** The moments between which these days lie, whatever the clocks did in between. */
export const momentsOf = ({ from, to }: Days): { from: string; until: string } => ({
  from: momentAtSite(`${from}T00:00`).toISOString(),
  until: momentAtSite(`${later(to, 1)}T00:00`).toISOString(),
});
