// One whole day, from the desk to the door, as its people live it; and what may go wrong with it on the way.
import type { Page } from "playwright-core";
import { describe, expect, it } from "vitest";
import {
  attemptOf,
  begins,
  closes,
  exercises,
  fits,
  judgedOf,
  MINUTE,
  screens,
  tastesNothing,
} from "./chair";
import { answered, type Badge, door, openDoor, scanLine } from "./doors";
import { account, Actor, newId, person } from "./hospital";
import { AWAY, expectComplaint, open, openAs } from "./pages";
import { addStation, Chairside, fill, room, type Room, waiting } from "./room";
import { opened, passes, screened } from "./told";

/** Nobody is ready: the server says so with a refusal. */
const NOBODY = /status of 422/;

interface Row {
  id: string;
  [member: string]: unknown;
}

interface Clearances {
  items: { respirator_id: string; state: string; reasons: string[] }[];
}

/** The desk of the day, at the room's time. */
async function desk({ place, start }: Room): Promise<Page> {
  const page = await open({ at: { ...place, station: null } });
  const answer = await page.context().request.post("/api/v1/sessions", { data: account("check_in") });
  expect(answer.status()).toBe(201);
  await page.clock.install({ time: start - 2 * MINUTE });
  await page.goto("/screens/check-in");
  return page;
}

/** Scanned at the desk, asked, and told one word. */
async function checksIn(page: Page, somebody: Row): Promise<void> {
  await page.getByLabel("Name or staff number").fill(String(somebody["staff_number"]));
  await page.keyboard.press("Enter");
  const answers: [RegExp, string][] = [
    [/^Ate, drank/, "No"],
    [/^Feels well/, "Yes"],
    [/^Skin clean-shaven/, "Yes"],
    [/^Has the face changed/, "No"],
  ];
  for (const [question, answer] of answers) {
    await page
      .getByRole("group", { name: question })
      .getByRole("radio", { name: answer, exact: true })
      .check();
  }
  await page.getByRole("button", { name: "Check in", exact: true }).click();
  await page.locator(".answer-word").getByText("Ready").waitFor();
}

/** What the person is cleared for, as the server has it. */
async function cleared(somebody: Row): Promise<Map<string, string>> {
  const coordinator = await Actor.signIn("coordinator");
  const { items } = await coordinator.get<Clearances>(`/api/v1/people/${somebody.id}/clearances`);
  return new Map(items.map(one => [one.respirator_id, [one.state, ...one.reasons].join(" ")]));
}

/** A badge for the person, made at the badge desk. */
async function badge(somebody: Row): Promise<Badge> {
  const badges = await Actor.signIn("badge_desk");
  return badges.post<Badge>("/api/v1/badges", {
    id: newId(),
    person_id: somebody.id,
    happened_at: new Date().toISOString(),
  });
}

/** The word that a door shows for a badge that is scanned there. */
async function said(gate: Page, carried: Badge, word: string): Promise<void> {
  await scanLine(gate, carried.code ?? "");
  await answered(gate, word);
  await gate.getByRole("button", { name: "Next person" }).click();
  await answered(gate, "Ready for the next badge");
}

/** The window of a door at which this respirator is used. */
const doorFor = async (respirator_id: string): Promise<Page> => openDoor(await door([respirator_id]));

