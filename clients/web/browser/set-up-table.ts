// The rows of the screens on which a hospital is set up, and of what the stores write down beside their lots.
import { Actor, place } from "./hospital";
import { READINGS_ROWS } from "./readings-table";
import { first, type Row } from "./table";

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

export const SET_UP_ROWS: readonly Row[] = [
  ...READINGS_ROWS,
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
    name: "day-station-change",
    role: "coordinator",
    path: async () => `/screens/set-up/days/${(await place()).day.id}`,
    title: "Assembly hall",
    before: async page => {
      await page
        .getByRole("button", { name: /^Change: / })
        .first()
        .click();
      await page.getByRole("checkbox", { name: /^Closed/ }).waitFor();
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
    name: "gate-name",
    role: "coordinator",
    path: async () => `/screens/set-up/gates/${await first("coordinator", "/api/v1/gates")}`,
    title: /./,
    before: async page => {
      await page.getByRole("button", { name: "Change the name" }).click();
      await page.getByRole("dialog").getByLabel("Name").waitFor();
    },
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
];
