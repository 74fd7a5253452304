// A gate that cannot rely on anybody: alone when the network is away or slow, with a wrong clock, without its token; and
// every reading reaches the server once.
import type { Page } from "playwright-core";
import { describe, expect, it } from "vitest";
import type { Wire } from "../src/api/client";
import { answered, code, type Door, door, openDoor, printed, scanLine, scansAt, worn } from "./doors";
import { Actor, newId } from "./hospital";
import { AWAY, expectComplaint } from "./pages";
import { Cable } from "./wire";

const {
  good: [good, other],
  failed,
  ended,
} = await printed();

/** Waits until the server has so many scans of the gate. */
async function delivered(at: Door, many: number) {
  await expect.poll(async () => (await scansAt(at)).length, { timeout: 30_000 }).toBe(many);
  return scansAt(at);
}

/** Whom the server knows to have been let in at the gate under a lead's name. */
async function entriesAt(at: Door): Promise<Wire<"LeadEntryView">[]> {
  const coordinator = await Actor.signIn("coordinator");
  const { items } = await coordinator.get<{ items: Wire<"LeadEntryView">[] }>(
    "/api/v1/lead_entries?limit=200",
  );
  return items.filter(one => one.gate_id === at.id);
}

/** Waits until what is kept offline is there after a reload. */
async function installed(page: Page): Promise<void> {
  await page.evaluate(() => navigator.serviceWorker.ready.then(() => undefined));
}

describe("a gate without the network", () => {
  it("answers the same alone, after a reload too, and each reading arrives once", async () => {
    expectComplaint(AWAY);
    const cable = await Cable.lay();
    const at = await door(worn(good));
    const page = await openDoor(at, { base: cable.address });
    await installed(page);
    cable.pull();
    await scanLine(page, code(good));
    const read = Date.now();
    await answered(page, "Enter");
    // Without a tested machine's other work it is a tenth of that: `npm run bench`.
    expect(Date.now() - read, "a guard does not wait").toBeLessThan(3_000);
    await page.getByText("The name is on the badge").waitFor();
    await page.getByText(/^The server does not answer. This gate answers alone/).waitFor();
    await page.reload();
    await page.getByRole("heading", { level: 1, name: at.name }).waitFor();
    await answered(page, "Ready for the next badge");
    await scanLine(page, code(failed));
    await answered(page, "Not cleared");
    await scanLine(page, code(ended));
    await answered(page, "Badge not valid");
    await page.getByLabel("Serial on the badge").fill(good.serial);
    await page.keyboard.press("Enter");
    await answered(page, "Enter");
    await page.getByText("4 entries wait to be sent").waitFor();
    await page.reload();
    await page.getByText("4 entries wait to be sent").waitFor();
    expect(await scansAt(at)).toEqual([]);

    cable.plug();
    const scans = await delivered(at, 4);
    expect(scans.map(one => one.answer)).toEqual(["enter", "not_cleared", "not_valid", "enter"]);
    await page.getByText(/waits? to be sent/).waitFor({ state: "detached" });
    await page.getByText(/^Up to date/).waitFor();
    const coordinator = await Actor.signIn("coordinator");
    const { items } = await coordinator.get<{ items: Wire<"ScanComparisonView">[] }>(
      `/api/v1/gates/${at.id}/scan_comparisons`,
    );
    expect(items.map(one => [one.given, one.then.answer])).toEqual(
      scans.map(one => [one.answer, one.answer]),
    );
  });

  it("does not wait for a server that is slow, and what was stored unheard is there once", async () => {
    const cable = await Cable.lay();
    const at = await door(worn(good));
    const page = await openDoor(at, { base: cable.address });
    cable.unheard = /scans$/;
    await scanLine(page, code(good));
    await answered(page, "Enter");
    await page.getByText("The name is on the badge").waitFor();
    expect((await delivered(at, 1)).length).toBe(1);
    await page.getByText("waits to be sent").waitFor({ state: "detached", timeout: 40_000 });
    expect((await scansAt(at)).map(one => one.answer)).toEqual(["enter"]);
  });

  it("shows what the server knows more, when its answer comes late", async () => {
    const at = await door(worn(good));
    const page = await openDoor(at);
    await page.route(/scans$/, async route => {
      await new Promise(late => setTimeout(late, 2_500));
      await route.continue();
    });
    await scanLine(page, code(good));
    await answered(page, "Enter");
    await page.getByText("The name is on the badge").waitFor();
    await page.getByText(good.name, { exact: true }).waitFor();
    await page.unroute(/scans$/);
    await expect.poll(async () => (await scansAt(at)).map(one => one.answer)).toEqual(["enter"]);
  });

  it("keeps the word that it showed, where the server had another one and nobody heard it", async () => {
    expectComplaint(/409/);
    const desk = await Actor.signIn("badge_desk");
    const cable = await Cable.lay();
    const at = await door(worn(other));
    const page = await openDoor(at, { base: cable.address });
    // Held from now on; the gate's knowledge is from before.
    const held = { id: newId(), reason: "under_review", happened_at: new Date().toISOString() };
    const hold = await desk.post<{ holds: { id: string }[] }>(`/api/v1/badges/${other.id}/holds`, held);
    cable.unheard = /scans$/;
    await scanLine(page, code(other));
    await answered(page, "Enter");
    const scans = await delivered(at, 2);
    expect(scans.map(one => one.answer).sort()).toEqual(["cannot_confirm", "enter"]);
    const release = { id: newId(), reason: "checked", happened_at: new Date().toISOString() };
    await desk.post(`/api/v1/badge_holds/${hold.holds[0]?.id}/releases`, release);
  });

  it("says that it cannot confirm, and what is written down, once its knowledge is too old", async () => {
    expectComplaint(AWAY);
    const cable = await Cable.lay();
    const at = await door(worn(good), { knowledge_age_max_seconds: 3 });
    const page = await openDoor(at, { base: cable.address });
    await installed(page);
    cable.pull();
    await page.getByText(/and counts no longer: every badge gets “cannot confirm”/).waitFor();
    await scanLine(page, code(good));
    await answered(page, "Cannot confirm");
    await page.getByText("what this gate knows is too old").waitFor();
    await page.getByRole("status").getByText("Call the shift lead on 4410.").waitFor();
    // What never heals with time is said all the same.
    await scanLine(page, code(ended));
    await answered(page, "Badge not valid");
    await page.reload();
    await answered(page, "Ready for the next badge");
    await scanLine(page, code(good));
    await answered(page, "Cannot confirm");
    cable.plug();
    const scans = await delivered(at, 3);
    expect(scans.map(one => one.answer)).toEqual(["cannot_confirm", "not_valid", "cannot_confirm"]);
  });

  it("lets somebody in under a lead's name with one touch, and tells it later", async () => {
    expectComplaint(AWAY);
    const cable = await Cable.lay();
    const at = await door(worn(good));
    const page = await openDoor(at, { base: cable.address, size: "tablet" });
    cable.pull();
    await scanLine(page, code(failed));
    await answered(page, "Not cleared");
    await page.getByRole("button", { name: "Let in under Ada Brennick" }).click();
    await answered(page, "Let the person in");
    await page.getByText(/^Ada Brennick decides and answers for it/).waitFor();
    cable.plug();
    await delivered(at, 1);
    await page.getByText(/waits? to be sent/).waitFor({ state: "detached", timeout: 40_000 });
    const [scan] = await scansAt(at);
    await expect
      .poll(async () => (await entriesAt(at)).map(one => [one.lead, one.reason, one.scan_id]))
      .toEqual([["Ada Brennick", "emergency_call", scan?.id]]);
  });

  it("keeps an entry under any name, without a badge and without a policy that names anybody", async () => {
    const at = await door(worn(good), { leads: null });
    const page = await openDoor(at);
    await page.getByRole("button", { name: "Entry under a lead's name" }).click();
    await page.getByText("The rules of this gate name nobody.").waitFor();
    await page.getByLabel("Because").selectOption({ label: "something has to be mended at once" });
    await page.getByLabel("Name of the lead who decides").fill("Oriel Valdrun");
    await page.keyboard.press("Enter");
    await answered(page, "Let the person in");
    await expect
      .poll(async () => (await entriesAt(at)).map(one => [one.lead, one.reason, one.standing]))
      .toEqual([["Oriel Valdrun", "urgent_repair", "not_provided"]]);
  });
});

