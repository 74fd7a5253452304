// The badge desk: a day's badges made and printed, handed over by reading them, spoiled, held, lost and found.
import type { Page } from "playwright-core";
import { beforeAll, describe, expect, it } from "vitest";
import { answered, type Badge, cameraOf, code, door, openDoor, printed, scanLine, worn } from "./doors";
import { Actor, person, place, type Place } from "./hospital";
import { expectComplaint, openAs } from "./pages";

let day: Place;
let desk: Actor;

beforeAll(async () => {
  [day, desk] = [await place(), await Actor.signIn("badge_desk")];
});

const badgeOf = (id: string) => desk.get<Badge>(`/api/v1/badges/${id}`);

/** A badge of the day that counts and that no other test takes. */
const taken = new Set<string>();
async function aBadge(): Promise<Badge> {
  const { good } = await printed();
  const badge = good.find(one => !taken.has(one.id) && !one.handed_over_at);
  if (!badge) throw new Error("no badge is left");
  taken.add(badge.id);
  return badge;
}

/** Somebody's name changes: what is printed of them is no longer true. */
async function renamed(badge: Badge): Promise<string> {
  const coordinator = await Actor.signIn("coordinator");
  const path = `/api/v1/people/${badge.person_id}`;
  const { version } = await coordinator.get<{ version: number }>(path);
  const family_name = `Vantongeren ${badge.serial.slice(0, 5)}`;
  const person = await coordinator.patch<{ given_name: string }>(path, { family_name }, version);
  return `${person.given_name} ${family_name}`;
}

/** The PDF that the page shows, and how it asked for it. */
async function shownPdf(page: Page): Promise<{ pdf: Buffer; url: URL }> {
  let shown: { pdf: Buffer; url: URL } | undefined;
  await page.route(/sheet/, async route => {
    const response = await route.fetch();
    shown = { pdf: await response.body(), url: new URL(route.request().url()) };
    await route.fulfill({ response });
  });
  await page.getByRole("button", { name: "Look at it before printing" }).click();
  await expect.poll(() => shown, { timeout: 15_000 }).toBeTruthy();
  await page.unroute(/sheet/);
  return shown as { pdf: Buffer; url: URL };
}

