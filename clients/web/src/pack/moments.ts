// Moments as the server writes them: to the microsecond, which a number holds exactly and `Date` does not.

/** Microseconds since 1970 of an RFC 3339 time. */
export function micros(text: string): number {
  const fraction = /\.(\d+)/.exec(text)?.[1] ?? "";
  const beyondMillis = Number(fraction.padEnd(6, "0").slice(3, 6));
  return Date.parse(text) * 1000 + beyondMillis;
}

/**
 * The first moment after a day, yyyymmdd, in a time zone, in microseconds since 1970. Where a clock change skips
 * midnight, the next day begins at the first moment that exists; where midnight happens twice, at the first.
 */
export function endOfDay(day: number, zone: string): number {
  const midnight = Date.UTC(Math.floor(day / 10_000), (Math.floor(day / 100) % 100) - 1, (day % 100) + 1);
  // Clocks of the world lie between 12 hours behind and 14 ahead: within these, the first moment that shows the day.
  let [before, after] = [midnight - 15 * HOUR, midnight + 13 * HOUR];
  while (after - before > 1) {
    const middle = Math.floor((before + after) / 2);
    if (shown(middle, zone) >= midnight) after = middle;
    else before = middle;
  }
  return after * 1000;
}

const HOUR = 3_600_000;

/** What a clock in the zone shows, as if it were UTC. */
function shown(at: number, zone: string): number {
  const parts = formatOf(zone).formatToParts(at);
  const part = (type: string) => Number(parts.find(one => one.type === type)?.value);
  return Date.UTC(
    part("year"),
    part("month") - 1,
    part("day"),
    part("hour"),
    part("minute"),
    part("second"),
    ((at % 1000) + 1000) % 1000,
  );
}

const formats = new Map<string, Intl.DateTimeFormat>();

function formatOf(timeZone: string): Intl.DateTimeFormat {
  const known = formats.get(timeZone);
  if (known) return known;
  const numeric = "numeric" as const;
  const made = new Intl.DateTimeFormat("en", {
    timeZone,
    calendar: "gregory",
    hourCycle: "h23",
    year: numeric,
    month: numeric,
    day: numeric,
    hour: numeric,
    minute: numeric,
    second: numeric,
  });
  formats.set(timeZone, made);
  return made;
}
