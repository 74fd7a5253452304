// What holds for every screen.
import { AxeBuilder } from "@axe-core/playwright";
import type { Page } from "playwright-core";
import { expect } from "vitest";

/** axe-core's rules for WCAG 2.2 A and AA, and its best practices. */
export async function accessible(page: Page): Promise<void> {
  const { violations } = await new AxeBuilder({ page })
    // At once, in the page itself, which has no frames; in parts, with a page more for the report, it takes twice as long.
    .setLegacyMode()
    .options({ resultTypes: ["violations"] })
    .withTags(["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"])
    .analyze();
  const found = violations.map(
    ({ id, nodes }) => `${id}: ${nodes.map(one => `${one.html} ${one.failureSummary}`).join(" | ")}`,
  );
  expect(found).toEqual([]);
}

/**
 * Nothing is wider than the window (WCAG 2.2, 1.4.10 Reflow), and nothing sticks out of its panel, its dialog, its table
 * or its field; what does is named.
 */
export async function fits(page: Page): Promise<void> {
  const found = await page.evaluate(() => {
    const boxes = document.querySelectorAll<HTMLElement>(".panel, .dialog, .table-room, .field");
    return [document.documentElement, ...boxes].flatMap(box => {
      if (box.scrollWidth <= box.clientWidth) return [];
      const right = box.getBoundingClientRect().left + box.clientWidth;
      const out = [...box.querySelectorAll("*")].filter(one => one.getBoundingClientRect().right > right);
      const what = `${box.scrollWidth} of ${box.clientWidth}: ${box.outerHTML.slice(0, 80)}`;
      return [what, ...out.map(one => one.outerHTML.slice(0, 160))];
    });
  });
  expect(found, `something is wider than its room at ${page.viewportSize()?.width}`).toEqual([]);
}

/** Stops that are none of the page's elements of their own: the parts of a date, and the browser around the page. */
const STOPS_MORE = 50;

/**
 * The page, or the dialog over it, is gone through with the tab key: every stop shows that it has the focus, everything
 * that can be used is reached, and nothing holds the focus.
 */
export async function worksByKeyboard(page: Page): Promise<void> {
  const elements = await page.evaluate(() => {
    // From the top; what had the focus would be where the first step begins.
    const start = document.querySelector<HTMLElement>("dialog[open] h2") ?? document.body;
    start.tabIndex = -1;
    start.focus();
    start.removeAttribute("tabindex");
    return document.querySelectorAll("a[href], button, input, select, textarea, summary, [tabindex]").length;
  });
  for (let stop = 0; stop < elements + STOPS_MORE; stop++) {
    await page.keyboard.press("Tab");
    const focused = await page.evaluate(() => {
      const one = document.activeElement as HTMLElement | null;
      if (!one || one === document.body) return null;
      // Day, month and year of a date are stops of their own within one control.
      const within = one.matches("input[type^=date], input[type=time]") && one.dataset["here"] === "yes";
      document.querySelector("[data-here]")?.removeAttribute("data-here");
      one.dataset["here"] = "yes";
      const again = one.dataset["reached"] === "yes" && !within;
      one.dataset["reached"] = "yes";
      const marked = one.matches(".choice-option input") ? one.nextElementSibling : one;
      const style = getComputedStyle(marked ?? one);
      return {
        again,
        html: one.outerHTML.slice(0, 120),
        // Inside a date the browser itself marks the part.
        shown: within || (style.outlineStyle !== "none" && style.outlineWidth !== "0px"),
      };
    });
    if (!focused) continue;
    if (focused.again) break;
    expect(focused.shown, `the focus cannot be seen on ${focused.html}`).toBe(true);
  }
  const missed = await page.evaluate(() => {
    const room = document.querySelector("dialog[open]") ?? document.querySelector("main");
    const usable =
      room?.querySelectorAll<HTMLElement>("a[href], button:not(:disabled), input, select, textarea") ?? [];
    const reached = (one: HTMLElement) => {
      if (one.dataset["reached"] === "yes") return true;
      if (!(one instanceof HTMLInputElement) || one.type !== "radio") return false;
      // Of the answers to one question one is a stop, and arrows lead to the others.
      return document.querySelector(`input[name="${one.name}"][data-reached]`) !== null;
    };
    return [...usable]
      .filter(one => one.tabIndex >= 0 && one.checkVisibility() && !reached(one))
      .map(one => one.outerHTML.slice(0, 160));
  });
  expect(missed, "what the tab key does not reach").toEqual([]);
}
