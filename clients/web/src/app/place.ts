// Which day, and which station of it, this device works at. Remembered per site, because a tablet stays where it is.
import { computed, signal } from "@preact/signals";
import { all, api, type Wire } from "../api/client";
import { dateAtSite } from "../words/format";
import { remembered } from "./remembered";
import { session } from "./session";

export type Day = Wire<"DayView">;
export type Station = Wire<"StationView">;

interface Kept {
  site: string;
  day: Day;
  station: Station | null;
}

const kept = remembered<Kept | null>("place", null);
const chosen = signal<Kept | null>(kept.get());

const ours = computed(() => (chosen.value?.site === session.value?.site_id ? chosen.value : null));
export const day = computed<Day | null>(() => ours.value?.day ?? null);
export const station = computed<Station | null>(() => ours.value?.station ?? null);

export function choosePlace(nextDay: Day, nextStation: Station | null): void {
  const site = session.value?.site_id;
  if (!site) return;
  const next = { site, day: nextDay, station: nextStation };
  kept.set(next);
  chosen.value = next;
}

/** A day that is over for this device: another one is chosen next time. */
export function forgetPlace(): void {
  kept.set(null);
  chosen.value = null;
}

const isToday = (one: Day) =>
  dateAtSite(one.opens_at) <= dateAtSite() && dateAtSite() <= dateAtSite(one.closes_at);

/** The open days, today's first, then the nearest. */
export async function openDays(): Promise<Day[]> {
  const days = await all(cursor => api.GET("/api/v1/days", { params: { query: { cursor } } }));
  const distance = (one: Day) => Math.abs(Date.parse(one.opens_at) - Date.now());
  return days
    .filter(one => !one.closed_at)
    .sort((one, other) => Number(isToday(other)) - Number(isToday(one)) || distance(one) - distance(other));
}

/** The one open day of today, when there is no choice to make. */
export async function onlyDayOfToday(): Promise<Day | undefined> {
  const today = (await openDays()).filter(isToday);
  return today.length === 1 ? today[0] : undefined;
}

/** Whether a station takes people. */
export const isOpen = (one: Station): boolean => !one.closed_at;

export const stationsOf = (dayId: string): Promise<Station[]> =>
  all(cursor =>
    api.GET("/api/v1/days/{day_id}/stations", { params: { path: { day_id: dayId }, query: { cursor } } }),
  );
