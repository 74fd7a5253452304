// The one list of screens that the browser tests know: a row gives a screen its axe, layout, keyboard and screenshot
// checks. `at` is the part a station must have where the screen needs one, or "day".
import type { Page } from "playwright-core";
import type { Role } from "../src/api/client";
import { answered, type Badge, type Door, door, printed, scanLine, worn } from "./doors";
import { Actor, person } from "./hospital";

export interface Row {
  /** Names the row, and its pictures. */
  name: string;
  /** Whose screen it is; null for nobody who is signed in. */
  role: Role | null;
  path: string | (() => Promise<string>);
  at?: "day" | "check_in" | "screening" | "testing" | "measuring" | "badges";
  /** The gate at which it stands: then it is signed in as that gate's device. */
  door?: () => Promise<Door>;
  /** The title, once the screen shows what it is for. */
  title: string | RegExp;
  /** What is done on the screen before it is looked at: a form that is open, a result that is shown. */
  before?: (page: Page) => Promise<void>;
}

/** The id of the first of a list. */
async function first(role: Role, path: string): Promise<string> {
  const { items } = await (await Actor.signIn(role)).get<{ items: { id: string }[] }>(`${path}?limit=1`);
  return items[0]?.id ?? "";
}

/** A badge is read at a gate, and the answer stands there. */
const reading = (which: (found: Awaited<ReturnType<typeof printed>>) => Badge, word: string) => {
  return async (page: Page) => {
    await scanLine(page, which(await printed()).code ?? "");
    await answered(page, word);
  };
};

/** The respirators of the first badge that is good. */
const anyDoor = async () => door(worn((await printed()).good[0] as Badge));

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
  {
    name: "board",
    role: "coordinator",
    path: "/screens/board",
    at: "day",
    title: "Will we finish?",
    before: async page => void (await page.getByRole("heading", { name: "Stations" }).waitFor()),
  },
  {
    name: "board-wall",
    role: "coordinator",
    path: "/screens/board/wall",
    at: "day",
    title: "Will we finish?",
    before: async page => void (await page.getByRole("heading", { name: "Stations" }).waitFor()),
  },
  {
    name: "stores",
    role: "storekeeper",
    path: "/screens/stores",
    at: "day",
    title: "What runs out next, and where is it?",
    before: async page => {
      await page.getByRole("heading", { name: "What the forecast takes for granted" }).waitFor();
    },
  },
  {
    name: "stores-lots",
    role: "storekeeper",
    path: "/screens/stores/lots",
    at: "day",
    title: "Which lots are there?",
    before: async page => void (await page.getByRole("table").waitFor()),
  },
  {
    name: "stores-lot",
    role: "storekeeper",
    path: async () => `/screens/stores/lots/${await first("storekeeper", "/api/v1/lots")}`,
    at: "day",
    title: /^Lot/,
    before: async page => void (await page.getByText("Surely").first().waitFor()),
  },
  {
    name: "stores-receive",
    role: "storekeeper",
    path: "/screens/stores/receive",
    at: "day",
    title: "What has come?",
    before: async page => void (await page.getByRole("radio", { name: "Facepieces" }).check()),
  },
  {
    name: "stores-bottle",
    role: "storekeeper",
    path: async () => `/screens/stores/bottles/${await first("storekeeper", "/api/v1/bottles")}`,
    at: "day",
    title: /^Bottle/,
  },
  {
    name: "stores-equipment",
    role: "storekeeper",
    path: "/screens/stores/equipment",
    at: "day",
    title: "Which nebulizers and hoods can be used?",
    before: async page => void (await page.getByRole("table").waitFor()),
  },
  {
    name: "stores-one-equipment",
    role: "storekeeper",
    path: async () => `/screens/stores/equipment/${await first("storekeeper", "/api/v1/equipment")}`,
    at: "day",
    title: /^(Nebulizer|Hood)/,
  },
  {
    name: "stores-places",
    role: "storekeeper",
    path: "/screens/stores/places",
    at: "day",
    title: "What is where?",
  },
  {
    name: "stores-place",
    role: "storekeeper",
    path: async () => `/screens/stores/places/${await first("storekeeper", "/api/v1/places")}`,
    at: "day",
    title: /./,
  },
  {
    name: "stores-usage",
    role: "storekeeper",
    path: "/screens/stores/usage",
    at: "day",
    title: "Does what was sprayed fit what is gone?",
    before: async page => void (await page.getByText(/False alarms to be expected/).waitFor()),
  },
  { name: "look-back-choose", role: "coordinator", path: "/screens/look-back", title: "What is in doubt?" },
  {
    name: "look-back",
    role: "coordinator",
    path: async () => `/screens/look-back/lot/${await first("coordinator", "/api/v1/lots")}`,
    title: "Who stands on it?",
    before: async page => void (await page.getByRole("tabpanel").getByRole("heading").first().waitFor()),
  },
  {
    name: "reports",
    role: "coordinator",
    path: "/screens/reports",
    title: "What failed, where, on which model?",
    before: async page => {
      await page.getByLabel("Fit-testing day").selectOption({ index: 1 });
      await page.getByRole("img", { name: /Bars per half hour/ }).waitFor();
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
    path: async () => `/screens/badges/one/${(await printed()).good[0]?.id}`,
    title: "What becomes of this badge?",
    before: async page => void (await page.getByRole("heading", { name: "Print it again" }).waitFor()),
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
  { name: "gate", role: "gate", path: "/", door: anyDoor, title: /^Lantern door/ },
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
  { name: "not-found", role: "storekeeper", path: "/screens/nowhere", title: "There is no such screen" },
];
