// The coordinator's look-back and reports.
import { readFileSync } from "node:fs";
import { describe, expect, it } from "vitest";
import { Actor, place } from "./hospital";
import { openAs } from "./pages";

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
