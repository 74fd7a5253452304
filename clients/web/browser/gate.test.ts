// A gate in a browser: one answer to a badge that is held before the camera, scanned or typed.
import { describe, expect, it } from "vitest";
import { worksByKeyboard } from "./checks";
import { answered, cameraOf, code, door, openDoor, printed, scanLine, scansAt, worn } from "./doors";
import { Actor, newId } from "./hospital";
import { expectComplaint, open } from "./pages";

const {
  good: [good],
  failed,
  ended,
} = await printed();

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
