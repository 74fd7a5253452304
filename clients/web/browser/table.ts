// The one list of screens that the browser tests know: a row gives a screen its axe, layout, keyboard and screenshot
// checks. `at` is the part a station must have where the screen needs one, or "day".
import type { Page } from "playwright-core";
import type { Role } from "../src/api/client";
import { person } from "./hospital";

export interface Row {
  /** Names the row, and its pictures. */
  name: string;
  /** Whose screen it is; null for nobody who is signed in. */
  role: Role | null;
  path: string | (() => Promise<string>);
  at?: "day" | "check_in" | "screening" | "testing" | "measuring" | "badges";
  /** The title, once the screen shows what it is for. */
  title: string | RegExp;
  /** What is done on the screen before it is looked at: a form that is open, a result that is shown. */
  before?: (page: Page) => Promise<void>;
}

export const ROWS: readonly Row[] = [
  { name: "sign-in", role: null, path: "/", title: "Sign in" },
  { name: "start", role: "coordinator", path: "/", title: "What is to be done?" },
  { name: "place", role: "tester", path: "/screens/place", at: "testing", title: "Where do you work?" },
  {
    name: "settings",
    role: "tester",
    path: "/screens/place",
    title: "Where do you work?",
    before: async page => {
      await page.getByRole("button", { name: /settings and sign-out/ }).click();
      await page.getByRole("dialog", { name: "Settings" }).waitFor();
    },
  },
  {
    name: "check-in",
    role: "check_in",
    path: "/screens/check-in",
    at: "day",
    title: "Who is this, and are they ready?",
    before: async page => {
      await page.getByLabel("Name or staff number").fill("an");
      await page
        .getByText(/people found|are shown/)
        .first()
        .waitFor();
    },
  },
  {
    name: "check-in-questions",
    role: "check_in",
    path: "/screens/check-in",
    at: "day",
    title: "Who is this, and are they ready?",
    before: async page => {
      await page.getByLabel("Name or staff number").fill(String((await person())["staff_number"]));
      await page.keyboard.press("Enter");
      await page.getByRole("group", { name: /^Feels well/ }).waitFor();
      await page.getByRole("button", { name: "Check in", exact: true }).click();
    },
  },
  { name: "station", role: "tester", path: "/screens/station", at: "testing", title: "Who is next?" },
  {
    name: "overlaps",
    role: "coordinator",
    path: "/screens/overlaps",
    at: "day",
    title: /at two stations at once/,
  },
  { name: "not-found", role: "storekeeper", path: "/screens/nowhere", title: "There is no such screen" },
];
