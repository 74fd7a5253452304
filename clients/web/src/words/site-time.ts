// Dates and times as they are typed at the site, whatever zone the device is set to.
import { dateAtSite, timeZone } from "./format";

const DAY_MS = 86_400_000;

/** A moment as a field of date and time holds it: `2026-11-27T07:00`, on the clocks of the site. */
export function typedAtSite(value: string | number | Date): string {
  const at = new Date(value);
  const parts = new Intl.DateTimeFormat("en", {
    timeZone: timeZone.value,
    hour: "2-digit",
    minute: "2-digit",
    hourCycle: "h23",
  }).formatToParts(at);
  const part = (type: string) => parts.find(one => one.type === type)?.value ?? "";
  return `${dateAtSite(at)}T${part("hour")}:${part("minute")}`;
}

/**
 * The moment that was typed as `2026-11-27T07:00`; nothing where that is no time. Of an hour that the clocks repeat it
 * is the first; in an hour that they skip it is as much later as they skip.
 */
export function momentTyped(text: string): string | undefined {
  // What a browser's field hands out; others read a bare ":00Z" as some year.
  const local = /^\d{4}-\d\d-\d\dT\d\d:\d\d$/.test(text) ? Date.parse(`${text}:00Z`) : NaN;
  if (Number.isNaN(local)) return undefined;
  // How far the site's clocks were ahead, before any change of that day and after it.
  const [before, after] = [local - DAY_MS, local + DAY_MS].map(
    at => Date.parse(`${typedAtSite(at)}:00Z`) - at,
  );
  const found = [before ?? 0, after ?? 0].map(ahead => local - ahead).find(at => typedAtSite(at) === text);
  return new Date(found ?? local - (before ?? 0)).toISOString();
}
