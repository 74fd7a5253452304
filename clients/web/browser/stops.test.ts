// What the storekeeper and the coordinator do when something is in doubt, and what they make and write down in the stores.
import { describe, expect, it } from "vitest";
import { Actor, newId, place } from "./hospital";
import { expectComplaint, openAs } from "./pages";

const fresh = (head: string) => `${head}${newId().slice(-8).toUpperCase()}`;

interface Row {
  id: string;
  [member: string]: unknown;
}

describe("a nebulizer", () => {
  it("is stopped with a reason, shown among what is stopped, and released", async () => {
    const storekeeper = await Actor.signIn("storekeeper");
    const label = fresh("N");
    const made = await storekeeper.post<Row>("/api/v1/equipment", {
      ...{ id: newId(), kind: "nebulizer", label, happened_at: new Date().toISOString() },
    });
    await storekeeper.post(`/api/v1/equipment/${made.id}/checks`, {
      ...{ id: newId(), finding: "rinsed", note: "after lunch", happened_at: new Date().toISOString() },
    });
    const page = await openAs("storekeeper", `/screens/stores/equipment/${made.id}`);
    await page.getByRole("row", { name: /Rinsed.*after lunch/ }).waitFor();
    await page.getByRole("button", { name: "Stop it" }).click();
    const dialog = page.getByRole("dialog", { name: `Stop Nebulizer ${label}?` });
    await dialog.getByRole("button", { name: "Stop it" }).click();
    await dialog.getByText("Please answer this.").waitFor();
    await dialog.getByLabel("Why").fill("it sprays in drops");
    await dialog.getByRole("button", { name: "Stop it" }).click();
    await dialog.waitFor({ state: "hidden" });

    await page.goto("/screens/stores/stops");
    const row = page.getByRole("row", { name: new RegExp(label) });
    await row.getByText("Stopped", { exact: true }).waitFor();
    await row.getByText("it sprays in drops").waitFor();
    await row.getByRole("button", { name: `Release: Nebulizer ${label}` }).click();
    await page.getByRole("dialog").getByLabel("Why").fill("a bent straw");
    await page.getByRole("dialog").getByRole("button", { name: "Release" }).click();
    await row.getByText("Released", { exact: true }).waitFor();
    await row.getByText("a bent straw", { exact: false }).waitFor();
  });

  it("found clogged shows a coordinator who was tested with it, and a storekeeper no person", async () => {
    const coordinator = await Actor.signIn("coordinator");
    const { items } = await coordinator.get<{ items: Row[] }>("/api/v1/equipment?limit=500");
    const { station } = await place("testing");
    const fills = await coordinator.get<{ items: Row[] }>(`/api/v1/stations/${station?.id}/fills?limit=500`);
    const used = items.find(one => fills.items.some(fill => fill["nebulizer"] === one["label"]));
    expect(used, "the day filled a nebulizer that is registered").toBeDefined();
    await coordinator.post(`/api/v1/equipment/${used?.id}/checks`, {
      ...{ id: newId(), finding: "clogged", happened_at: new Date().toISOString() },
    });
    const page = await openAs("coordinator", `/screens/stores/equipment/${used?.id}`);
    await page.getByRole("heading", { name: "What was made with it since it last sprayed" }).waitFor();
    const keeper = await openAs("storekeeper", `/screens/stores/equipment/${used?.id}`);
    await keeper.getByText("Clogged").first().waitFor();
    expect(await keeper.getByText("What was made with it").count()).toBe(0);
    await coordinator.post(`/api/v1/equipment/${used?.id}/checks`, {
      ...{ id: newId(), finding: "sprays", happened_at: new Date().toISOString() },
    });
  });
});

describe("a station", () => {
  it("has a time for which nobody knows what it sprayed, in order and with a reason", async () => {
    const { station } = await place("testing");
    const page = await openAs("storekeeper", `/screens/stores/places/${station?.id}`);
    await page.getByRole("button", { name: "Record such a time" }).click();
    const dialog = page.getByRole("dialog");
    await dialog.getByLabel("From").fill("2026-03-10T09:40");
    await dialog.getByLabel("Until").fill("2026-03-10T09:00");
    await dialog.getByLabel("Why").fill("nobody wrote the fills down");
    await dialog.getByRole("button", { name: "Record such a time" }).click();
    await dialog.getByText("The end comes after the beginning", { exact: false }).waitFor();
    await dialog.getByLabel("Until").fill("2026-03-10T10:10");
    await dialog.getByRole("button", { name: "Record such a time" }).click();
    const row = page.getByRole("row", { name: /10 March 2026, 09:40 to 10 March 2026, 10:10/ });
    await row.getByText("nobody wrote the fills down").waitFor();
  });
});

describe("a solution made in-house", () => {
  it("is a lot with its maker's name, no longer than its recipe, and refused without a recipe", async () => {
    expectComplaint(/422/);
    const number = fresh("OWN-");
    const page = await openAs("storekeeper", "/screens/stores/prepare");
    await page.getByLabel("What was made").selectOption({ label: "Test solution, sweet (saccharin)" });
    await page.getByLabel("Lot number").fill(number);
    await page.getByLabel("Last day of its use").fill("2020-01-01");
    await page.getByRole("button", { name: "Record it" }).click();
    await page.getByText("On or after the day it was made", { exact: false }).waitFor();
    expect(await page.getByLabel("Last day of its use").getAttribute("aria-invalid")).toBe("true");
    const soon = new Date(Date.now() + 86_400_000).toISOString().slice(0, 10);
    await page.getByLabel("Last day of its use").fill(soon);
    await page.getByRole("button", { name: "Record it" }).click();
    await page.getByRole("heading", { name: `Lot ${number}` }).waitFor();
    await page.getByText("Invented storekeeper").first().waitFor();
  });
});

describe("a panel of face lengths", () => {
  it("is loaded line by line, and not where two cells overlap", async () => {
    expectComplaint(/422/);
    const page = await openAs("coordinator", "/screens/set-up/face-panel");
    await page.getByLabel("Name of the panel").fill("invented panel");
    await page.getByLabel("Where its bounds come from").fill("invented for this test");
    await page.getByLabel("Cells, one a line").fill("1; 98; 108; 120; 132\n2; 1O8; 118; 120; 132");
    await page.getByRole("button", { name: "Load it" }).click();
    await page.getByText("Line 2: a name and four numbers", { exact: false }).waitFor();
    await page.getByLabel("Cells, one a line").fill("1; 98; 108; 120; 132\n2; 107; 118; 120; 132");
    await page.getByRole("button", { name: "Load it" }).click();
    await page.getByText("Every face belongs to one cell at most", { exact: false }).waitFor();
    await page.getByLabel("Cells, one a line").fill("1; 98; 108; 120; 132\n2; 108; 118; 120; 132");
    await page.getByRole("button", { name: "Load it" }).click();
    await page.getByText("invented panel is loaded, with 2 cells.").waitFor();
  });
});
