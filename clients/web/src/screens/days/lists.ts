import { all, api, type Wire } from "../../api/client";
import { useResource } from "../../app/use-resource";
import type { Tone } from "../../kit/shape";

export type Day = Wire<"DayView">;

export const readDays = () =>
  all(cursor => api.GET("/api/v1/days", { params: { query: { cursor, limit: 500 } } }));

// Whether a day is open follows from the clock.
export const useDays = () => useResource("all days", readDays, { nouns: ["days"], everyMs: 60_000 });

export type DayState = "planned" | "open_now" | "over" | "closed";

export const STATE_TONES: Record<DayState, Tone> = {
  planned: "wait",
  open_now: "go",
  over: "plain",
  closed: "plain",
};

/** Where a day stands by its hours and by whether somebody closed it. */
export function dayState(day: Day, now = Date.now()): DayState {
  if (day.closed_at) return "closed";
  if (now < Date.parse(day.opens_at)) return "planned";
  return now < Date.parse(day.closes_at) ? "open_now" : "over";
}
