// The coordinator's look-back and reports.
import { readFileSync } from "node:fs";
import { describe, expect, it } from "vitest";
import { door } from "./doors";
import { Actor, newId, place } from "./hospital";
import { openAs } from "./pages";
import { room, waiting } from "./room";
import { passes } from "./told";

interface Row {
  id: string;
  [member: string]: unknown;
}

/** A lot of test solution that people of the played day surely stand on. */
async function usedLot(): Promise<Row> {
  const coordinator = await Actor.signIn("coordinator");
  const { items } = await coordinator.get<{ items: Row[] }>("/api/v1/lots?limit=500");
  for (const lot of items.filter(one => one["solution"] === "test")) {
    const counts = await coordinator.get<{ totals: { surely: { people: number } } }>(
      `/api/v1/look_backs/counts?lot_id=${lot.id}`,
    );
    if (counts.totals.surely.people > 0) return lot;
  }
  throw new Error("the demonstration used no lot");
}

describe("a look-back", () => {
  it("names everybody who stands on a lot, with the reason, and hands out a table", async () => {
    const lot = await usedLot();
    const page = await openAs("coordinator", "/screens/look-back", { at: await place() });
    await page.getByRole("radio", { name: "A lot" }).check();
    await page.getByLabel("Choose", { exact: true }).selectOption(lot.id);
    await page.getByRole("button", { name: "Show who stands on it" }).click();
    await page.getByRole("heading", { name: "Who stands on it?" }).waitFor();
    const people = page.getByRole("article");
    await people.first().waitFor();
    await people.first().getByText("made with a fill from it", { exact: false }).first().waitFor();
    const coordinator = await Actor.signIn("coordinator");
    const { totals } = await coordinator.get<{ totals: { surely: { people: number } } }>(
      `/api/v1/look_backs/counts?lot_id=${lot.id}`,
    );
    expect(await people.count()).toBe(totals.surely.people);

    const [download] = await Promise.all([
      page.waitForEvent("download"),
      page.getByRole("button", { name: "As a table (CSV)" }).click(),
    ]);
    expect(readFileSync(await download.path(), "utf8").split("\n").length).toBeGreaterThan(
      totals.surely.people,
    );

    await page.getByRole("tab", { name: "Possibly" }).click();
    await page.getByText("Nothing says that their runs were made without it.").waitFor();
  });

  it("is not there for the storekeeper", async () => {
    const lot = await usedLot();
    const page = await openAs("storekeeper", `/screens/look-back/lot/${lot.id}`, { at: await place() });
    await page.getByRole("heading", { name: "There is no such screen" }).waitFor();
  });
});

describe("reports", () => {
  it("show shares with their ranges and the flow of a day", async () => {
    const { day } = await place();
    const page = await openAs("coordinator", "/screens/reports");
    const table = page.getByRole("table", { name: "Passes per respirator" });
    await table.waitFor();
    await table
      .getByText(/\d+ % to \d+ %|\d+% to \d+%/)
      .first()
      .waitFor();
    await page.getByLabel("Fit-testing day").selectOption(day.id);
    await page.getByRole("table", { name: "The flow of the day" }).waitFor();
    await page.getByRole("img", { name: /Bars per half hour/ }).waitFor();
  });
});

/** Somebody who passed an hour ago at a station of their own. */
async function passed() {
  const here = await room();
  const { person, visit } = await waiting(here);
  const tester = await Actor.signIn("tester");
  const [station_id, respirator_id] = [here.place.station?.id ?? "", here.respirators[0]?.id ?? ""];
  const happened_at = new Date(here.start).toISOString();
  await tester.post(`/api/v1/stations/${station_id}/calls`, { id: newId(), step: "screening", happened_at });
  const run = { visit_id: visit.id, station_id, respirator_id, now: here.start };
  return { here, person, respirator_id, attempt: await passes(tester, run) };
}

