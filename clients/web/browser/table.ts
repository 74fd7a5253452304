// The one list of screens that the browser tests know: a row gives a screen its axe, layout, keyboard and screenshot
// checks. `at` is the part a station must have where the screen needs one, or "day".
import type { Page } from "playwright-core";
import type { Role } from "../src/api/client";
import { Actor, person, place } from "./hospital";

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

/** The id of the first of a list. */
async function first(role: Role, path: string): Promise<string> {
  const { items } = await (await Actor.signIn(role)).get<{ items: { id: string }[] }>(`${path}?limit=1`);
  return items[0]?.id ?? "";
}

/** Name and version of one of the rule sets the server knows. */
async function ruleSets(place = 0): Promise<[string, string]> {
  const coordinator = await Actor.signIn("coordinator");
  const { items } = await coordinator.get<{ items: { name: string; version: string }[] }>(
    "/api/v1/rule_sets",
  );
  const found = items[place];
  if (!found) throw new Error("the server knows no rule set");
  return [found.name, found.version];
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
  {
    name: "stores-stops",
    role: "storekeeper",
    path: "/screens/stores/stops",
    title: "What is stopped, and why?",
  },
  {
    name: "stores-prepare",
    role: "storekeeper",
    path: "/screens/stores/prepare",
    title: "What was made here?",
  },
  {
    name: "stores-station",
    role: "storekeeper",
    path: async () => `/screens/stores/places/${(await place("testing")).station?.id}`,
    title: "Station 1",
    before: async page => void (await page.getByRole("table", { name: "Fills at this station" }).waitFor()),
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
    name: "days",
    role: "coordinator",
    path: "/screens/set-up/days",
    title: "Which days are planned?",
    before: async page => void (await page.getByRole("table").waitFor()),
  },
  {
    name: "day",
    role: "coordinator",
    path: async () => `/screens/set-up/days/${(await place()).day.id}`,
    title: "Assembly hall",
    before: async page => void (await page.getByRole("table", { name: "Stations" }).waitFor()),
  },
  {
    name: "day-station",
    role: "coordinator",
    path: async () => `/screens/set-up/days/${(await place()).day.id}`,
    title: "Assembly hall",
    before: async page => {
      await page.getByRole("button", { name: "Set up a station" }).click();
      await page.getByRole("checkbox", { name: /^Testing/ }).check();
    },
  },
  {
    name: "respirators",
    role: "coordinator",
    path: "/screens/set-up/respirators",
    title: "Which respirators are used here?",
    before: async page => void (await page.getByRole("table").waitFor()),
  },
  {
    name: "respirators-new",
    role: "coordinator",
    path: "/screens/set-up/respirators",
    title: "Which respirators are used here?",
    before: async page => {
      await page.getByRole("button", { name: "Add a respirator" }).click();
      await page.getByRole("dialog").getByRole("button", { name: "Add a respirator" }).click();
    },
  },
  {
    name: "respirators-edit",
    role: "coordinator",
    path: "/screens/set-up/respirators",
    title: "Which respirators are used here?",
    before: async page =>
      void (await page
        .getByRole("button", { name: /^Change:/ })
        .first()
        .click()),
  },
  {
    name: "gates-set-up",
    role: "coordinator",
    path: "/screens/set-up/gates",
    title: "What does each gate accept?",
    before: async page => void (await page.getByRole("table").first().waitFor()),
  },
  {
    name: "gate-set-up",
    role: "coordinator",
    path: async () => `/screens/set-up/gates/${await first("coordinator", "/api/v1/gates")}`,
    title: /./,
    before: async page => void (await page.getByText("What to do when nobody can tell").first().waitFor()),
  },
  {
    name: "gate-policy",
    role: "coordinator",
    path: async () => `/screens/set-up/gates/${await first("coordinator", "/api/v1/gates")}/policy`,
    title: /^What does .* accept\?$/,
    before: async page => {
      await page.getByRole("button", { name: "Add a class" }).click();
      await page.getByRole("radio", { name: "At a time ahead" }).check();
      await page.getByRole("button", { name: "Decide it" }).click();
    },
  },
  {
    name: "rule-sets",
    role: "coordinator",
    path: "/screens/set-up/rule-sets",
    title: "Which rules hold here?",
    before: async page => void (await page.getByRole("table").waitFor()),
  },
  {
    name: "rule-set",
    role: "coordinator",
    path: async () => `/screens/set-up/rule-sets/one?set=${encodeURIComponent((await ruleSets()).join(" "))}`,
    title: /./,
    before: async page => void (await page.getByRole("table", { name: "Values" }).waitFor()),
  },
  {
    name: "rule-sets-compare",
    role: "coordinator",
    path: async () => {
      const [one, other] = [await ruleSets(), await ruleSets(1)];
      return `/screens/set-up/rule-sets/compare?${new URLSearchParams({ one: one.join(" "), other: other.join(" ") })}`;
    },
    title: "How do two rule sets differ?",
    before: async page => void (await page.getByRole("table").waitFor()),
  },
  {
    name: "rule-sets-new",
    role: "coordinator",
    path: "/screens/set-up/rule-sets/new",
    title: "Which rules does this site set itself?",
  },
  {
    name: "face-panel",
    role: "coordinator",
    path: "/screens/set-up/face-panel",
    title: "Which face lengths belong together?",
    before: async page => void (await page.getByRole("button", { name: "Load it" }).click()),
  },
  {
    name: "users",
    role: "admin",
    path: "/screens/set-up/users",
    title: "Who signs in here?",
    before: async page => void (await page.getByRole("table").waitFor()),
  },
  {
    name: "devices",
    role: "admin",
    path: "/screens/set-up/devices",
    title: "Which devices sign in by themselves?",
    before: async page =>
      void (await page.getByText("No device has a token yet").or(page.getByRole("table")).waitFor()),
  },
  {
    name: "devices-new",
    role: "admin",
    path: "/screens/set-up/devices",
    title: "Which devices sign in by themselves?",
    before: async page => {
      await page.getByRole("button", { name: "Add a device" }).click();
      await page.getByRole("radio", { name: "Gate", exact: true }).check();
    },
  },
  {
    name: "devices-token",
    role: "admin",
    path: "/screens/set-up/devices",
    title: "Which devices sign in by themselves?",
    before: async page => {
      await page.getByRole("button", { name: "Add a device" }).click();
      await page.getByLabel("Name", { exact: true }).fill("Tablet of the badge desk");
      await page.getByRole("radio", { name: "Badge desk" }).check();
      await page.getByRole("dialog").getByRole("button", { name: "Add a device" }).click();
      await page.getByRole("img", { name: "Code with the address and the token" }).waitFor();
    },
  },
  {
    name: "keys",
    role: "admin",
    path: "/screens/set-up/keys",
    title: "Which keys sign badges?",
    before: async page => void (await page.getByRole("table").waitFor()),
  },
  {
    name: "site",
    role: "admin",
    path: "/screens/set-up/site",
    title: "How is this site set?",
    before: async page => void (await page.getByLabel("Name", { exact: true }).waitFor()),
  },
  { name: "not-found", role: "storekeeper", path: "/screens/nowhere", title: "There is no such screen" },
];
