// A station with everything it needs, somebody who waits for it, and a page whose clock the test drives.
import type { Page } from "playwright-core";
import { expect, onTestFinished } from "vitest";
import { account, Actor, newId, person, type Place } from "./hospital";
import { open, type Look } from "./pages";
import { Cable } from "./wire";

/** How far back the tests play, so that a whole test ends before now. */
const BACK_MS = 60 * 60_000;
const TICK_MS = 40;

interface Row {
  id: string;
  [member: string]: unknown;
}

export interface Room {
  place: Place;
  /** When the page's time begins. */
  start: number;
  respirators: Row[];
  /** The lot that each nebulizer is filled from, by agent and solution: `saccharin test`. */
  lots: Map<string, string>;
}

let rooms = 0;

/** A day of its own with one station that screens and tests, its nebulizers filled for both taste agents. */
export async function room(): Promise<Room> {
  const here = await bare(["screening", "testing"]);
  const at = (minutes: number) => new Date(here.start + minutes * 60_000).toISOString();
  const stores = await Actor.signIn("storekeeper");
  for (const agent of ["saccharin", "denatonium_benzoate"]) {
    for (const [solution, lot] of await fill(stores, here.place.station?.id ?? "", agent, at))
      here.lots.set(`${agent} ${solution}`, lot);
  }
  return here;
}

/** A day of its own with one station that measures: without any that screens, everybody is measured. */
export const measuringRoom = (): Promise<Room> => bare(["measuring"]);

async function bare(parts: string[]): Promise<Room> {
  const start = Date.now() - BACK_MS;
  const at = (minutes: number) => new Date(start + minutes * 60_000).toISOString();
  const coordinator = await Actor.signIn("coordinator");
  const { site_id } = await coordinator.get<{ site_id: string }>("/api/v1/sessions/current");
  const day = await coordinator.post<Row>("/api/v1/days", {
    id: newId(),
    place: `Plover wing ${++rooms}`,
    opens_at: at(-180),
    closes_at: at(600),
  });
  const station = await addStation(day, `Chair ${rooms}`, parts);
  const { items } = await coordinator.get<{ items: Row[] }>("/api/v1/respirators");
  // Those of the demonstration: tests of set-up list others, and take them away again, at any time.
  const respirators = items.filter(one => one["facepiece"] === "filtering_facepiece");
  return { place: { site: site_id, day, station }, start, respirators, lots: new Map() };
}

export async function addStation(day: Row, name: string, parts = ["screening", "testing"]): Promise<Row> {
  const coordinator = await Actor.signIn("coordinator");
  const body = { id: newId(), name, parts };
  return coordinator.post<Row>(`/api/v1/days/${day.id}/stations`, body);
}

/** Fills the nebulizers of a station for one agent; returns the lots, by solution. */
export async function fill(
  stores: Actor,
  station_id: string,
  agent: string,
  at: (minutes: number) => string,
): Promise<Map<string, string>> {
  const lots = new Map<string, string>();
  const { items: places } = await stores.get<{ items: Row[] }>("/api/v1/places?limit=500");
  const place = places.find(one => one["station_id"] === station_id);
  if (!place) throw new Error("the station is no place of the stores");
  for (const solution of ["screening", "test"]) {
    const lot_number = newId();
    const lot = await stores.post<Row>("/api/v1/lots", {
      id: newId(),
      agent,
      solution,
      lot_number,
      lot_number_again: lot_number,
      maker: "Brenning Optics",
      printed_expiry: "2099-12",
      printed_expiry_again: "2099-12",
      happened_at: at(-120),
    });
    const bottle = await stores.post<Row>("/api/v1/bottles", {
      id: newId(),
      lot_id: lot.id,
      label: newId(),
      volume_ul: 55_000,
      place_id: place.id,
      happened_at: at(-110),
    });
    await stores.post(`/api/v1/bottles/${bottle.id}/openings`, { id: newId(), happened_at: at(-100) });
    const nebulizer = await stores.post<Row>("/api/v1/equipment", {
      id: newId(),
      kind: "nebulizer",
      label: newId(),
      happened_at: at(-120),
    });
    await stores.post("/api/v1/fills", {
      id: newId(),
      station_id,
      bottle_id: bottle.id,
      nebulizer: nebulizer["label"],
      volume_ul: 20_000,
      rinsed: true,
      happened_at: at(-60),
    });
    lots.set(solution, lot.id);
  }
  return lots;
}

/** Somebody who is checked in and may be called at once. */
export async function waiting({ place, start }: Room): Promise<{ person: Row; visit: Row }> {
  const somebody = await person();
  const desk = await Actor.signIn("check_in");
  const visit = await desk.post<Row>("/api/v1/visits", {
    id: newId(),
    day_id: place.day.id,
    person_id: somebody.id,
    answers: { hair_at_seal: false, feels_well: true, face_changed: false },
    happened_at: new Date(start - 60_000).toISOString(),
  });
  return { person: somebody, visit };
}

/** A tester's page at the station, behind a cable of its own, in the time of the room. */
export class Chairside {
  private told = 0;
  private pumping = true;

  private constructor(
    public page: Page,
    readonly cable: Cable,
    private readonly begun: number,
  ) {}

  static async sit({ place, start }: Room, look: Look & { fastMs?: number } = {}): Promise<Chairside> {
    const cable = await Cable.lay();
    const page = await open({ ...look, at: place, base: cable.address });
    const answer = await page.context().request.post("/api/v1/sessions", { data: account("tester") });
    expect(answer.status()).toBe(201);
    const device = start + (look.fastMs ?? 0);
    const side = new Chairside(page, cable, start);
    // The clock runs once it is installed, and is stopped at a moment ahead of it.
    await page.clock.install({ time: device - 10 * 60_000 });
    await page.clock.pauseAt(device);
    side.pump();
    await page.goto("/screens/station");
    return side;
  }

  /** The time of the room, as the test has moved it. */
  get now(): number {
    return this.begun + this.told;
  }

  /** Lets the page's time run at about the real pace, and never faster than the page follows. */
  private pump(): void {
    const run = async () => {
      while (this.pumping) {
        await this.go(TICK_MS).catch(() => undefined);
        await new Promise(done => setTimeout(done, 10));
      }
    };
    const running = run();
    onTestFinished(async () => {
      this.pumping = false;
      await running;
    });
  }

  private queue: Promise<void> = Promise.resolve();

  /** Moves the page's time on, and with it what the server behind the cable says the time is. */
  go(ms: number): Promise<void> {
    // A page that was closed meanwhile fails its own step, and no later one.
    const before = this.queue.catch(() => undefined);
    this.queue = before.then(async () => {
      if (ms > 1000) await this.page.clock.fastForward(ms);
      else await this.page.clock.runFor(ms);
      this.told += ms;
      this.cable.shift = this.now - Date.now();
    });
    return this.queue;
  }

  /** Moves the page's time to a moment of the room. */
  async until(moment: number): Promise<void> {
    if (moment > this.now) await this.go(moment - this.now);
  }

  async press(name: string | RegExp): Promise<void> {
    await this.page.getByRole("button", { name, exact: typeof name === "string" }).click();
  }

  async sees(text: string | RegExp): Promise<void> {
    await this.page.getByText(text).first().waitFor();
  }

  /** Closes the page as a dead battery would, and opens the station again in a new one. */
  async dies(): Promise<void> {
    const { page } = this;
    this.page = await page.context().newPage();
    await page.close({ runBeforeUnload: false });
    await this.page.goto("/screens/station");
  }
}
