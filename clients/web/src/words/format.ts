// Times and dates as the site reads them: in its time zone, in the language of the reader.
import { signal } from "@preact/signals";
import { defineWords } from "./define";
import { locale } from "./language";

/** The site's time zone. Everybody at the site reads the same clock, whatever their tablet is set to. */
export const timeZone = signal<string>(Intl.DateTimeFormat().resolvedOptions().timeZone);

type Moment = string | number | Date;
const moment = (value: Moment) => (value instanceof Date ? value : new Date(value));

const format = (value: Moment, options: Intl.DateTimeFormatOptions) =>
  new Intl.DateTimeFormat(locale(), { timeZone: timeZone.value, ...options }).format(moment(value));

/** 09:40 */
export const clock = (value: Moment) =>
  format(value, { hour: "2-digit", minute: "2-digit", hourCycle: "h23" });
/** 09:40:07 */
export const clockWithSeconds = (value: Moment) =>
  format(value, { hour: "2-digit", minute: "2-digit", second: "2-digit", hourCycle: "h23" });
/** Fri 27 Nov */
export const shortDay = (value: Moment) =>
  format(value, { weekday: "short", day: "numeric", month: "short" });
/** 27 November 2026, 09:40 */
export const dayAndClock = (value: Moment) => `${format(value, { dateStyle: "long" })}, ${clock(value)}`;

/** A date without a time, such as a due date: the same day wherever it is read. */
export const date = (text: string) =>
  new Intl.DateTimeFormat(locale(), { dateStyle: "long", timeZone: "UTC" }).format(
    new Date(`${text}T00:00Z`),
  );

/** Month and day of birth from `04-17`. */
export const monthDay = (text: string) =>
  new Intl.DateTimeFormat(locale(), { day: "numeric", month: "long", timeZone: "UTC" }).format(
    // A leap year, so that 29 February is a day.
    new Date(`2000-${text}T00:00Z`),
  );

export const number = (value: number) => new Intl.NumberFormat(locale()).format(value);

/** Microlitres as millilitres, to the tenth: "12.5 ml". */
export function millilitres(microlitres: number): string {
  // Next to nothing is nothing, and never "-0.0".
  const tenths = Math.round(microlitres / 100) || 0;
  const form = { minimumFractionDigits: 1, maximumFractionDigits: 1 };
  return `${new Intl.NumberFormat(locale(), form).format(tenths / 10)} ml`;
}

/** A small number in as many digits as tell it from nothing. */
export const roughly = (value: number) =>
  new Intl.NumberFormat(locale(), { maximumSignificantDigits: 1 }).format(value);

/** A share of one, in whole percent. */
export const percent = (share: number) =>
  new Intl.NumberFormat(locale(), { style: "percent", maximumFractionDigits: 0 }).format(share);

export const list = (texts: string[]) => new Intl.ListFormat(locale(), { type: "conjunction" }).format(texts);

/** The date at the site, as `2026-11-27`. */
export function dateAtSite(value: Moment = Date.now()): string {
  const parts = new Intl.DateTimeFormat("en", {
    timeZone: timeZone.value,
    year: "numeric",
    month: "2-digit",
    day: "2-digit",
  }).formatToParts(moment(value));
  const part = (type: string) => parts.find(one => one.type === type)?.value ?? "";
  return `${part("year")}-${part("month")}-${part("day")}`;
}

/**
 * The moment that the site's clocks call `2026-11-27T09:40`, wherever it was typed. An hour that comes twice is its
 * first one; one that is left out is the hour after it.
 */
export function momentAtSite(text: string): Date {
  const asUtc = Date.parse(`${text}Z`);
  const ahead = (at: number) => {
    const read = new Intl.DateTimeFormat("sv-SE", {
      timeZone: timeZone.value,
      dateStyle: "short",
      timeStyle: "medium",
    });
    return Date.parse(`${read.format(at).replace(" ", "T")}Z`) - Math.floor(at / 1000) * 1000;
  };
  // The two offsets that may hold there differ only where clocks are changed.
  const [before, after] = [ahead(asUtc - 86_400_000), ahead(asUtc + 86_400_000)];
  const first = asUtc - Math.max(before, after);
  const holds = first + ahead(first) === asUtc;
  return new Date(holds ? first : asUtc - Math.min(before, after));
}

/** 4:07, for countdowns. Rounded up, so that 0:00 means that it is over. */
export function minutesAndSeconds(milliseconds: number): string {
  const seconds = Math.max(0, Math.ceil(milliseconds / 1000));
  return `${Math.floor(seconds / 60)}:${String(seconds % 60).padStart(2, "0")}`;
}

const spans = defineWords({
  en: {
    seconds: { one: "{n} second", other: "{n} seconds" },
    minutes: { one: "{n} minute", other: "{n} minutes" },
    hours: { one: "{n} hour", other: "{n} hours" },
    days: { one: "{n} day", other: "{n} days" },
  },
  es: {
    seconds: { one: "{n} segundo", other: "{n} segundos" },
    minutes: { one: "{n} minuto", other: "{n} minutos" },
    hours: { one: "{n} hora", other: "{n} horas" },
    days: { one: "{n} día", other: "{n} días" },
  },
});

/** How long, in the largest unit that fits: "3 minutes". */
export function span(milliseconds: number): string {
  const seconds = Math.max(0, Math.round(milliseconds / 1000));
  if (seconds < 60) return spans.seconds({ n: seconds });
  if (seconds < 3600) return spans.minutes({ n: Math.floor(seconds / 60) });
  if (seconds < 172_800) return spans.hours({ n: Math.floor(seconds / 3600) });
  return spans.days({ n: Math.floor(seconds / 86_400) });
}
