// The station: a whole test as a tester does it, and everything that may go wrong with the network under it.
import { describe, expect, it } from "vitest";
import { accessible, fits as reflows } from "./checks";
import { attemptOf, closes, exercises, fits, judgedOf, MINUTE, screens, tastesNothing } from "./chair";
import type { Wire } from "../src/api/client";
import { account, Actor, newId } from "./hospital";
import { AWAY, expectComplaint, openAs } from "./pages";
import { Chairside, room, waiting } from "./room";
import { passesElsewhere } from "./told";

/** The respirators that may be tested next, in the order in which they stand on the screen. */
async function offeredAt(side: Chairside): Promise<string[]> {
  const radios = side.page.getByRole("radio");
  await radios.first().waitFor();
  return Promise.all((await radios.all()).map(radio => radio.inputValue()));
}

describe("a day at the station", { timeout: 240_000 }, () => {
  it("calls, screens, tests and passes one person, and then shows nothing of them", async () => {
    const here = await room();
    const { person } = await waiting(here);
    const side = await Chairside.sit(here);
    await side.sees("The clock of this device is right.");
    await screens(side, 20);
    await side.sees("Level 20");
    await fits(side);
    await exercises(side, 20, 7);
    await closes(side);
    await side.sees("Pass");
    const { events, state } = await judgedOf(person.id);
    expect(state.verdict).toMatchObject({ outcome: "pass", reason: "completed" });
    // 29 CFR 1910.134 App. A I.B.3(b)(6)-(8): the level first, then half of it every 30 seconds.
    const doses = events.filter(event => event.kind === "dose_given").map(event => event.squeezes);
    // The last exercise begins a touch late, so that one more dose falls due before its end.
    expect(doses).toEqual([20, ...Array<number>(14).fill(10)]);
    await side.press("Finish: clear the screen");
    await side.sees("Who is next?");
    expect(await side.page.content()).not.toContain(String(person["family_name"]));
  });

  it("fails with one touch, waits as the rule says, and goes on with another respirator", async () => {
    // Nobody is ready: the server says so with a refusal.
    expectComplaint(/status of 422/);
    const here = await room();
    const { person } = await waiting(here);
    const side = await Chairside.sit(here);
    await screens(side, 10);
    await fits(side);
    const first = await exercises(side, 10, 1);
    await side.until(first + 70_000);
    // A foot switch and a key are as good as a finger.
    await side.page.keyboard.press("t");
    await side.sees("Fail");
    await side.sees(/Not before \d\d:\d\d/);
    await side.press(/^This is .* with/);
    await side.press("Sign");
    await side.press("Finish: clear the screen");
    const failed = await judgedOf(person.id);
    expect(failed.state.verdict).toMatchObject({ outcome: "fail", exercise: 2 });
    // 15 minutes after a fail (common practice, no source).
    await side.press("Call next for screening");
    await side.sees(/The next one is ready at/);
    await side.go(16 * MINUTE);
    await screens(side, 10);
    await side.press("Go on at this station");
    const offered = await offeredAt(side);
    const others = here.respirators.map(one => one.id).filter(id => id !== failed.respirator_id);
    expect(offered).toEqual(expect.arrayContaining(others));
    expect(offered).not.toContain(failed.respirator_id);
  });

  it("moves no respirator under a finger when it learns late which is likely to fit", async () => {
    const here = await room();
    await waiting(here);
    const side = await Chairside.sit(here);
    await side.page.route("**/size_hints", async route => {
      await new Promise(done => setTimeout(done, 5000));
      await route.continue();
    });
    await screens(side, 10);
    const learned = side.page.waitForResponse(/size_hints/);
    await side.press("Go on at this station");
    const shown = await offeredAt(side);
    await (await learned).finished();
    await side.go(500);
    expect(await offeredAt(side)).toEqual(shown);
    // Known in time, the likely ones stand first.
    await side.page.unroute("**/size_hints");
    await side.page.reload();
    await side.press("Go on at this station");
    expect(await offeredAt(side)).not.toEqual(shown);
  });

  it.each([
    ["phone", "dark"],
    ["tablet", "light"],
  ] as const)("is accessible and whole under the hood (%s, %s)", async (size, theme) => {
    const here = await room();
    await waiting(here);
    const side = await Chairside.sit(here, { size, theme });
    const holds = async () => {
      await accessible(side.page);
      await reflows(side.page);
    };
    await side.press("Call next for screening");
    await side.sees("Is this the person in front of you?");
    await holds();
    await side.press("Yes, this is the person");
    await side.press("Start");
    await side.press("Explained");
    await side.sees("Set 1 of 3");
    await holds();
    await side.press("Tasted");
    await side.press("4");
    await fits(side);
    if (size === "tablet") {
      await side.press("Given: 10");
      await side.press("Start exercise 1");
    } else {
      await exercises(side, 10, 4);
      await side.sees("Exercise 5 of 7");
      await side.page.getByRole("tab", { name: "العربية" }).click();
      expect(await side.page.locator("[lang=ar]").getAttribute("dir")).toBe("rtl");
    }
    await holds();
    // One touch away wherever the page is scrolled to, and large enough for a knuckle.
    const box = await side.page.getByRole("button", { name: "Tasted" }).boundingBox();
    expect(box && box.y + box.height).toBeLessThanOrEqual(side.page.viewportSize()?.height ?? 0);
    expect(box?.height).toBeGreaterThanOrEqual(96);
  });

  it("says until when each nebulizer may be used, and when one is empty or its lot stopped", async () => {
    const here = await room();
    const page = await openAs("tester", "/screens/station", { at: here.place });
    const line = (what: RegExp) => page.getByRole("listitem").filter({ hasText: what });
    const sweet = line(/^test solution, saccharin/);
    await sweet.getByText(/^usable until \d\d:\d\d$/).waitFor();
    const stores = await Actor.signIn("storekeeper");
    const { items } = await stores.get<{ items: Wire<"FillView">[] }>(
      `/api/v1/stations/${here.place.station?.id}/fills`,
    );
    const fill = items.find(one => one.agent === "saccharin" && one.solution === "test");
    const emptying = { id: newId(), rinsed: true, happened_at: new Date().toISOString() };
    await stores.post(`/api/v1/fills/${fill?.id}/emptyings`, emptying);
    await sweet.getByText("not filled").waitFor();
    const stop = { id: newId(), reason: "recalled", happened_at: new Date().toISOString() };
    await stores.post(`/api/v1/lots/${here.lots.get("denatonium_benzoate test")}/stops`, stop);
    await line(/^test solution, denatonium/)
      .getByText("The lot is stopped.")
      .waitFor();
  });

  it("offers the other agent after thirty squeezes without a taste, and only after a rest", async () => {
    const here = await room();
    await waiting(here);
    const side = await Chairside.sit(here);
    await tastesNothing(side);
    await side.sees("Not tasted");
    await side.sees("Next: a new screening with denatonium benzoate (bitter).");
  });

  it("asks before a touch voids the test, and hides no clock meanwhile", async () => {
    const here = await room();
    const { person } = await waiting(here);
    const side = await Chairside.sit(here);
    await screens(side, 10);
    await fits(side);
    await exercises(side, 10, 1);
    await side.press("Touched or adjusted");
    await side.page.getByRole("timer", { name: "Next dose in" }).waitFor();
    await side.press("No, go on");
    await side.press("Touched or adjusted");
    await side.press("Yes, end it");
    await side.sees("Does not count");
    expect((await judgedOf(person.id)).state.verdict).toMatchObject({ outcome: "void", reason: "adjusted" });
  });
});

