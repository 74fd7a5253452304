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
