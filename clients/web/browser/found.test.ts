// A badge that somebody hands in at a gate: written down with the network or without, and told to nobody there.
import { describe, expect, it } from "vitest";
import type { Wire } from "../src/api/client";
import { answered, type Badge, door, openDoor, printed, scanLine, scansAt, worn } from "./doors";
import { Actor } from "./hospital";
import { AWAY, expectComplaint } from "./pages";
import { Cable } from "./wire";

describe("a gate", () => {
  it("writes down a badge that is handed in, tells nothing of it, and counts no reading", async () => {
    expectComplaint(AWAY);
    const desk = await Actor.signIn("badge_desk");
    const { good, ended } = await printed();
    const [cable, at] = [await Cable.lay(), await door(worn(good[0] as Badge))];
    const page = await openDoor(at, { base: cable.address });
    await page.getByRole("button", { name: "Somebody hands in a badge" }).click();
    const asked = page.getByRole("dialog", { name: "Somebody hands in a badge" });
    await asked.getByRole("button", { name: "Write it down" }).focus();
    await scanLine(page, ended.serial);
    await expect.poll(() => asked.getByLabel("Badge", { exact: true }).inputValue()).toBe(ended.serial);
    await asked.getByLabel("Where it was found").fill("Stairs to Plover wing");
    await page.keyboard.press("Enter");
    await asked.getByText(/^Written down\./).waitFor();
    expect(await asked.textContent()).not.toContain(ended.name);

    cable.pull();
    await asked.getByLabel("Badge", { exact: true }).fill(ended.serial);
    await asked.getByLabel("Where it was found").fill("Lift of Plover wing");
    await page.keyboard.press("Enter");
    await asked.getByText(/^Written down\./).waitFor();
    cable.plug();
    const found = async () =>
      (await desk.get<{ items: Wire<"BadgeFindView">[] }>("/api/v1/badge_finds?limit=500")).items
        .filter(one => one.gate_id === at.id)
        .map(one => one.place);
    await expect.poll(found, { timeout: 40_000 }).toEqual(["Stairs to Plover wing", "Lift of Plover wing"]);
    await page.keyboard.press("Escape");
    await answered(page, "Ready for the next badge");
    expect(await scansAt(at)).toEqual([]);
  });
});
