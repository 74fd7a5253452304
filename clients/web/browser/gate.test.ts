// A gate in a browser: one answer to a badge that is held before the camera, scanned or typed; alone when the network is
// away; and every reading reaches the server once.
import type { Page } from "playwright-core";
import { beforeAll, describe, expect, it } from "vitest";
import type { Wire } from "../src/api/client";
import { worksByKeyboard } from "./checks";
import { answered, type Badge, cameraOf, door, openDoor, printed, scanLine, scansAt, worn } from "./doors";
import { Actor, newId } from "./hospital";
import { AWAY, expectComplaint, open } from "./pages";
import { Cable } from "./wire";

const code = (badge: Badge): string => badge.code ?? "";

let good: Badge;
let other: Badge;
let failed: Badge;
let ended: Badge;

beforeAll(async () => {
  const found = await printed();
  [good, other] = found.good as [Badge, Badge];
  ({ failed, ended } = found);
});

/** Waits until the server has so many scans of the gate. */
async function delivered(at: Parameters<typeof scansAt>[0], many: number) {
  await expect.poll(async () => (await scansAt(at)).length, { timeout: 30_000 }).toBe(many);
  return scansAt(at);
}

/** Waits until what is kept offline is there after a reload. */
async function installed(page: Page): Promise<void> {
  await page.evaluate(() => navigator.serviceWorker.ready.then(() => undefined));
}