describe("a station out of reach", { timeout: 300_000 }, () => {
  it("goes on through a cable pulled at every step, and what it kept arrives once and in order", async () => {
    expectComplaint(AWAY);
    const here = await room();
    const { person } = await waiting(here);
    const side = await Chairside.sit(here);
    await side.page.getByRole("button", { name: "Call next for screening" }).waitFor();
    await side.press("Call next for screening");
    await side.sees("Is this the person in front of you?");
    side.cable.pull();
    await side.press("Yes, this is the person");
    await side.press("Start");
    await side.press("Explained");
    await side.press("Tasted");
    await side.press("4");
    await side.sees("Kept on this device");
    await fits(side);
    const first = await exercises(side, 10, 2);
    side.cable.plug();
    await exercises(side, 10, 4, 3, first);
    side.cable.pull();
    await exercises(side, 10, 7, 5, first);
    await closes(side);
    await side.sees("Kept on this device");
    side.cable.plug();
    await side.go(31_000);
    await side.sees("Pass");
    const { events } = await judgedOf(person.id);
    expect(events.filter(event => event.kind === "dose_given").length).toBe(15);
    expect(events.at(-1)?.kind).toBe("signed");
  });

  it("covers no clock when the sign-in ends under the hood, and asks for it afterwards", async () => {
    expectComplaint(/status of 401/);
    const here = await room();
    await waiting(here);
    const side = await Chairside.sit(here);
    await screens(side, 10);
    await fits(side);
    await side.page.context().request.delete("/api/v1/sessions/current");
    const first = await exercises(side, 10, 1);
    await side.until(first + 70_000);
    expect(await side.page.getByRole("dialog").count()).toBe(0);
    await side.press("Tasted");
    const dialog = side.page.getByRole("dialog", { name: "Sign in again" });
    await dialog.getByLabel("Username").fill("tester");
    await dialog.getByLabel("Password").fill(account("tester").password);
    await dialog.getByRole("button", { name: "Sign in", exact: true }).click();
    await side.sees("Fail");
  });

  it("goes on while the server is started again", async () => {
    expectComplaint(AWAY);
    const here = await room();
    const { person } = await waiting(here);
    const side = await Chairside.sit(here);
    await screens(side, 10);
    await fits(side);
    const first = await exercises(side, 10, 1);
    side.cable.starting = true;
    await exercises(side, 10, 2, 2, first);
    side.cable.starting = false;
    await side.go(31_000);
    await expect
      .poll(async () => (await attemptOf(person.id)).events.filter(one => one.kind === "dose_given").length, {
        timeout: 30_000,
      })
      .toBe(5);
  });

  it("was at exercise 4 when the page died: it says so, and does not guess", async () => {
    const here = await room();
    const { person } = await waiting(here);
    const side = await Chairside.sit(here);
    await screens(side, 10);
    await fits(side);
    const first = await exercises(side, 10, 3);
    await side.until(first + 3 * MINUTE + 10_000);
    await side.dies();
    await side.sees("The screen began again: this test was at exercise 4");
    await side.press("They stayed as they were: go on");
    await side.sees("Exercise 4 of 7");
    await side.dies();
    await side.sees("The screen began again: this test was at exercise 4");
    await side.go(90_000);
    await side.sees("What fell due meanwhile cannot be made up");
    expect(await side.page.getByRole("button", { name: "They stayed as they were: go on" }).count()).toBe(0);
    await side.press("Interrupted");
    await side.sees("Does not count");
    expect((await judgedOf(person.id)).state.verdict?.outcome).toBe("void");
  });

  it("corrects a clock that is six minutes fast, and keeps the time of the doses", async () => {
    const here = await room();
    const { person } = await waiting(here);
    const side = await Chairside.sit(here, { fastMs: 6 * MINUTE });
    await side.sees(/is 6 minutes fast/);
    await screens(side, 10);
    await fits(side);
    await exercises(side, 10, 1);
    const { events } = await attemptOf(person.id);
    const doses = events.filter(event => event.kind === "dose_given").map(one => Date.parse(one.happened_at));
    expect(Math.abs((doses[0] ?? 0) - here.start)).toBeLessThan(20 * MINUTE);
    expect((doses[2] ?? 0) - (doses[0] ?? 0)).toBeGreaterThan(54_000);
    // The server tells its time in whole seconds (RFC 9110 s.5.6.7), so no device knows it better than to one.
    const fast = events.filter(event => Date.parse(event.happened_at) > side.now + 1000);
    expect(fast).toEqual([]);
  });

  it("says that nothing was recorded where there is no room left, and goes no further", async () => {
    const here = await room();
    await waiting(here);
    const side = await Chairside.sit(here);
    await screens(side, 10);
    await fits(side);
    await side.page.evaluate(() => {
      IDBObjectStore.prototype.add = () => {
        throw new DOMException("full", "QuotaExceededError");
      };
    });
    await side.press("Given: 10");
    await side.page.getByRole("alert").getByText("Not recorded: this device has no room left").waitFor();
    expect(await side.page.getByRole("button", { name: "Given: 10" }).count()).toBe(1);
    expect(await side.page.getByRole("button", { name: "Start exercise 1" }).count()).toBe(0);
  });

  it("and another station with the same person end as a decision for the coordinator", async () => {
    expectComplaint(AWAY);
    const here = await room();
    const { person, visit } = await waiting(here);
    const side = await Chairside.sit(here);
    await side.press("Call next for screening");
    await side.press("Yes, this is the person");
    side.cable.pull();
    await side.go(25_000);
    await side.sees(/^The server does not answer/);
    const other = await passesElsewhere(here, visit.id, side.now);
    await side.press("Start");
    await side.press("Explained");
    await side.press("Tasted");
    await side.press("4");
    await fits(side);
    await exercises(side, 10, 1);
    await side.press("Tasted");
    await side.sees("Kept on this device");
    side.cable.plug();
    await side.go(31_000);
    await side.sees("Fail");
    expect((await attemptOf(person.id, other)).state.verdict).toMatchObject({ outcome: "fail", exercise: 2 });

    const page = await openAs("coordinator", "/screens/overlaps", { at: { ...here.place, station: null } });
    await page.getByText(String(person["family_name"])).waitFor();
    await page.getByRole("button", { name: "This one does not count" }).last().click();
    await page.getByLabel("Why does it not count?").fill("A colleague sat there, both testers say.");
    await page.getByRole("button", { name: "Take it out" }).click();
    await page.getByText("Nothing is to be decided").waitFor();
  });
});
