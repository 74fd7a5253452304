// What holds for every screen.
import { AxeBuilder } from "@axe-core/playwright";
import type { Page } from "playwright-core";
import { expect } from "vitest";

/** axe-core's rules for WCAG 2.2 A and AA, and its best practices. */
export async function accessible(page: Page): Promise<void> {
  const { violations } = await new AxeBuilder({ page })
    .withTags(["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"])
    .analyze();
  const found = violations.map(
    ({ id, help, nodes }) => `${id}: ${help}: ${nodes.map(one => one.html).join(" | ")}`,
  );
  expect(found).toEqual([]);
}

/** Nothing is wider than the window (WCAG 2.2, 1.4.10 Reflow). */
export async function fits(page: Page): Promise<void> {
  const [content, window] = await page.evaluate(() => [
    document.documentElement.scrollWidth,
    document.documentElement.clientWidth,
  ]);
  expect(content, "the page is wider than the window").toBeLessThanOrEqual(window ?? 0);
}

/** More stops than any screen has. */
const STOPS_MAX = 120;

/**
 * The page is gone through with the tab key: the way to the content comes first, every stop shows that it has the
 * focus, everything that can be used in the content is reached, and nothing holds the focus.
 */
export async function worksByKeyboard(page: Page): Promise<void> {
  await page.evaluate(() => (document.activeElement as HTMLElement | null)?.blur());
  await page.evaluate(() => window.getSelection()?.removeAllRanges());
  const missing = await page.evaluate(() => {
    const usable = "a[href], button:not(:disabled), input:not(:disabled), select, textarea";
    const all = [...document.querySelectorAll<HTMLElement>(`main ${usable.split(", ").join(", main ")}`)];
    const seen = all.filter(one => one.tabIndex >= 0 && one.checkVisibility());
    // Of the answers to one question, one is a stop, and arrows lead to the others.
    const groups = new Set<string>();
    return seen.filter(one => {
      if (!(one instanceof HTMLInputElement) || one.type !== "radio") return true;
      if (groups.has(one.name)) return false;
      groups.add(one.name);
      return true;
    }).length;
  });
  let reached = 0;
  for (let stop = 0; stop < STOPS_MAX; stop++) {
    await page.keyboard.press("Tab");
    const focused = await page.evaluate(() => {
      const one = document.activeElement;
      if (!one || one === document.body) return null;
      const marked = one.matches(".choice-option input") ? one.nextElementSibling : one;
      const style = getComputedStyle(marked ?? one);
      return {
        html: one.outerHTML.slice(0, 120),
        shown: style.outlineStyle !== "none" && style.outlineWidth !== "0px",
        skip: one.classList.contains("skip"),
        inMain: Boolean(one.closest("main")),
      };
    });
    if (!focused || (focused.skip && stop > 0)) break;
    expect(focused.shown, `the focus cannot be seen on ${focused.html}`).toBe(true);
    if (focused.inMain) reached += 1;
  }
  expect(reached, "stops of the tab key in the content").toBeGreaterThanOrEqual(missing);
}