describe("a gate whose clock is wrong", () => {
  /** The device's clock, two hours ahead from its start on. */
  const AHEAD_MS = 7_200_000;

  it("is noticed, says so alone until a person has looked, and delivers the right moment", async () => {
    expectComplaint(AWAY);
    const cable = await Cable.lay();
    const at = await door(worn(good), { knowledge_age_max_seconds: 864_000 });
    const page = await openDoor(at, { base: cable.address });
    await page.addInitScript(ahead => {
      const real = Date.now.bind(Date);
      Date.now = () => real() + ahead;
    }, AHEAD_MS);
    await page.reload();
    await page.getByText(/^The server's clock is (1 hour|2 hours) behind this one/).waitFor();
    // While the server answers, its clock decides.
    await scanLine(page, code(good));
    await answered(page, "Enter");
    cable.pull();
    await scanLine(page, code(good));
    await answered(page, "Cannot confirm");
    await page.getByRole("button", { name: "The clock is right" }).click();
    await scanLine(page, code(good));
    await answered(page, "Enter");
    cable.plug();
    const scans = await delivered(at, 3);
    for (const { happened_at } of scans) {
      expect(Math.abs(Date.parse(happened_at) - Date.now()), happened_at).toBeLessThan(120_000);
    }
    expect(scans.map(one => one.answer)).toEqual(["enter", "cannot_confirm", "enter"]);
  });
});

describe("a gate whose token has ended", () => {
  it("goes on with what it knows and says so, and another device takes over what it left", async () => {
    expectComplaint(/401/, AWAY);
    const cable = await Cable.lay();
    const at = await door(worn(good));
    const page = await openDoor(at, { base: cable.address });
    const admin = await Actor.signIn("admin");
    await admin.delete(`/api/v1/devices/${at.device}`);
    await scanLine(page, code(good));
    await answered(page, "Enter");
    await page.getByText("The token of this device has ended.").waitFor();
    await page.getByText(/waits? to be sent/).waitFor();
    const id = newId();
    const made = { id, name: "Another tablet", role: "gate", gate_id: at.id };
    const { token } = await admin.post<{ token: string }>("/api/v1/devices", made);
    await page.getByRole("button", { name: "Sign this device in again" }).click();
    const again = page.getByRole("dialog", { name: "Sign in again" }).getByRole("button");
    await again.click();
    await page.context().addInitScript(next => {
      localStorage.setItem("sellion.device_token", JSON.stringify(next));
    }, token);
    await again.click();
    await page.getByRole("heading", { level: 1, name: at.name }).waitFor();
    const scans = await delivered(at, 1);
    expect(scans.map(one => one.recorded_by)).toEqual([id]);
  });
});
