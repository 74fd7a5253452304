// People: finding and telling them apart, correcting what is stored, a clinician's decision, and a roster file.
import type { Page } from "playwright-core";
import { describe, expect, it } from "vitest";
import { Actor, newId, person, place } from "./hospital";
import { expectComplaint, openAs } from "./pages";

interface Row {
  id: string;
  [member: string]: unknown;
}

const read = async (id: string): Promise<Row> =>
  (await Actor.signIn("coordinator")).get<Row>(`/api/v1/people/${id}`);

async function find(page: Page, number: unknown): Promise<void> {
  await page.getByLabel("Name or staff number").fill(String(number));
  await page.keyboard.press("Enter");
}

describe("a person", () => {
  it("is found by number, and nothing of the one before stays", async () => {
    const [first, second] = [
      await person({ name: "Tamsin Ockerby" }),
      await person({ name: "Ruben Vantongeren", permitted: false }),
    ];
    const page = await openAs("coordinator", "/screens/people");
    await find(page, first["staff_number"]);
    await page.getByRole("heading", { level: 1, name: "Tamsin Ockerby" }).waitFor();
    await page.getByText("Permitted", { exact: true }).waitFor();
    await page.getByRole("button", { name: "Correct", exact: true }).click();
    await page.getByLabel("Ward or department").fill("Half a word");
    await page.getByRole("link", { name: "Somebody else" }).click();
    await find(page, second["staff_number"]);
    await page.getByRole("heading", { level: 1, name: "Ruben Vantongeren" }).waitFor();
    await page.getByText("No decision is stored").waitFor();
    const shown = await page.locator("#content").innerText();
    expect(shown).not.toContain("Ockerby");
    expect(await page.getByLabel("Ward or department").count()).toBe(0);
    // Day and month are enough to ask for.
    expect(shown).toContain("29 February");
    expect(shown).not.toContain("1988");
  });

  it("is corrected upon what somebody else stored meanwhile, and neither is lost", async () => {
    expectComplaint(/status of 409|status of 412/);
    const oriel = await person();
    const page = await openAs("coordinator", `/screens/people/${oriel.id}`);
    await page.getByRole("button", { name: "Correct", exact: true }).click();
    await page.getByLabel("Family name").fill("Brennick");
    // The desk is faster.
    const desk = await page.context().request.patch(`/api/v1/people/${oriel.id}`, {
      data: { unit: "Plover" },
      headers: { "If-Match": '"1"' },
    });
    expect(desk.status()).toBe(200);
    await page.getByRole("button", { name: "Save" }).click();
    await page.getByRole("button", { name: "Read again and keep what I typed" }).click();
    await page
      .getByRole("button", { name: "Read again and keep what I typed" })
      .waitFor({ state: "detached" });
    expect(await page.getByLabel("Family name").inputValue()).toBe("Brennick");
    expect(await page.getByLabel("Ward or department").inputValue()).toBe("Plover");
    await page.getByRole("button", { name: "Save" }).click();
    await page.getByRole("heading", { level: 1, name: "Oriel Brennick" }).waitFor();
    expect(await read(oriel.id)).toMatchObject({ family_name: "Brennick", unit: "Plover", version: 3 });
  });

  it("keeps their number from another, and the refusal stands at the field", async () => {
    expectComplaint(/status of 409|status of 422/);
    const [one, other] = [await person(), await person()];
    const page = await openAs("coordinator", `/screens/people/${other.id}`);
    await page.getByRole("button", { name: "Correct", exact: true }).click();
    await page.getByLabel("Staff number").fill(String(one["staff_number"]));
    await page.getByRole("button", { name: "Save" }).click();
    await page.getByRole("alert").waitFor();
    const field = page.getByLabel("Staff number");
    await expect.poll(() => field.getAttribute("aria-invalid")).toBe("true");
    expect((await read(other.id))["staff_number"]).toBe(other["staff_number"]);
  });

  it("is added to the staff with zeros kept", async () => {
    const number = `00${newId().slice(-8)}`;
    const page = await openAs("coordinator", "/screens/people");
    await page.getByRole("button", { name: "Add a person" }).click();
    await page.getByRole("radio", { name: "Staff" }).check();
    await page.getByLabel("Given name").fill("Ada");
    await page.getByRole("button", { name: "Add this person" }).click();
    await page.getByText("Give a number.").waitFor();
    await page.getByLabel("Staff number").fill(number);
    await page.getByRole("button", { name: "Add this person" }).click();
    await page.getByRole("heading", { level: 1, name: "Ada" }).waitFor();
    expect(await read(page.url().split("/").at(-1) ?? "")).toMatchObject({
      staff_number: number,
      kind: "staff",
    });
  });

  it("gets a clinician's decision with its limits and dates; the clinician sees no test", async () => {
    const oriel = await person({ permitted: false });
    const page = await openAs("clinician", `/screens/people/${oriel.id}`);
    await page.getByRole("button", { name: "Store a decision" }).click();
    await page.getByRole("button", { name: "Save" }).click();
    await page.getByText("Say what was decided.").waitFor();
    await page.getByRole("radio", { name: "Permitted with limits" }).check();
    await page.getByRole("button", { name: "Save" }).click();
    await page.getByText("Say what the limits are.").waitFor();
    await page.getByLabel("What the wearer has to keep to").fill("No longer than two hours at a time");
    await page.getByLabel("Last day it holds").fill("2099-12-31");
    await page.getByRole("button", { name: "Save" }).click();
    await page.getByText("31 December 2099").waitFor();
    const coordinator = await Actor.signIn("coordinator");
    const { items } = await coordinator.get<{ items: Row[] }>(`/api/v1/people/${oriel.id}/permissions`);
    expect(items).toMatchObject([{ decision: "permitted_with_limits", valid_until: "2099-12-31" }]);
    expect(await page.getByRole("heading", { name: "Attempts" }).count()).toBe(0);
  });

  it("is referred without a test, once somebody said why", async () => {
    const day = await place("testing");
    const oriel = await person();
    const page = await openAs("tester", `/screens/people/${oriel.id}`);
    await page.getByRole("button", { name: "Refer" }).click();
    await page.getByText("A referral comes out of a visit.").waitFor();
    await page.getByRole("button", { name: "Close" }).click();
    const desk = await Actor.signIn("check_in");
    await desk.post("/api/v1/visits", {
      id: newId(),
      day_id: day.day.id,
      person_id: oriel.id,
      answers: { hair_at_seal: false, feels_well: true, face_changed: false },
      happened_at: new Date().toISOString(),
    });
    await page.getByRole("button", { name: "Refer" }).click();
    const asked = page.getByRole("dialog", { name: "Send on to another kind of test?" });
    await asked.getByLabel("Why").selectOption("cannot_taste");
    await asked.getByRole("button", { name: "Refer" }).click();
    await page.getByRole("listitem").filter({ hasText: "Notices none of the agents" }).waitFor();
    const { items } = await desk.get<{ items: Row[] }>(`/api/v1/visits?person_id=${oriel.id}`);
    expect(["referred", "measuring"]).toContain(items[0]?.["step"]);
  });

  it("of whom nobody was tested stands on the due list, with the doors and what would help", async () => {
    const oriel = await person({ permitted: false });
    const page = await openAs("coordinator", "/screens/due");
    // Every gate is asked, and other tests have made many.
    const find = page.getByLabel("Name, staff number or ward");
    await find.waitFor({ timeout: 45_000 });
    await find.fill(String(oriel["staff_number"]));
    const row = page.getByRole("row", { name: new RegExp(String(oriel["staff_number"])) });
    await row.getByText("Not cleared now").waitFor();
    await row.getByText("A passed test on").waitFor();
    await page.getByLabel(/^Only those who came in/).check();
    await row.waitFor({ state: "detached" });
  });
});

