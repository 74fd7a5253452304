// What holds for every screen: in both themes accessible, usable by keyboard, and whole on a phone. With
// SELLION_SCREENSHOTS=all each is also photographed at four sizes, in Spanish too, into screenshots/.
import { mkdirSync } from "node:fs";
import type { Page } from "playwright-core";
import { describe, expect, it } from "vitest";
import { accessible, fits, worksByKeyboard } from "./checks";
import { openDoor } from "./doors";
import { place } from "./hospital";
import { expectComplaint, type Look, open, openAs, type Size, SIZES } from "./pages";
import type { Row } from "./table";

const THEMES = ["light", "dark"] as const;
const pictures = process.env["SELLION_SCREENSHOTS"] === "all";

async function show(row: Row, look: Look): Promise<Page> {
  const at = row.at && (await place(row.at === "day" ? undefined : row.at));
  const path = typeof row.path === "string" ? row.path : await row.path();
  const page = await opened(row, path, { ...look, at, installs: false });
  if (!row.role) {
    // The answer to "who am I" of a browser in which nobody is signed in.
    expectComplaint(/status of 401/);
    await page.goto(path);
  }
  await page.getByRole("heading", { level: 1, name: row.title }).waitFor();
  await row.before?.(page);
  await page.evaluate(() => document.fonts.ready);
  return page;
}

async function opened(row: Row, path: string, look: Look): Promise<Page> {
  if (row.door) return openDoor(await row.door(), look);
  return row.role ? openAs(row.role, path, look) : open(look);
}

/** The device changes its theme, and the page is painted in it. */
async function inTheme(page: Page, theme: (typeof THEMES)[number]): Promise<void> {
  await page.emulateMedia({ colorScheme: theme });
  await page.locator(`html[data-theme=${theme}]`).waitFor();
  await page.evaluate(() => new Promise(painted => requestAnimationFrame(() => setTimeout(painted))));
}

async function photograph(page: Page, name: string): Promise<void> {
  mkdirSync("screenshots", { recursive: true });
  await page.screenshot({ path: `screenshots/${name}.png`, fullPage: true });
}

/** The tests of each row. */
export const holdsForScreens = (rows: readonly Row[]) =>
  describe.each(rows)("the screen $name", row => {
    // In one window, since most of the time goes into coming to the screen.
    it("is accessible in both themes, and works by keyboard", async () => {
      const page = await show(row, { theme: "light" });
      await accessible(page);
      await inTheme(page, "dark");
      await accessible(page);
      // Last, since it leaves the page scrolled and the focus somewhere.
      await inTheme(page, "light");
      await worksByKeyboard(page);
    });

    // In a window that was a phone's from the beginning, as a phone is. Spanish needs more room: what is whole in it on
    // wider devices is whole in English.
    it("is whole on a phone, and in Spanish on a phone, a tablet, a laptop and a desk", async () => {
      const page = await show(row, { size: "phone" });
      await fits(page);
      await page.evaluate(() => localStorage.setItem("sellion.language", '"es"'));
      await page.reload();
      await page.getByRole("heading", { level: 1 }).waitFor();
      await expect
        .poll(() => page.locator(".loading-bar").count(), { message: "everything is there" })
        .toBe(0);
      for (const [size, room] of Object.entries(SIZES)) {
        await page.setViewportSize(room);
        await fits(page);
        if (pictures) await photograph(page, `${row.name}-spanish-${size}`);
      }
    });

    it.runIf(pictures).each(Object.keys(SIZES) as Size[])("is photographed on a %s", async size => {
      for (const theme of THEMES) {
        const page = await show(row, { size, theme });
        await photograph(page, `${row.name}-${size}-${theme}`);
        await page.context().close();
      }
    });
  });
