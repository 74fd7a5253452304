// The instrument's own files: readings into an attempt, recordings beside it, and how they are read.
import { createHash } from "node:crypto";
import { readFileSync } from "node:fs";
import type { Page } from "playwright-core";
import { describe, expect, it } from "vitest";
import { attemptOf, judgedOf, MINUTE } from "./chair";
import { accessible, fits as reflows } from "./checks";
import { newId } from "./hospital";
import { expectComplaint, openAs } from "./pages";
import { Chairside, measuringRoom, waiting } from "./room";

/** 29 CFR 1910.134 App. A Table A-2: four exercises, 149 seconds. */
const METHOD = "modified_ambient_aerosol_filtering";
const GOOD = "Counter 2\nstep;factor\nbend;120,5\ntalk;80\nside;150\nup;100\n";
const BROKEN = "Counter 2\nstep;factor\nbend;120,5\ntalk;eighty\nside;150\nup;\n";
const STEPS = { bend: "Bending over", talk: "Talking", side: "Head side to side", up: "Head up and down" };

const csv = (text: string) => ({ name: "readings.csv", mimeType: "text/csv", buffer: Buffer.from(text) });

/** Up to the moment at which the instrument starts. */
async function seated(side: Chairside): Promise<void> {
  await side.press("Call next for measuring");
  await side.press("Yes, this is the person");
  await side.page.getByRole("radio").first().check({ force: true });
  await side.page.getByLabel("Method").selectOption(METHOD);
  await side.page.getByLabel("What is written on the instrument").fill("Counter 2");
  await side.press("Start");
  await side.press("On, put on by the wearer");
  await side.press("No leak felt");
  await side.go(5 * MINUTE + 1000);
}

/** A mapping made by pointing at the columns of the file that was chosen. */
async function points(page: Page, name: string): Promise<void> {
  await page.getByRole("button", { name: "Make a mapping" }).click();
  await page.getByLabel("Name of the mapping").fill(name);
  await page.getByLabel("Line that names the columns").fill("2");
  for (const answer of ["Semicolon", "A comma: 12,5", "one measurement", "a fit factor"]) {
    await page.getByRole("radio", { name: answer, exact: true }).check({ force: true });
  }
  await page.getByLabel("step", { exact: true }).selectOption("exercise");
  await page.getByLabel("factor", { exact: true }).selectOption("fit_factor");
  for (const [step, exercise] of Object.entries(STEPS)) {
    await page.getByLabel(step, { exact: true }).selectOption({ label: exercise });
  }
}