describe("a roster file", () => {
  const choose = (page: Page, buffer: Buffer) =>
    page
      .getByLabel("File of the staff, as CSV")
      .setInputFiles({ name: "roster.csv", mimeType: "text/csv", buffer });

  it("is looked at first: columns are named, mistakes told by line, and nothing is stored", async () => {
    // The server asks which column holds the number.
    expectComplaint(/status of 422/);
    const number = newId().slice(-10);
    const lines = [
      "Key;Given name;Family name;Born",
      `0${number};Ines;Valdrun;03/04/1988`,
      `0${number};Ana;Roe;`,
    ];
    const page = await openAs("coordinator", "/screens/roster");
    await choose(page, Buffer.from(`${lines.join("\n")}\n`));
    await page.getByText("A column is missing.").waitFor();
    const field = page.getByLabel("Staff number");
    expect(await field.getAttribute("aria-invalid")).toBe("true");
    await field.selectOption({ label: "Key" });
    await page.getByText("2 mistakes stand in the way").first().waitFor();
    const rows = page.getByRole("row");
    await rows
      .filter({ hasText: "A date that can be read in two ways" })
      .getByText("2", { exact: true })
      .waitFor();
    await rows.filter({ hasText: "stands in the file twice" }).getByText("3", { exact: true }).waitFor();
    expect(await page.getByRole("button", { name: /^Take the file/ }).count()).toBe(0);
    const coordinator = await Actor.signIn("coordinator");
    const found = await coordinator.get<{ items: Row[] }>(`/api/v1/people?staff_number=0${number}`);
    expect(found.items).toEqual([]);
  });

  it("in the letters of an old program is refused, then read as somebody says, and taken once", async () => {
    expectComplaint(/status of 422/);
    const number = `00${newId().slice(-8)}`;
    // "Ren\xe9e" as windows-1252 writes it (WHATWG Encoding Standard).
    const text = `Staff number,Given name,Family name,Ward\n${number},Ren\u00e9e,Roe,Heron\n`;
    const page = await openAs("coordinator", "/screens/roster");
    await choose(page, Buffer.from(text, "latin1"));
    await page.getByText("The file is not UTF-8 text.").waitFor();
    await page.getByLabel("How the letters of the file are written").selectOption("1252");
    await page.getByText("Ren\u00e9e Roe").waitFor();
    await page.getByRole("button", { name: "Take the file: 1 person" }).click();
    await page.locator(".answer-word").getByText("Taken").waitFor();
    const coordinator = await Actor.signIn("coordinator");
    const found = await coordinator.get<{ items: Row[] }>(`/api/v1/people?staff_number=${number}`);
    expect(found.items).toMatchObject([{ given_name: "Ren\u00e9e", unit: "Heron" }]);
    await page.getByRole("button", { name: "Take another file" }).click();
    await choose(page, Buffer.from(text));
    await page.getByText("Nothing stands in the way").first().waitFor();
    const unchanged = page.locator(".facts > div").filter({ hasText: "As they are" }).first();
    await unchanged.getByText("1", { exact: true }).waitFor();
  });
});
