// The desk: who is this, and are they ready now?
import type { Page } from "playwright-core";
import { describe, expect, it } from "vitest";
import { Actor, newId, person, place } from "./hospital";
import { expectComplaint, OFFLINE, openAs } from "./pages";

async function desk(): Promise<Page> {
  const page = await openAs("check_in", "/screens/check-in", { at: await place() });
  await page.getByRole("heading", { name: "Who is this, and are they ready?" }).waitFor();
  return page;
}

const box = (page: Page) => page.getByLabel("Name or staff number");

/** As a scanner that types: the whole number, and Enter. */
async function scan(page: Page, number: unknown): Promise<void> {
  await box(page).fill(String(number));
  await page.keyboard.press("Enter");
}

async function choose(page: Page, question: RegExp, answer: string): Promise<void> {
  await page.getByRole("group", { name: question }).getByRole("radio", { name: answer, exact: true }).check();
}

async function answer(
  page: Page,
  change: { ate?: string; shaven?: string; well?: string } = {},
): Promise<void> {
  await choose(page, /^Ate, drank/, change.ate ?? "No");
  await choose(page, /^Feels well/, change.well ?? "Yes");
  await choose(page, /^Skin clean-shaven/, change.shaven ?? "Yes");
  await choose(page, /^Has the face changed/, "No");
}

const submit = (page: Page) => page.getByRole("button", { name: "Check in", exact: true }).click();
const word = (page: Page, text: string | RegExp) => page.locator(".answer-word").getByText(text).waitFor();

