// The storekeeper's way: receive by a scanner that types, issue, count, stop; and what is refused on the way.
import { describe, expect, it } from "vitest";
import type { Page } from "playwright-core";
import { Actor, newId, place } from "./hospital";
import { expectComplaint, openAs } from "./pages";
import { room } from "./room";

/** A number that no other test knows. */
const fresh = (head: string) => `${head}${newId().slice(-8).toUpperCase()}`;

async function receiveTyped(page: Page, number: string, again: string): Promise<void> {
  await page.getByRole("radio", { name: "Solution" }).check();
  await page
    .getByLabel("Solution", { exact: true })
    .last()
    .selectOption({ label: "Test solution, sweet (saccharin)" });
  await page.getByLabel("Lot number", { exact: true }).fill(number);
  await page.getByLabel("Lot number once more").fill(again);
  await page.getByLabel("Expiry as printed").fill("AUG 2031");
  await page.getByLabel("Expiry once more").fill("08/2031");
  await page.getByLabel("Maker").fill("Brenning Optics");
  await page.getByRole("button", { name: "Receive" }).click();
}

describe("the stores", () => {
  it("receive what is typed twice, and refuse two ways of typing it", async () => {
    expectComplaint(/422/);
    const number = fresh("S");
    const page = await openAs("storekeeper", "/screens/stores/receive", { at: await place() });
    await receiveTyped(page, number, number.replace(/.$/, "Z"));
    await page.getByRole("alert").waitFor();
    await page.getByLabel("Lot number once more").fill(number);
    await page.getByRole("button", { name: "Receive" }).click();
    await page.getByRole("heading", { name: `Lot ${number}` }).waitFor();
    await page.getByText("31 August 2031").waitFor();
  });

  it("go from a scanned label to a bottle that is issued, counted and shown with its difference", async () => {
    const number = fresh("G");
    const page = await openAs("storekeeper", "/screens/stores", { at: await place() });
    await page.getByRole("heading", { name: "What runs out next, and where is it?" }).waitFor();
    // What a USB scanner types: the element string of the supplier's label, and Enter.
    const scanned = `0109506000134352173108${"00"}10${number}`;
    await page.getByLabel("Scan or type a label").fill(scanned);
    await page.keyboard.press("Enter");
    await page.getByRole("link", { name: "Receive it" }).click();
    await page.getByRole("radio", { name: "Solution" }).check();
    await page
      .getByLabel("Solution", { exact: true })
      .last()
      .selectOption({ label: "Test solution, sweet (saccharin)" });
    await page.getByLabel("Maker").fill("Brenning Optics");
    await page.getByRole("button", { name: "Receive" }).click();
    await page.getByRole("heading", { name: `Lot ${number}` }).waitFor();

    await page.getByLabel("How many").fill("2");
    await page.getByLabel("Millilitres in each").fill("50");
    await page.getByLabel("Label of the first").fill(`${number}-01`);
    await page.getByLabel("Place", { exact: true }).selectOption({ index: 1 });
    await page.getByRole("button", { name: "Add", exact: true }).click();
    await page.getByRole("button", { name: "Print labels" }).waitFor();
    await page.getByRole("link", { name: `${number}-02` }).waitFor();

    await page.goto("/screens/stores");
    await page.getByLabel("Scan or type a label").fill(`${number}-02`);
    await page.keyboard.press("Enter");
    await page.getByRole("heading", { name: `Bottle ${number}-02` }).waitFor();
    await page.getByRole("tab", { name: "Count" }).click();
    await page.getByLabel("Millilitres found").fill("48,5");
    await page.getByLabel("Why").fill("evening count");
    await page.getByRole("tabpanel").getByRole("button", { name: "Count" }).click();
    await page.getByText("-1.5 ml against the books").waitFor();
    await page.getByText("48.5 ml").first().waitFor();
  });

  it("stop a lot with numbers and no person, and release it", async () => {
    const storekeeper = await Actor.signIn("storekeeper");
    const { items: lots } = await storekeeper.get<{ items: Record<string, unknown>[] }>(
      "/api/v1/lots?limit=500",
    );
    const { items: bottles } = await storekeeper.get<{ items: Record<string, unknown>[] }>(
      "/api/v1/bottles?limit=500",
    );
    // A lot that people of the played day stand on.
    const lot = lots.find(
      one =>
        one["solution"] === "test" &&
        !one["stopped"] &&
        bottles.some(bottle => bottle["lot_id"] === one["id"]),
    );
    const page = await openAs("storekeeper", `/screens/stores/lots/${String(lot?.["id"])}`, {
      at: await place(),
    });
    await page.getByRole("button", { name: "Stop this lot" }).click();
    const dialog = page.getByRole("dialog");
    expect(await dialog.getByRole("button", { name: "Stop this lot" }).isDisabled()).toBe(true);
    await dialog.getByLabel("Why").fill("The supplier called.");
    await dialog.getByRole("button", { name: "Stop this lot" }).click();
    await page.getByRole("button", { name: "Release this lot" }).waitFor();
    await page.getByText("A stopped lot may or may not have affected results.", { exact: false }).waitFor();
    await page.getByText("Surely").first().waitFor();
    expect(await page.getByRole("link", { name: "Who they are" }).count()).toBe(0);

    await page.getByRole("button", { name: "Release this lot" }).click();
    await page.getByRole("dialog").getByLabel("Why").fill("It was another lot.");
    await page.getByRole("dialog").getByRole("button", { name: "Release this lot" }).click();
    await page.getByRole("button", { name: "Stop this lot" }).waitFor();
  });

  it("name a storeroom anew, and let every station fill there", async () => {
    const storekeeper = await Actor.signIn("storekeeper");
    const [before, after] = [fresh("Cupboard "), fresh("Bench ")];
    const room = await storekeeper.post<{ id: string }>("/api/v1/places", { id: newId(), name: before });
    const page = await openAs("storekeeper", `/screens/stores/places/${room.id}`, { at: await place() });
    await page.getByRole("heading", { level: 1, name: before }).waitFor();
    await page.getByRole("button", { name: "Change" }).click();
    const dialog = page.getByRole("dialog");
    await dialog.getByLabel("Name").fill("");
    await dialog.getByRole("button", { name: "Save" }).click();
    expect(await dialog.getByLabel("Name").getAttribute("aria-invalid")).toBe("true");
    await dialog.getByLabel("Name").fill(after);
    await dialog.getByLabel("Nebulizers of any station are filled there").check();
    await dialog.getByRole("button", { name: "Save" }).click();
    await page.getByRole("heading", { level: 1, name: after }).waitFor();
    await page.getByText("Filling point", { exact: true }).waitFor();
    // The place that a station is changes with the station, on its day.
    const { items } = await storekeeper.get<{ items: { id: string; station_id?: string }[] }>(
      "/api/v1/places?limit=500",
    );
    await page.goto(`/screens/stores/places/${items.find(one => one.station_id)?.id}`);
    await page.getByRole("heading", { level: 1 }).waitFor();
    expect(await page.getByRole("button", { name: "Change" }).count()).toBe(0);
  });

  it("work the forecast out again from what is typed", async () => {
    const page = await openAs("storekeeper", "/screens/stores", { at: await place() });
    await page.getByLabel("People still to come").fill("900");
    await page.getByRole("button", { name: "Work it out again" }).click();
    await page.getByRole("table", { name: "Runs out" }).waitFor();
    expect(await page.getByLabel("People still to come").inputValue()).toBe("900");
  });

  it("show until when each fill may be used, and that it may not any more without asking again", async () => {
    const { place: here } = await room();
    const page = await openAs("storekeeper", `/screens/stores/places/${here.station?.id}`);
    await page.clock.install();
    await page.reload();
    const fills = page.getByRole("table", { name: "Fills at this station" });
    await fills.waitFor();
    expect(await fills.getByText(/^In use until [0-9]{2}:[0-9]{2}$/).count()).toBe(4);
    await page.clock.fastForward(24 * 3_600_000);
    await fills.getByText("The fill is too old.").first().waitFor();
    expect(await fills.getByText(/^In use until/).count()).toBe(0);
  });

  it("record what was found on a nebulizer", async () => {
    const storekeeper = await Actor.signIn("storekeeper");
    const label = fresh("N");
    await storekeeper.post("/api/v1/equipment", {
      id: newId(),
      kind: "nebulizer",
      label,
      happened_at: new Date().toISOString(),
    });
    const page = await openAs("storekeeper", "/screens/stores/equipment", { at: await place() });
    const rows = page.getByRole("table").getByRole("row");
    await page.getByRole("link", { name: label }).waitFor();
    expect(await rows.count()).toBeGreaterThan(2);
    await page.getByLabel("Label, place or state").fill(label.toLowerCase());
    await page.waitForFunction(() => document.querySelectorAll("table [role=row]").length === 2);
    await page.getByRole("link", { name: label }).click();
    await page.getByText("Ready").first().waitFor();
    await page.getByRole("radio", { name: "Clogged" }).check();
    await page.getByRole("button", { name: "Record it" }).first().click();
    await page.getByRole("status").filter({ hasText: "Clogged" }).waitFor();
  });
});
