// The rows of the badge desk, of the gates, and of what both have counted.
import type { Page } from "playwright-core";
import { answered, type Badge, door, printed, scanLine, worn } from "./doors";
import type { Row } from "./table";

/** A badge is read at a gate, and the answer stands there. */
const reading = (which: (found: Awaited<ReturnType<typeof printed>>) => Badge, word: string) => {
  return async (page: Page) => {
    await scanLine(page, which(await printed()).code ?? "");
    await answered(page, word);
  };
};

/** The respirators of the first badge that is good. */
const anyDoor = async () => door(worn((await printed()).good[0]));

export const DOOR_ROWS: readonly Row[] = [
  {
    name: "badges",
    role: "badge_desk",
    path: "/screens/badges",
    at: "day",
    title: "Who gets a badge, and whose is this?",
    before: async page => {
      await scanLine(page, (await printed()).ended.code ?? "");
      await answered(page, "No longer counts");
    },
  },
  {
    name: "badges-one",
    role: "badge_desk",
    path: async () => `/screens/badges/one/${(await printed()).good[0].id}`,
    title: "What becomes of this badge?",
    before: async page => void (await page.getByRole("heading", { name: "Print it again" }).waitFor()),
  },
  {
    name: "badges-end",
    role: "badge_desk",
    path: async () => `/screens/badges/one/${(await printed()).good[0].id}`,
    title: "What becomes of this badge?",
    before: async page => {
      await page.getByRole("button", { name: "End this badge" }).click();
      await page.getByLabel("Why it ends").selectOption("misprint");
      await page.getByRole("button", { name: "End it for good" }).click();
      await page.getByText("Please answer this.").waitFor();
    },
  },
  {
    name: "badges-at-once",
    role: "badge_desk",
    path: "/screens/badges/at-once",
    title: "Who cannot wait for their badge?",
  },
  {
    name: "badges-at-once-one",
    role: "badge_desk",
    path: async () => `/screens/badges/at-once/${(await printed()).good[0].person_id}`,
    title: "May this person have a badge now?",
    before: async page => void (await page.getByRole("button", { name: "Make the badge now" }).waitFor()),
  },
  {
    name: "badges-lost",
    role: "badge_desk",
    path: "/screens/badges/lost",
    title: "What was lost, and what was found?",
  },
  {
    name: "badges-unclaimed",
    role: "badge_desk",
    path: "/screens/badges/unclaimed",
    title: "Whose badge still lies here?",
  },
  {
    name: "figures-badges",
    role: "auditor",
    path: "/screens/figures/badges",
    title: "How many badges were made, and what went wrong?",
    before: async page => void (await page.getByRole("table", { name: "Day by day" }).waitFor()),
  },
  {
    name: "figures-gates",
    role: "gate_lead",
    path: "/screens/figures/gates",
    title: "How often did each gate say what?",
    before: async page => void (await page.getByRole("table").waitFor()),
  },
  { name: "gate", role: "gate", path: "/", door: anyDoor, title: /^Lantern door/ },
  {
    name: "gate-found",
    role: "gate",
    path: "/",
    door: anyDoor,
    title: /^Lantern door/,
    before: async page => {
      await page.getByRole("button", { name: "Somebody hands in a badge" }).click();
      await page.getByRole("button", { name: "Write it down" }).click();
      await page.getByText("Please answer this.").first().waitFor();
    },
  },
  {
    name: "gate-enter",
    role: "gate",
    path: "/",
    door: anyDoor,
    title: /^Lantern door/,
    before: reading(({ good }) => good[0] as Badge, "Enter"),
  },
  {
    name: "gate-not-cleared",
    role: "gate",
    path: "/",
    door: anyDoor,
    title: /^Lantern door/,
    before: reading(({ failed }) => failed, "Not cleared"),
  },
];