describe("check-in", () => {
  it("takes a scanned person through the questions to one word and a ticket", async () => {
    const oriel = await person();
    const page = await desk();
    await scan(page, oriel["staff_number"]);
    await page.getByText("29 February").first().waitFor();
    await page.getByText("in the last 15 minutes").waitFor();
    await answer(page);
    await submit(page);
    await word(page, "Ready");
    await page.getByText(/^Ticket \d+$/).waitFor();
    await page.getByRole("button", { name: "Next person" }).click();
    await scan(page, oriel["staff_number"]);
    await word(page, "Ready");
  });

  it("assumes no answer, and says which are missing", async () => {
    const page = await desk();
    await scan(page, (await person())["staff_number"]);
    await page.getByRole("group", { name: /^Feels well/ }).waitFor();
    expect(await page.locator("input[type=radio]:checked").count()).toBe(0);
    await submit(page);
    expect(await page.getByText("Please answer this.").count()).toBe(4);
    await choose(page, /^Ate, drank/, "Earlier, at");
    await submit(page);
    await page.getByText("Give the time.").waitFor();
  });

  it("never takes the first of a list by Enter, and marks people of one name", async () => {
    const name = `Tamsin Ockerby${newId().slice(-5)}`;
    await person({ name });
    await person({ name });
    const page = await desk();
    await box(page).fill(name.split(" ")[1] ?? "");
    await page.keyboard.press("Enter");
    await page.locator("#content").getByText("2 people found").waitFor();
    expect(await page.getByText("Same name").count()).toBe(2);
    expect(await page.getByRole("group", { name: /^Feels well/ }).count()).toBe(0);
    await page
      .getByRole("button", { name: new RegExp(name) })
      .first()
      .click();
    await page.getByRole("group", { name: /^Feels well/ }).waitFor();
  });

  it("says from when on, to somebody who has just eaten", async () => {
    const page = await desk();
    await scan(page, (await person())["staff_number"]);
    await answer(page, { ate: "Just now" });
    await submit(page);
    await word(page, /^Ready at \d\d:\d\d$/);
    expect(await page.getByRole("timer").textContent()).toMatch(/1[45]:\d\d/);
  });

  it("holds back without a reason, and lets go when the clinician has decided", async () => {
    const oriel = await person({ permitted: false });
    const page = await desk();
    await scan(page, oriel["staff_number"]);
    await answer(page);
    await submit(page);
    await word(page, "Not yet");
    await page.getByText("Please see occupational health. The place is kept.").waitFor();
    const clinician = await Actor.signIn("clinician");
    await clinician.post(`/api/v1/people/${oriel.id}/permissions`, {
      id: newId(),
      decision: "permitted",
      valid_from: "2020-01-01",
      happened_at: new Date().toISOString(),
    });
    await page.locator(".answer-word").getByText("Ready").waitFor({ timeout: 40_000 });
  });

  it("asks again after somebody has shaved", async () => {
    const page = await desk();
    await scan(page, (await person())["staff_number"]);
    await answer(page, { shaven: "No" });
    await submit(page);
    await word(page, "Not yet");
    await page.getByText(/^Hair where the respirator seals/).waitFor();
    await page.getByRole("button", { name: "Ask again" }).click();
    await answer(page);
    await page.getByRole("button", { name: "Store the new answers" }).click();
    await word(page, "Ready");
  });

  it("takes somebody who is on no list, with the name of who answers for them", async () => {
    const page = await desk();
    await page.getByRole("button", { name: "Not on the list" }).click();
    await page.getByLabel("Given name").fill("Wendeline");
    await page.getByLabel("Family name").fill(`Quast${newId().slice(-5)}`);
    await page.getByRole("button", { name: "Add this person" }).click();
    await page.getByText("Name who answers for them.").waitFor();
    await page.getByLabel("Answers for them").fill("Tomas Brask, stores");
    await page.getByRole("button", { name: "Add this person" }).click();
    await answer(page);
    await page.getByLabel("Came without being expected").check();
    await submit(page);
    // Nobody has decided about them yet.
    await word(page, "Not yet");
  });

  it("keeps a check-in through a dead network and a reload, and sends it once", async () => {
    expectComplaint(OFFLINE);
    const oriel = await person();
    const page = await desk();
    await page.evaluate(() => navigator.serviceWorker.ready.then(() => undefined));
    await scan(page, oriel["staff_number"]);
    await answer(page);
    await page.context().setOffline(true);
    await submit(page);
    await word(page, "Kept on this device");
    await page.getByText("1 entry waits to be sent").waitFor();
    await page.context().setOffline(false);
    await page.reload();
    await page.getByText("1 entry waits to be sent").waitFor({ state: "detached", timeout: 40_000 });
    await scan(page, oriel["staff_number"]);
    await word(page, "Ready");
    const coordinator = await Actor.signIn("coordinator");
    const visits = await coordinator.get<{ items: unknown[] }>(`/api/v1/visits?person_id=${oriel.id}`);
    expect(visits.items).toHaveLength(1);
  });

  it("says so when another desk was first", async () => {
    expectComplaint(/status of 409/);
    const oriel = await person();
    const { day } = await place();
    const page = await desk();
    await scan(page, oriel["staff_number"]);
    await answer(page);
    // The other desk's news do not reach this one in time.
    await page.context().route("**/api/v1/visits?**", route => route.abort());
    const other = await Actor.signIn("check_in");
    const answers = { hair_at_seal: false, feels_well: true, face_changed: false };
    await other.post("/api/v1/visits", {
      id: newId(),
      day_id: day.id,
      person_id: oriel.id,
      answers,
      happened_at: new Date().toISOString(),
    });
    expectComplaint(/ERR_FAILED/);
    await submit(page);
    await page.getByText(/could not be checked in$/).waitFor();
    await page.getByText("This was stored before").or(page.getByText("This is stored already.")).waitFor();
    await page.getByRole("button", { name: "Discard" }).click();
    await page.getByText(/could not be checked in$/).waitFor({ state: "detached" });
  });

  it("hides the people from the queue in front of it when nobody works there", async () => {
    const page = await desk();
    await page.clock.install();
    await page.reload();
    await scan(page, (await person())["staff_number"]);
    await page.getByRole("group", { name: /^Feels well/ }).waitFor();
    await page.clock.fastForward(61_000);
    await page.getByText("Hidden while nobody works here").waitFor();
    expect(await page.getByText("29 February").first().isVisible()).toBe(false);
    await page.keyboard.press("Shift");
    await page.getByText("29 February").first().waitFor();
  });
});
