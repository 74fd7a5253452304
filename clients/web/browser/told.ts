// Runs of other stations, told to the server without a browser.
import { Actor, newId } from "./hospital";
import { MINUTE } from "./chair";
import { addStation, fill, type Room } from "./room";

/** What happened, by the second at which it did. */
type Said = [second: number, kind: object];

export interface Run {
  visit_id: string;
  station_id: string;
  respirator_id: string | undefined;
  /** When it begins, in milliseconds since 1970. */
  now: number;
}

/** Seven exercises of a minute, a dose each half minute from the first one on, and none at the very end. */
const EXERCISES = Array.from({ length: 7 }, (_, index): Said[] => {
  const from = 310 + 60 * index;
  const [middle, end] = [from + 30, from + 60];
  return [
    [from, { kind: "exercise_started", number: index + 1 }],
    [middle, { kind: "dose_given", squeezes: 5 }],
    ...(index < 6 ? [[end, { kind: "dose_given", squeezes: 5 }] as Said] : []),
    [end, { kind: "exercise_ended", number: index + 1 }],
  ];
}).flat();

const WHOLE: Said[] = [
  [6, { kind: "donned", by_wearer: true }],
  [7, { kind: "seal_checked", result: "ok" }],
  [305, { kind: "hooded", taste_gone: true }],
  [310, { kind: "dose_given", squeezes: 10 }],
  ...EXERCISES,
  [735, { kind: "asked_again", tasted: false, comfortable: true }],
  [736, { kind: "nebulizer_checked", clear: true }],
  [740, { kind: "signed" }],
];

const moment = (now: number) => (seconds: number) => new Date(now + seconds * 1000).toISOString();

const events = (said: readonly Said[], now: number) => ({
  events: said.map(([second, kind], index) => ({
    seq: index + 1,
    happened_at: moment(now)(second),
    ...kind,
  })),
});

/** Screens the person who was called: level 10. Returns the screening. */
export async function screened(tester: Actor, run: Omit<Run, "respirator_id">): Promise<string> {
  const { visit_id, station_id, now } = run;
  const body = { id: newId(), agent: "saccharin", visit_id, station_id, happened_at: moment(now)(2) };
  await tester.post("/api/v1/screenings", body);
  const said: Said[] = [
    [3, { kind: "explained" }],
    [4, { kind: "set_done", tasted: true, squeezes: 7 }],
  ];
  await tester.post(`/api/v1/screenings/${body.id}/events`, events(said, now));
  return body.id;
}

/** Opens an attempt for whoever was screened. Returns it. */
export async function opened(tester: Actor, run: Run, screening_id: string): Promise<string> {
  const { now, ...opening } = run;
  const id = newId();
  await tester.post("/api/v1/attempts", { id, screening_id, happened_at: moment(now)(5), ...opening });
  return id;
}

/** Screens the person who was called, and lets them pass. Returns the attempt. */
export async function passes(tester: Actor, run: Run): Promise<string> {
  const attempt = await opened(tester, run, await screened(tester, run));
  await tester.post(`/api/v1/attempts/${attempt}/events`, events(WHOLE, run.now));
  return attempt;
}

/** Another station calls the person and lets them pass; returns the attempt. */
export async function passesElsewhere(
  { place, start, respirators }: Room,
  visit_id: string,
  now: number,
): Promise<string> {
  const at = moment(now);
  const [tester, stores] = [await Actor.signIn("tester"), await Actor.signIn("storekeeper")];
  const station = await addStation(place.day, "Another chair");
  await fill(stores, station.id, "saccharin", minutes => new Date(start + minutes * MINUTE).toISOString());
  const again = { id: newId(), reason: "other", wait_seconds: 0, happened_at: at(0) };
  await tester.post(`/api/v1/visits/${visit_id}/returns`, again);
  const call = { id: newId(), step: "screening", happened_at: at(1) };
  await tester.post(`/api/v1/stations/${station.id}/calls`, call);
  return passes(tester, { visit_id, station_id: station.id, respirator_id: respirators[0]?.id, now });
}