describe("one person's day", { timeout: 300_000 }, () => {
  it("leads from the desk over the chair to a badge that opens the door, until the record is corrected", async () => {
    const here = await room();
    const oriel = await person();
    await checksIn(await desk(here), oriel);
    const side = await Chairside.sit(here);
    await screens(side, 10);
    await fits(side);
    await exercises(side, 10, 7);
    await closes(side);
    await side.sees("Pass");
    const attempt = await judgedOf(oriel.id);
    expect((await cleared(oriel)).get(attempt.respirator_id)).toBe("cleared");

    const carried = await badge(oriel);
    const gate = await doorFor(attempt.respirator_id);
    await said(gate, carried, "Enter");
    // A door where another respirator is used does not open.
    const other = here.respirators.find(one => one.id !== attempt.respirator_id);
    await said(await doorFor(other?.id ?? ""), carried, "Not cleared");

    // The next morning somebody says that a colleague sat in that chair.
    const page = await openAs("coordinator", `/screens/people/${oriel.id}`);
    const rows = page.getByRole("table", { name: "Cleared for" }).getByRole("row");
    const row = rows.filter({ has: page.getByRole("rowheader") }).first();
    await row.getByText("Cleared", { exact: true }).waitFor();
    await page.getByRole("table", { name: "Attempts" }).getByRole("link").first().click();
    await page.getByText("Signed", { exact: true }).first().waitFor();
    await page.getByRole("button", { name: "Correct this record" }).click();
    await page.getByLabel("Why does this attempt not count?").fill("A colleague sat there, says the tester.");
    await page.getByRole("button", { name: "It does not count" }).click();
    await page.getByText("A colleague sat there, says the tester.").waitFor();
    await said(gate, carried, "Not cleared");
    expect((await attemptOf(oriel.id)).state.verdict?.outcome).toBe("pass");
  });

  it("goes on after a fail: another respirator, the whole procedure again, and a badge for that one only", async () => {
    expectComplaint(NOBODY);
    const here = await room();
    const { person: oriel } = await waiting(here);
    const side = await Chairside.sit(here);
    await screens(side, 10);
    await fits(side);
    await side.press("Given: 10");
    await side.press("Start exercise 1");
    await side.press("Tasted");
    await side.sees("Fail");
    await side.press(/^This is .* with/);
    await side.press("Sign");
    await side.press("Finish: clear the screen");
    const failed = await judgedOf(oriel.id);
    await side.go(16 * MINUTE);
    // 29 CFR 1910.134 App. A I.A.3 and I.B: another respirator, and the whole procedure, screening included.
    await screens(side, 10);
    await fits(side);
    await exercises(side, 10, 7);
    await closes(side);
    await side.sees("Pass");
    const passed = await judgedOf(oriel.id, failed.id);
    expect(passed.respirator_id).not.toBe(failed.respirator_id);
    expect(passed.screening_id).not.toBe(failed.screening_id);
    expect(await cleared(oriel)).toEqual(
      new Map([
        [failed.respirator_id, "not_cleared newest_is_fail"],
        [passed.respirator_id, "cleared"],
      ]),
    );
    const carried = await badge(oriel);
    await said(await doorFor(passed.respirator_id), carried, "Enter");
    await said(await doorFor(failed.respirator_id), carried, "Not cleared");
  });

  it("changes the agent when thirty squeezes of the sweet one are not tasted, and tests with the bitter one", async () => {
    const here = await room();
    const { person: oriel } = await waiting(here);
    const side = await Chairside.sit(here);
    await tastesNothing(side);
    await side.sees("Next: a new screening with denatonium benzoate (bitter).");
    await side.press("Finish: clear the screen");
    await side.go(16 * MINUTE);
    await begins(side);
    await side.sees(/denatonium benzoate \(bitter\)/);
    await side.press("All 10 given, nothing tasted");
    await side.sees("Set 2 of 3");
    await side.press("Tasted");
    await side.press("2");
    await side.sees("Level 20");
    await fits(side);
    await side.press("Given: 20");
    await side.press("Start exercise 1");
    const { method, plan } = await attemptOf(oriel.id);
    expect(method).toBe("denatonium_benzoate");
    // 29 CFR 1910.134 App. A I.B.5(b): half of the level every 30 seconds, with this agent too.
    expect(plan.doses).toMatchObject({ first_dose: 20, redose: 10, redose_interval_seconds: 30 });
  });
});

