// The screens that the browser tests know, together with door-table.ts and set-up-table.ts: a row gives a screen its axe,
// layout, keyboard and screenshot checks. `at` is the part a station must have where the screen needs one, or "day".
import type { Page } from "playwright-core";
import type { Role } from "../src/api/client";
import type { Door } from "./doors";
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
export async function first(role: Role, path: string): Promise<string> {
  const { items } = await (await Actor.signIn(role)).get<{ items: { id: string }[] }>(`${path}?limit=1`);
  return items[0]?.id ?? "";
}

/** Somebody of whom an attempt is stored. */
async function tested(): Promise<string> {
  const coordinator = await Actor.signIn("coordinator");
  const { items } = await coordinator.get<{ items: { person_id: string }[] }>("/api/v1/attempts?limit=1");
  return items[0]?.person_id ?? "";
}

/** When every clearance of today has run out, as the browser's control takes it. */
const aYearAhead = (): string => new Date(Date.now() + 400 * 86_400_000).toISOString().slice(0, 16);

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
        .getByText(/(person|people) found|are shown/)
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
  {
    name: "people",
    role: "coordinator",
    path: "/screens/people",
    title: "Who are you looking for?",
    before: async page => {
      await page.getByLabel("Name or staff number").fill("an");
      await page
        .getByText(/(person|people) found|are shown/)
        .first()
        .waitFor();
    },
  },
  {
    name: "people-new",
    role: "coordinator",
    path: "/screens/people",
    title: "Who are you looking for?",
    before: async page => {
      await page.getByRole("button", { name: "Add a person" }).click();
      await page.getByRole("button", { name: "Add this person" }).click();
      await page.getByText("Say which of the two.").waitFor();
    },
  },
  {
    name: "person",
    role: "coordinator",
    path: async () => `/screens/people/${await tested()}`,
    title: /./,
    before: async page => {
      await page.getByRole("table", { name: "Attempts" }).waitFor();
      await page.getByRole("button", { name: "Ask about another moment" }).click();
      await page.getByRole("button", { name: "Correct", exact: true }).click();
    },
  },
  {
    name: "person-refer",
    role: "tester",
    path: async () => `/screens/people/${await tested()}`,
    title: /./,
    before: async page => {
      await page.getByRole("button", { name: "Refer" }).click();
      await page.getByRole("dialog").getByRole("button", { name: "Refer" }).click();
      await page.getByText("Please answer this.").first().waitFor();
    },
  },
  {
    name: "person-clinician",
    role: "clinician",
    path: async () => `/screens/people/${await tested()}`,
    title: /./,
    before: async page => {
      await page.getByRole("button", { name: "Store a decision" }).click();
      await page.getByRole("radio", { name: "Permitted with limits" }).check();
    },
  },
  {
    name: "roster",
    role: "coordinator",
    path: "/screens/roster",
    title: "What would this file change?",
    before: async page => {
      // As HR may send it: a number twice, and a letter that a wrong encoding would break.
      const buffer = Buffer.from("Staff number,Given name,Family name\n1,Ines,\u00d8rsted\n1,Ana,Roe\n");
      const file = { name: "roster.csv", mimeType: "text/csv", buffer };
      await page.getByLabel("File of the staff, as CSV").setInputFiles(file);
      await page.getByRole("table").waitFor();
    },
  },
  {
    name: "due",
    role: "coordinator",
    path: "/screens/due",
    title: "Who has to be tested next?",
    before: async page => {
      await page.getByLabel("Name, staff number or ward").waitFor({ timeout: 45_000 });
      await page.getByLabel("Name, staff number or ward").fill("00400");
      await page.getByRole("table").first().waitFor();
    },
  },
  {
    name: "outlook",
    role: "coordinator",
    path: "/screens/outlook",
    title: "Whom will this gate turn away?",
    before: async page => {
      await page.getByLabel("Gate").selectOption({ index: 1 });
      await page.getByRole("radio", { name: "At a moment" }).check();
      await page.getByLabel("Moment", { exact: true }).fill(aYearAhead());
      await page.getByRole("button", { name: "Show" }).click();
      await page.getByRole("status").first().waitFor();
    },
  },
  {
    name: "reviews",
    role: "coordinator",
    path: "/screens/reviews",
    title: /somebody has to look at/,
    before: async page => void (await page.getByRole("tabpanel").waitFor()),
  },
  {
    name: "records",
    role: "auditor",
    path: "/screens/records",
    at: "day",
    title: "Can this record be trusted?",
    before: async page => {
      // All of a day is long, and every row like the one before.
      await page.getByLabel("Result").selectOption("fail");
      await page.getByText(/of \d+ attempts/).waitFor();
    },
  },
  {
    name: "records-attempt",
    role: "auditor",
    path: async () => `/screens/records/attempts/${await first("coordinator", "/api/v1/attempts")}`,
    title: /^One attempt/,
    before: async page => {
      await page.getByRole("table", { name: "What happened, in order" }).waitFor();
      await page.getByText("Test solution").waitFor();
    },
  },
  {
    name: "records-correct",
    role: "coordinator",
    path: async () => `/screens/records/attempts/${await first("coordinator", "/api/v1/attempts")}`,
    title: /^One attempt/,
    before: async page => {
      await page.getByRole("button", { name: "Correct this record" }).click();
      await page.getByRole("dialog").waitFor();
    },
  },
  {
    name: "records-gates",
    role: "auditor",
    path: "/screens/records/gates",
    title: /^Who was cleared at that gate/,
    before: async page => {
      await page.getByLabel("Gate").selectOption({ index: 1 });
      await page.getByLabel("At this moment").fill("2020-01-01T08:00:00");
      await page.getByRole("button", { name: "Show" }).click();
      await page.getByText("Cleared both ways: 0 people").waitFor();
    },
  },
  {
    name: "records-audit",
    role: "auditor",
    // Of one record: the whole chain is long.
    path: async () => `/screens/records/audit?subject=${await first("coordinator", "/api/v1/attempts")}`,
    title: /^What was written/,
    before: async page => void (await page.getByRole("table").waitFor()),
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
