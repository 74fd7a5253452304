// The coordinator's board, on the wall too: what it tells, and alarms that go only with somebody's name.
import { describe, expect, it } from "vitest";
import { Actor, base, newId, place } from "./hospital";
import { expectComplaint, openAs } from "./pages";

interface Row {
  id: string;
  [member: string]: unknown;
}

/** A lot that nobody else uses, stopped for the reason. */
async function stoppedLot(reason: string): Promise<{ number: string; id: string }> {
  const storekeeper = await Actor.signIn("storekeeper");
  const number = `T${newId().slice(-8).toUpperCase()}`;
  const lot = await storekeeper.post<Row>("/api/v1/lots", {
    id: newId(),
    agent: "saccharin",
    solution: "test",
    lot_number: number,
    lot_number_again: number,
    printed_expiry: "2031-08",
    printed_expiry_again: "2031-08",
    maker: "Brenning Optics",
    happened_at: new Date().toISOString(),
  });
  const stop = { id: newId(), reason, happened_at: new Date().toISOString() };
  await storekeeper.post(`/api/v1/lots/${lot.id}/stops`, stop);
  return { number, id: lot.id };
}

describe("the board", () => {
  it("tells how far the day has come, and hears of a stop at once", async () => {
    const page = await openAs("coordinator", "/screens/board", { at: await place() });
    await page.getByRole("heading", { name: "Will we finish?" }).waitFor();
    await page
      .getByRole("status")
      .filter({ hasText: /closes at \d\d:\d\d/ })
      .waitFor();
    await page.getByText("Live").waitFor();
    const { number, id } = await stoppedLot("The label has come off.");
    const alarm = page.getByRole("listitem").filter({ hasText: number });
    await alarm.getByText("Lot stopped").waitFor();
    await alarm.getByText("The label has come off.").waitFor();

    await alarm.getByRole("button", { name: "I take this on" }).click();
    await alarm.getByRole("button").waitFor({ state: "detached" });
    await page.getByText(/taken on$|are taken on$/).click();
    await alarm
      .getByText(/, \d\d:\d\d$/)
      .last()
      .waitFor();

    await alarm.getByRole("link", { name: "Who stands on it" }).click();
    await page.getByRole("heading", { name: "Who stands on it?" }).waitFor();
    await page.getByText(`Lot ${number}`).first().waitFor();
    const storekeeper = await Actor.signIn("storekeeper");
    const release = { id: newId(), reason: "New labels.", happened_at: new Date().toISOString() };
    await storekeeper.post(`/api/v1/lots/${id}/releases`, release);
  });

  it("shows the room tickets and no name, and nothing to press", async () => {
    const { id } = await stoppedLot("It smells.");
    const page = await openAs("coordinator", "/screens/board/wall", { at: await place() });
    await page.getByRole("heading", { name: "Stations" }).waitFor();
    await page.getByText("Lot stopped").first().waitFor();
    expect(await page.getByRole("button", { name: "I take this on" }).count()).toBe(0);
    expect(await page.getByText("It smells.").count()).toBe(0);
    const coordinator = await Actor.signIn("coordinator");
    const { items } = await coordinator.get<{ items: Row[] }>("/api/v1/people?limit=50");
    const shown = await page.locator("main").textContent();
    // Some have one name only.
    const families = items.map(one => String(one["family_name"])).filter(name => name !== "");
    expect(families.length).toBeGreaterThan(20);
    for (const family of families) expect(shown).not.toContain(family);
    await coordinator.post(`/api/v1/lots/${id}/releases`, {
      id: newId(),
      reason: "It was soap.",
      happened_at: new Date().toISOString(),
    });
  });

  it("is taken on once: whoever comes second reads who has it", async () => {
    const { number, id } = await stoppedLot("Two people look.");
    const at = await place();
    const page = await openAs("coordinator", "/screens/board", { at });
    const alarm = page.getByRole("listitem").filter({ hasText: number });
    await alarm.getByRole("button").waitFor();
    // Somebody else is quicker: this page hears of it only after it has sent its own.
    const coordinator = await Actor.signIn("coordinator");
    await page.route("**/alarm_acknowledgements", async route => {
      const told = route.request().postDataJSON() as Record<string, unknown>;
      await coordinator.post(`/api/v1/days/${at.day.id}/alarm_acknowledgements`, { ...told, id: newId() });
      await route.continue();
    });
    expectComplaint(/409/);
    await alarm.getByRole("button").click();
    await alarm.getByRole("button").waitFor({ state: "detached" });
    await coordinator.post(`/api/v1/lots/${id}/releases`, {
      id: newId(),
      reason: "Done.",
      happened_at: new Date().toISOString(),
    });
  });

  it("shows an entry under a lead's name until somebody signs it off", async () => {
    const coordinator = await Actor.signIn("coordinator");
    const { items: gates } = await coordinator.get<{ items: Row[] }>("/api/v1/gates");
    const admin = await Actor.signIn("admin");
    const device = { id: newId(), name: `Door ${newId().slice(-6)}`, role: "gate", gate_id: gates[0]?.id };
    const { token } = await admin.post<{ token: string }>("/api/v1/devices", device);
    const lead = `Valdrun ${newId().slice(-6)}`;
    const told = { id: newId(), lead, reason: "emergency_call", happened_at: new Date().toISOString() };
    const answer = await fetch(`${base()}/api/v1/gates/${gates[0]?.id}/lead_entries`, {
      method: "POST",
      headers: { authorization: `Bearer ${token}`, "content-type": "application/json" },
      body: JSON.stringify(told),
    });
    expect(answer.status).toBe(201);

    const page = await openAs("coordinator", "/screens/board", { at: await place() });
    const entry = page.getByRole("listitem").filter({ hasText: lead });
    await entry.getByText("a team was called to an emergency").waitFor();
    await entry.getByRole("button", { name: "Sign it off" }).click();
    const dialog = page.getByRole("dialog", { name: "Entry under a lead's name" });
    await dialog.getByLabel("What you found").fill("Talked with the lead.");
    await dialog.getByRole("button", { name: "Sign it off" }).click();
    await entry.waitFor({ state: "detached" });
  });
});