describe("a lot that is stopped", { timeout: 300_000 }, () => {
  it("while a station is out of reach: the test ends, is held, and no other begins", async () => {
    expectComplaint(AWAY, NOBODY);
    const here = await room();
    const { person: oriel } = await waiting(here);
    const side = await Chairside.sit(here);
    await screens(side, 10);
    await fits(side);
    const first = await exercises(side, 10, 1);
    side.cable.pull();
    const stores = await Actor.signIn("storekeeper");
    await stores.post(`/api/v1/lots/${here.lots.get("saccharin test")}/stops`, {
      id: newId(),
      reason: "Recalled by the maker.",
      happened_at: new Date(side.now).toISOString(),
    });
    await exercises(side, 10, 7, 2, first);
    await closes(side);
    await side.sees("Kept on this device");
    side.cable.plug();
    await side.go(31_000);
    await side.sees("Pass");
    const attempt = await judgedOf(oriel.id);
    expect(attempt.state.verdict?.outcome).toBe("pass");
    expect((await cleared(oriel)).get(attempt.respirator_id)).toBe("held lot_stopped");
    await side.press("Finish: clear the screen");

    const { visit } = await waiting(here);
    const station_id = here.place.station?.id ?? "";
    const tester = await Actor.signIn("tester");
    // Now, and not in the time of the room: nobody is held to a stop that was not known then.
    const now = Date.now() - 6_000;
    const call = { id: newId(), step: "screening", happened_at: new Date(now).toISOString() };
    await tester.post(`/api/v1/stations/${station_id}/calls`, call);
    const run = { visit_id: visit.id, station_id, respirator_id: here.respirators[0]?.id, now };
    const screening = await screened(tester, run);
    await expect(opened(tester, run, screening)).rejects.toThrow(/"code":"lot_stopped"/);
  });
});

describe("twenty stations at once", { timeout: 120_000 }, () => {
  it("each call somebody else, keep their own records, and the board counts every one", async () => {
    const here = await room();
    const [coordinator, stores, tester] = [
      await Actor.signIn("coordinator"),
      await Actor.signIn("storekeeper"),
      await Actor.signIn("tester"),
    ];
    const at = (minutes: number) => new Date(here.start + minutes * MINUTE).toISOString();
    const stations = await Promise.all(
      Array.from({ length: 20 }, async (_, n) => {
        const station = await addStation(here.place.day, `Row ${n + 1}`);
        await fill(stores, station.id, "saccharin", at);
        return station;
      }),
    );
    const people: Row[] = [];
    for (let n = 0; n < 20; n++) people.push((await waiting(here)).person);
    const board = await openAs("coordinator", "/screens/board", { at: { ...here.place, station: null } });
    await board.getByRole("heading", { name: "Stations" }).waitFor();

    const calls = await Promise.all(
      stations.map(station =>
        tester.post<{ visit: { id: string; person_id: string } }>(`/api/v1/stations/${station.id}/calls`, {
          id: newId(),
          step: "screening",
          happened_at: at(0),
        }),
      ),
    );
    expect(new Set(calls.map(call => call.visit.person_id)).size).toBe(20);
    const attempts = await Promise.all(
      calls.map((call, n) =>
        passes(tester, {
          visit_id: call.visit.id,
          station_id: stations[n]?.id ?? "",
          respirator_id: here.respirators[n % here.respirators.length]?.id,
          now: here.start,
        }),
      ),
    );
    for (const [n, call] of calls.entries()) {
      const attempt = await judgedOf(call.visit.person_id);
      expect(attempt.id).toBe(attempts[n]);
      expect(attempt.station_id).toBe(stations[n]?.id);
      expect(attempt.state.verdict?.outcome).toBe("pass");
    }
    const { items } = await coordinator.get<{ items: Row[] }>(
      `/api/v1/attempts?day_id=${here.place.day.id}&limit=100`,
    );
    expect(items).toHaveLength(20);
    const done = board.locator("div", { has: board.getByText("Done", { exact: true }) }).last();
    await done.getByText("20", { exact: true }).waitFor();
  });
});