describe("a gate", () => {
  it("reads a printed badge with its camera, and says who may go in with what", async () => {
    const desk = await Actor.signIn("badge_desk");
    const pdf = await desk.file("/api/v1/badge_sheets", { layout: "card", badge_ids: [good.id] });
    const at = await door(worn(good));
    const page = await openDoor(at, { flags: cameraOf(pdf), size: "tablet" });
    const asked: string[] = [];
    page.on("request", request => asked.push(request.url()));
    await page.getByRole("button", { name: "Use the camera" }).click();
    await answered(page, "Enter");
    await page.getByText(good.name, { exact: true }).waitFor();
    await page
      .getByText("Match name and face, check the respirator in use here, let the person in.")
      .waitFor();
    // The reader came from this server, and what stays before the camera is read once.
    expect(asked.filter(url => url.endsWith(".wasm")).length).toBe(1);
    expect(
      asked.filter(url => !url.startsWith(new URL(page.url()).origin) && !url.startsWith("blob:")),
    ).toEqual([]);
    await page.waitForTimeout(1_500);
    const scans = await scansAt(at);
    expect(scans.map(one => [one.answer, one.typed])).toEqual([["enter", false]]);
  });

  it("answers a scanner that types, in each of its words, and never says why", async () => {
    const at = await door(worn(good));
    const page = await openDoor(at);
    await scanLine(page, code(good));
    await answered(page, "Enter");
    await page.getByText(good.name, { exact: true }).waitFor();
    await scanLine(page, code(ended));
    await answered(page, "Badge not valid");
    expect(await page.getByText(good.name, { exact: true }).count(), "the person before").toBe(0);
    await scanLine(page, "4006381333931");
    await answered(page, "Badge not valid");
    await page.getByText("Not a badge code.").waitFor();
    await scanLine(page, code(failed));
    await answered(page, "Not cleared");
    expect(await page.locator("main").textContent()).not.toMatch(/fail|taste|medical|held/i);
    await page.getByRole("button", { name: "Next person" }).click();
    await answered(page, "Ready for the next badge");
    expect(await page.getByText(failed.name, { exact: true }).count()).toBe(0);
    const scans = await scansAt(at);
    expect(scans.map(one => one.answer).sort()).toEqual(["enter", "not_cleared", "not_valid", "not_valid"]);
  });

  it("holds a typed serial against its check character before it asks anybody", async () => {
    const at = await door(worn(good));
    const page = await openDoor(at);
    const field = page.getByLabel("Serial on the badge");
    const [first, second, ...rest] = good.serial.replace("-", "");
    await field.fill([second, first, ...rest].join(""));
    if (first === second) await field.fill(`${good.serial.slice(0, -1)}2`);
    await page.keyboard.press("Enter");
    await page.getByText(/One character is wrong/).waitFor();
    await field.fill("7KQ2M-XW9R0");
    await page.keyboard.press("Enter");
    await page.getByText(/no such character/).waitFor();
    expect(await scansAt(at)).toEqual([]);
    await field.fill(good.serial.toLowerCase());
    await page.keyboard.press("Enter");
    await answered(page, "Enter");
    await page.getByText("The serial was typed: check that name and face").waitFor();
    expect((await scansAt(at)).map(one => one.typed)).toEqual([true]);
  });

  it("is used without a mouse, and offers a guard no other door and no other screen", async () => {
    const at = await door(worn(good));
    const page = await openDoor(at);
    await worksByKeyboard(page);
    await page.getByLabel("Serial on the badge").focus();
    await page.keyboard.type(good.serial);
    await page.keyboard.press("Enter");
    await answered(page, "Enter");
    await page.getByRole("button", { name: "Next person" }).focus();
    await page.keyboard.press("Space");
    await answered(page, "Ready for the next badge");
    expect(await page.locator("main").getByRole("link").count()).toBe(0);
    expect(await page.locator("main").getByRole("combobox").count()).toBe(0);
    await page.goto("/screens/place");
    await page.getByRole("heading", { name: "There is no such screen" }).waitFor();
    await page.goto("/screens/people");
    await page.getByRole("heading", { name: "There is no such screen" }).waitFor();
  });

  it("asks twice before a device forgets its token", async () => {
    const page = await openDoor(await door(worn(good)));
    await page.getByRole("button", { name: /settings and sign-out/ }).click();
    await page.getByRole("button", { name: "Sign out" }).click();
    await page.getByText("only an administrator can bring it back").waitFor();
    await page.getByRole("button", { name: "Close" }).click();
    await answered(page, "Ready for the next badge");
  });

  it("forgets a person after a while by itself", async () => {
    const page = await openDoor(await door(worn(good)));
    await page.clock.install();
    await page.reload();
    await answered(page, "Ready for the next badge");
    await page.getByText(/^Up to date/).waitFor();
    await scanLine(page, code(good));
    await answered(page, "Enter");
    await page.clock.fastForward(16_000);
    await answered(page, "Ready for the next badge");
    expect(await page.getByText(good.name, { exact: true }).count()).toBe(0);
  });

  it("asks for the name where the same badge was just read at another gate", async () => {
    const [here, there] = [await door(worn(good)), await door(worn(good))];
    const coordinator = await Actor.signIn("coordinator");
    await coordinator.post("/api/v1/walking_times", {
      id: newId(),
      gate_id: here.id,
      other_gate_id: there.id,
      seconds: 3_600,
      happened_at: new Date().toISOString(),
    });
    const first = await openDoor(there);
    await scanLine(first, code(good));
    await answered(first, "Enter");
    const second = await openDoor(here);
    await scanLine(second, code(good));
    await answered(second, "Enter");
    await second.getByRole("alert").getByText("Check the name: compare name and face").waitFor();
  });

  it("says what it lacks to somebody who is no gate's device", async () => {
    expectComplaint(/404/);
    const admin = await Actor.signIn("admin");
    const username = `guard-${newId().slice(-6)}`;
    const guard = {
      id: newId(),
      username,
      display_name: "A guard",
      roles: ["gate"],
      password: "lantern-on-the-hill",
    };
    await admin.post("/api/v1/users", guard);
    const page = await open();
    const answer = await page.context().request.post("/api/v1/sessions", {
      data: { username, password: guard.password },
    });
    expect(answer.status()).toBe(201);
    await page.goto("/screens/gate");
    await page.getByText("This screen belongs to the device of a gate").waitFor();
  });
});

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
    await page.getByText("wait to be sent").waitFor({ state: "detached" });
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
    await page.getByText("wait to be sent").waitFor({ state: "detached", timeout: 40_000 });
    const coordinator = await Actor.signIn("coordinator");
    const entries = await coordinator.get<{ items: Wire<"LeadEntryView">[] }>(
      "/api/v1/lead_entries?limit=200",
    );
    const mine = entries.items.filter(one => one.gate_id === at.id);
    const [scan] = await scansAt(at);
    expect(mine.map(one => [one.lead, one.reason, one.scan_id])).toEqual([
      ["Ada Brennick", "emergency_call", scan?.id],
    ]);
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
    const coordinator = await Actor.signIn("coordinator");
    await expect
      .poll(async () => {
        const { items } = await coordinator.get<{ items: Wire<"LeadEntryView">[] }>(
          "/api/v1/lead_entries?limit=200",
        );
        return items.filter(one => one.gate_id === at.id).map(one => [one.lead, one.reason, one.standing]);
      })
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