describe("the badge desk", () => {
  it("makes the badges of whoever is ready, prints them, and a gate reads what was printed", async () => {
    const before = await aBadge();
    const name = await renamed(before);
    const page = await openAs("badge_desk", "/screens/badges", { at: day });
    const row = page.getByRole("listitem").filter({ hasText: name });
    await row.getByText("the name has changed").waitFor();
    await page.getByRole("button", { name: /^Make \d+ badges?$/ }).click();
    await page.getByRole("heading", { name: "What came of this batch?" }).waitFor();
    await page.getByText(/^\d+ badges? made$/).waitFor({ timeout: 30_000 });
    await page.getByRole("row", { name: new RegExp(name) }).waitFor();

    // On a half-used sheet.
    await page.getByRole("radio", { name: "Place 4", exact: true }).check({ force: true });
    const sheet = await shownPdf(page);
    expect(sheet.pdf.subarray(0, 5).toString()).toBe("%PDF-");
    expect(sheet.url.searchParams.get("first_place")).toBe("3");
    expect(sheet.url.searchParams.get("layout")).toBe("a4_sheet");

    // Then this one alone, on a card.
    await page.getByRole("link", { name }).click();
    await page.getByRole("heading", { name: "What becomes of this badge?" }).waitFor();
    await page.getByLabel("Paper").selectOption("card");
    const { pdf } = await shownPdf(page);
    const at = await door(worn(before));
    const gate = await openDoor(at, { flags: cameraOf(pdf), size: "tablet" });
    await gate.getByRole("button", { name: "Use the camera" }).click();
    await answered(gate, "Enter");
    await gate.getByText(name, { exact: true }).waitFor();
  });

  it("reads a badge before it leaves the desk, and says in a second step that it was given", async () => {
    const badge = await aBadge();
    const page = await openAs("badge_desk", "/screens/badges", { at: day });
    await page.getByRole("heading", { name: "Hand over" }).waitFor();
    await scanLine(page, code(badge));
    await answered(page, "Hand it over");
    await page.getByText(`Printed for ${badge.name}`).waitFor();
    expect((await badgeOf(badge.id)).handed_over_at ?? null).toBeNull();
    await page.getByRole("button", { name: "Handed over" }).click();
    await answered(page, `Handed to ${badge.name}`);
    expect((await badgeOf(badge.id)).handed_over_at).toBeTruthy();

    await page.getByLabel("Serial on the badge").fill(badge.serial.toLowerCase());
    await page.keyboard.press("Enter");
    await answered(page, "Handed over before");
    const { ended } = await printed();
    await scanLine(page, ended.code ?? "");
    await answered(page, "No longer counts");
    await scanLine(page, "4006381333931");
    await answered(page, "Not readable");
  });

  it("makes a new badge for a spoiled one, with the reason", async () => {
    const badge = await aBadge();
    const page = await openAs("badge_desk", `/screens/badges/one/${badge.id}`);
    const make = page.getByRole("button", { name: "Make a new badge" });
    await make.waitFor();
    expect(await make.isDisabled(), "no reason yet").toBe(true);
    await page.getByLabel("Why it is printed again").selectOption("misprint");
    expect(await make.isDisabled(), "not yet how").toBe(true);
    await page.getByLabel("How it was spoiled").selectOption("smeared");
    await make.click();
    await page.getByText("The new badge is made").waitFor();
    expect((await badgeOf(badge.id)).status).not.toBe("valid");
    await page.getByRole("button", { name: "Look at it before printing" }).waitFor();
  });

  it("makes one badge at once for somebody who cannot wait, and the one before ends", async () => {
    const before = await aBadge();
    const name = await renamed(before);
    const page = await openAs("badge_desk", "/screens/badges", { at: day });
    await page.getByRole("link", { name: `One badge at once: ${name}` }).click();
    await page.getByRole("heading", { name: "May this person have a badge now?" }).waitFor();
    await answered(page, "Cleared");
    await page.getByText(`Badge ${before.serial} counts.`).waitFor();
    await page.getByRole("button", { name: "Make the badge now" }).click();
    await page.getByText("The badge is made").waitFor();
    expect((await badgeOf(before.id)).status).toBe("replaced");
    await page.getByLabel("Paper").selectOption("slip");
    const { pdf } = await shownPdf(page);
    expect(pdf.subarray(0, 5).toString()).toBe("%PDF-");
  });

  it("makes none for somebody who is cleared for nothing", async () => {
    const { staff_number } = await person();
    const page = await openAs("badge_desk", "/screens/badges/at-once");
    await page.getByLabel("Name or staff number").fill(String(staff_number));
    await page.keyboard.press("Enter");
    await answered(page, "Not cleared now");
    expect(await page.getByRole("button", { name: "Make the badge now" }).count()).toBe(0);
  });

  it("ends a badge for good, once it was asked and told why", async () => {
    const badge = await aBadge();
    const coordinator = await openAs("coordinator", `/screens/people/${badge.person_id}`);
    await coordinator.getByRole("link", { name: badge.serial }).click();
    await coordinator.getByRole("button", { name: "End this badge" }).click();
    const asked = coordinator.getByRole("dialog", { name: `End the badge of ${badge.name}?` });
    await asked.getByRole("button", { name: "End it for good" }).click();
    await asked.getByText("Please answer this.").waitFor();
    expect((await badgeOf(badge.id)).status, "not without a reason").toBe("valid");
    await asked.getByLabel("Why it ends").selectOption("left");
    await asked.getByRole("button", { name: "End it for good" }).click();
    await coordinator.getByText("is ended at every gate").waitFor();
    expect((await badgeOf(badge.id)).status).toBe("ended");
    await coordinator.getByText("ended", { exact: true }).waitFor();
    expect(await coordinator.getByRole("button", { name: "End this badge" }).count()).toBe(0);
  });

  it("holds a badge while something is looked into, and releases it", async () => {
    const badge = await aBadge();
    const page = await openAs("badge_desk", `/screens/badges/one/${badge.id}`);
    await page.getByLabel("Why it is held").selectOption("under_review");
    await page.getByRole("button", { name: "Hold it" }).click();
    await page.getByText(/^Held: under review/).waitFor();
    expect((await badgeOf(badge.id)).status).toBe("held");
    await page.getByLabel("Why it is released").selectOption("checked");
    await page.getByRole("button", { name: "Release it" }).click();
    await page.getByText(/^Held: under review/).waitFor({ state: "detached" });
    expect((await badgeOf(badge.id)).status).toBe("valid");
  });

  it("ends a lost badge with one touch, and tells a finder nothing", async () => {
    expectComplaint(/404/);
    const [lost, found] = [await aBadge(), await aBadge()];
    const { staff_number } = await desk.get<{ staff_number: string }>(`/api/v1/people/${lost.person_id}`);
    const page = await openAs("badge_desk", "/screens/badges/lost");
    await page.getByLabel("Name or staff number").fill(staff_number);
    await page.keyboard.press("Enter");
    await page.getByRole("button", { name: /^End the badge of/ }).click();
    await page.getByText("is ended at every gate").waitFor();
    expect((await badgeOf(lost.id)).status).toBe("ended");

    await page.getByLabel("Badge", { exact: true }).fill(found.serial);
    await page.getByLabel("Where it was found").fill("Stairs to Heron ward");
    await page.keyboard.press("Enter");
    const kept = page.getByRole("alert").filter({ hasText: "Written down." });
    await kept.waitFor();
    expect(await kept.textContent()).not.toContain(found.name);
    await page.getByRole("listitem").filter({ hasText: "Stairs to Heron ward" }).first().waitFor();

    await page.getByLabel("Badge", { exact: true }).fill("7KQ2M-XW9RD");
    await page.getByLabel("Where it was found").fill("Lift");
    await page.keyboard.press("Enter");
    await page.getByRole("alert").filter({ hasNotText: "Written down." }).first().waitFor();
  });
});