describe("an instrument that runs by itself", { timeout: 240_000 }, () => {
  it("has its file taken whole, its mistakes told by line, and its recording kept beside it", async () => {
    expectComplaint(/net::ERR_|status of (422|503)/);
    const here = await measuringRoom();
    const { person } = await waiting(here);
    const side = await Chairside.sit(here);
    await seated(side);
    await side.press("It runs by itself: its file follows");
    await side.sees("By the plan the exercises are over at");
    await side.dies();
    await side.press("They stayed as they were: go on");
    await side.go(3 * MINUTE);

    const { page } = side;
    const file = page.getByLabel("File of the instrument, as CSV");
    await file.setInputFiles(csv(BROKEN));
    const name = `Counter ${newId()}`;
    await points(page, name);
    await accessible(page);
    await side.press("Keep the mapping");
    const mistakes = page.getByRole("table", { name: "2 mistakes in the file" });
    await mistakes.waitFor();
    expect(await mistakes.getByRole("rowheader").allInnerTexts()).toEqual(["4", "6"]);
    await mistakes.getByText("talk;eighty").waitFor();
    expect(await page.getByRole("button", { name: /^Take the readings/ }).count()).toBe(0);
    await expect
      .poll(async () => (await attemptOf(person.id)).events.map(one => one.kind))
      .toEqual(["donned", "seal_checked"]);

    await file.setInputFiles(csv(GOOD));
    // 29 CFR 1910.134 App. A I.C.2(b)(8)(iii)(D), the harmonic mean: 4 / (1/120.5 + 1/80 + 1/150 + 1/100).
    await side.sees("Overall 106.765, pass level 100");
    await accessible(page);
    side.cable.pull();
    await side.press("Take the readings: 4 exercises");
    await side.sees("The server does not answer.");
    side.cable.plug();
    await side.press("Take the readings: 4 exercises");
    await side.press("Comfortable");
    await side.press("What was changed on the respirator is undone");
    await side.press(/^This is .* with/);
    await side.press("Sign");
    await side.sees("Pass");
    const attempt = await judgedOf(person.id);
    expect(attempt.state.verdict).toMatchObject({ outcome: "pass", reason: "completed" });

    const curve = Buffer.from("<svg xmlns='http://www.w3.org/2000/svg'/>");
    await page
      .getByLabel("Strip chart or other recording")
      .setInputFiles({ name: "curve.svg", mimeType: "image/svg+xml", buffer: curve });
    await side.press("Keep it with this attempt");
    await side.sees("The fingerprint of what the server keeps is that of the file here.");

    const auditor = await openAs("auditor", `/screens/records/attempts/${attempt.id}`);
    await auditor.getByRole("heading", { name: "Recordings of the instrument" }).waitFor();
    await auditor.getByText(createHash("sha256").update(curve).digest("hex")).waitFor();
    const [download] = await Promise.all([
      auditor.waitForEvent("download"),
      auditor.getByRole("button", { name: "Save the recording readings.csv" }).click(),
    ]);
    expect(readFileSync(await download.path(), "utf8")).toBe(GOOD);
    await auditor.getByText("The bytes are those that were kept").waitFor();
    expect(await auditor.getByLabel("Strip chart or other recording").count()).toBe(0);
  });

  it.each(["phone", "tablet"] as const)("is whole on a %s, and may be typed after all", async size => {
    const here = await measuringRoom();
    const { person } = await waiting(here);
    const side = await Chairside.sit(here, { size });
    await seated(side);
    await side.press("It runs by itself: its file follows");
    await side.page.getByLabel("File of the instrument, as CSV").setInputFiles(csv(GOOD));
    await side.press("Make a mapping");
    await reflows(side.page);
    await side.press("Cancel");
    await reflows(side.page);
    await accessible(side.page);
    await side.go(MINUTE);
    await side.press("Type the readings instead");
    await side.sees("Exercise 1: what the instrument says");
    // It counts from the instrument's start, not from the moment at which somebody chose to type.
    await side.page.getByLabel("Fit factor").fill("120");
    await side.press("Store the reading");
    await side.sees("Exercise 2: what the instrument says");
    await side.press("Touched or adjusted");
    await side.press("Yes, end it");
    await side.sees("Does not count");
    expect((await judgedOf(person.id)).state.verdict).toMatchObject({ outcome: "void", reason: "adjusted" });
  });

  it("has a value that is hardly possible looked at again before its file is taken", async () => {
    expectComplaint(/status of 422/);
    const here = await measuringRoom();
    const { person } = await waiting(here);
    const side = await Chairside.sit(here);
    await seated(side);
    await side.press("It runs by itself: its file follows");
    await side.go(3 * MINUTE);
    const doubtful = "exercise,fit factor\n1,120.5\n2,80\n3,0.3\n4,100\n";
    await side.page.getByLabel("File of the instrument, as CSV").setInputFiles(csv(doubtful));
    // The mapping with which the demonstration's instrument is read.
    await side.page
      .getByLabel("How the file is read")
      .selectOption({ label: "Counter 1, one line an exercise" });
    await side.sees("It stands on line 4 of the file.");
    expect(await side.page.getByRole("button", { name: /^Take the readings/ }).count()).toBe(0);
    await side.page.getByLabel("I looked at the instrument again, and it is so").check();
    await side.press("Take the readings: 4 exercises");
    await side.sees("Fail");
    expect((await judgedOf(person.id)).state.verdict).toMatchObject({
      outcome: "fail",
      reason: "fit_factor_too_low",
    });
  });

  it("counts nothing where the respirator was touched while it ran", async () => {
    const here = await measuringRoom();
    const { person } = await waiting(here);
    const side = await Chairside.sit(here);
    await seated(side);
    await side.press("It runs by itself: its file follows");
    await side.press("Touched or adjusted");
    await side.press("Yes, end it");
    await side.sees("Does not count");
    const { events, state } = await judgedOf(person.id);
    expect(events.map(one => one.kind)).toContain("measuring_started");
    expect(state.verdict).toMatchObject({ outcome: "void", reason: "adjusted" });
  });
});

describe("how an instrument's files are read", () => {
  it("is set up from a file, and a file with a column too few keeps no mapping", async () => {
    const page = await openAs("coordinator", "/screens/set-up/reading-mappings");
    await page.getByRole("button", { name: "Make a mapping" }).click();
    const sample = page.getByLabel("A file that the instrument has written");
    await sample.setInputFiles(csv("outside,inside\n1000,5\n"));
    const name = `Counter ${newId()}`;
    await page.getByLabel("Name of the mapping").fill(name);
    for (const answer of ["A point: 12.5", "a whole test", "outside and inside, measured all the time"]) {
      await page.getByRole("radio", { name: answer, exact: true }).check({ force: true });
    }
    await page.getByLabel("outside", { exact: true }).selectOption("1.outside");
    await page.getByRole("button", { name: "Keep the mapping" }).click();
    await page.getByText("No column holds this yet: Exercise 1: Inside.").waitFor();
    expect(
      await page.getByLabel("outside", { exact: true }).evaluate(one => one === document.activeElement),
    ).toBe(true);
    await page.getByLabel("inside", { exact: true }).selectOption("1.inside");
    await page.getByRole("button", { name: "Keep the mapping" }).click();
    await page.getByText("Kept. A station can choose it now.").first().waitFor();
    await page.getByRole("table", { name: "Mappings" }).getByRole("rowheader", { name }).waitFor();
  });

  it("is read by the auditor, who changes nothing", async () => {
    const page = await openAs("auditor", "/screens/set-up/reading-mappings");
    await page.getByRole("table", { name: "Mappings" }).waitFor();
    expect(await page.getByRole("button", { name: "Make a mapping" }).count()).toBe(0);
  });
});