describe("records", () => {
  it("show one attempt with plan, events, lots and who wrote it; the auditor changes nothing", async () => {
    const { here, person, attempt } = await passed();
    const page = await openAs("auditor", "/screens/records", { at: { ...here.place, station: null } });
    await page.getByLabel("Name or staff number").fill(String(person["staff_number"]));
    await page.getByText("1 attempt", { exact: true }).waitFor();
    await page.getByRole("table", { name: "Attempts" }).getByRole("link").first().click();
    await page.waitForURL(`**/records/attempts/${attempt}`);
    const events = page.getByRole("table", { name: "What happened, in order" });
    await events.getByText("10 squeezes given", { exact: false }).first().waitFor();
    // 29 CFR 1910.134 App. A I.B.3(b): the level, then half of it every 30 seconds: 1 + 13 times in seven minutes.
    expect(await events.getByText("5 squeezes given").count()).toBe(13);
    await page.getByText("5 squeezes every 30 seconds").waitFor();
    await page.getByText("Invented tester").first().waitFor();
    await page.getByRole("heading", { name: "The five things that have to be recorded" }).waitFor();
    const [download] = await Promise.all([
      page.waitForEvent("download"),
      page.getByRole("button", { name: "Save the record (JSON)" }).click(),
    ]);
    const record = JSON.parse(readFileSync(await download.path(), "utf8")) as Row;
    expect(record).toMatchObject({ attempt_id: attempt, result: { outcome: "pass" } });
    expect(await page.getByRole("button", { name: "Correct this record" }).count()).toBe(0);
  });

  it("tell who was cleared at a gate as known then, and who no longer is as known now", async () => {
    const { person, respirator_id, attempt } = await passed();
    const { name } = await door([respirator_id]);
    // The next whole second: by then the attempt is known, and nothing of the correction.
    const at = new Date(Math.ceil(Date.now() / 1000) * 1000);
    const coordinator = await Actor.signIn("coordinator");
    const page = await openAs("auditor", "/screens/records/gates");
    await page.getByLabel("Gate").selectOption({ label: name });
    const zone = (await coordinator.get<{ time_zone: string }>("/api/v1/sites/current")).time_zone;
    const local = new Intl.DateTimeFormat("sv-SE", {
      timeZone: zone,
      dateStyle: "short",
      timeStyle: "medium",
    });
    await expect.poll(() => Date.now() >= at.getTime(), { interval: 100 }).toBe(true);
    await coordinator.post(`/api/v1/attempts/${attempt}/corrections`, {
      id: newId(),
      reason: "A colleague sat there.",
      happened_at: new Date().toISOString(),
    });
    await page.getByLabel("At this moment").fill(local.format(at).replace(" ", "T"));
    await page.getByRole("button", { name: "Show" }).click();
    const lost = page.getByRole("table", { name: /^Cleared as known then, and not/ });
    await lost.getByText(String(person["staff_number"])).waitFor();
  });

  it("keep the audit chain in order, its links compared, and the rows about one record alone", async () => {
    const page = await openAs("auditor", "/screens/records/audit?from=20");
    await page.getByText("Each of these 50 rows names the one before it").waitFor();
    const table = page.getByRole("table");
    expect(await table.getByRole("row").nth(1).innerText()).toContain("20");
    await page.getByRole("button", { name: "Show more" }).click();
    await page.getByText("Each of these 100 rows names the one before it").waitFor();
    await table.getByRole("link", { name: "only this" }).first().click();
    await page.getByText("Only the rows about one record.").waitFor();
  });

  it("show what happened at a gate under a lead's name: the coordinator looks, the auditor reads", async () => {
    const { items } = await (await Actor.signIn("coordinator")).get<{ items: Row[] }>("/api/v1/respirators");
    const { id, token } = await door([items[0]?.id ?? ""], { leads: [] });
    const device = Actor.withToken(token);
    const lead = `Ada Brennick ${id.slice(-5)}`;
    const entry = { id: newId(), lead, reason: "emergency_call", happened_at: new Date().toISOString() };
    await device.post(`/api/v1/gates/${id}/lead_entries`, entry);
    const auditor = await openAs("auditor", "/screens/reviews");
    await auditor.getByText(lead).waitFor();
    expect(await auditor.getByRole("button", { name: "Sign it off" }).count()).toBe(0);
    const page = await openAs("coordinator", "/screens/reviews");
    await page
      .getByRole("listitem")
      .filter({ hasText: lead })
      .getByRole("button", { name: "Sign it off" })
      .click();
    await page.getByLabel("What you found").fill("A crash team; the ward confirms it.");
    await page.getByRole("dialog").getByRole("button", { name: "Sign it off" }).click();
    await page.getByRole("listitem").filter({ hasText: lead }).waitFor({ state: "detached" });
    await auditor.getByRole("tab", { name: "Looked at" }).click();
    await auditor.getByRole("listitem").filter({ hasText: lead }).getByText("A crash team").waitFor();
  });
});
