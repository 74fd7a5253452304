// The rows of the screens on which an instrument's files are set up, and its recordings kept.
import type { Page } from "playwright-core";
import { Actor } from "./hospital";
import type { Row } from "./table";

/** An attempt of the played day that was measured: one of its readings came as a file. */
async function measured(): Promise<string> {
  const coordinator = await Actor.signIn("coordinator");
  const { items } = await coordinator.get<{ items: { id: string; method: string; verdict?: object }[] }>(
    "/api/v1/attempts?limit=500",
  );
  const found = items.find(one => one.method.includes("ambient_aerosol") && one.verdict);
  if (!found) throw new Error("the demonstration measured nobody");
  return `/screens/records/attempts/${found.id}`;
}

/** As an instrument may write it, with a line above the names of its columns. */
const FILE = "Counter 2\nwhen;step;factor\n09:40;bend;120,5\n09:41;talk;80\n";

/** A mapping half made: a column pointed at, and what is missing said. */
async function pointing(page: Page): Promise<void> {
  await page.getByRole("button", { name: "Make a mapping" }).click();
  await page.getByLabel("A file that the instrument has written").setInputFiles({
    name: "readings.csv",
    mimeType: "text/csv",
    buffer: Buffer.from(FILE),
  });
  await page.getByLabel("Line that names the columns").fill("2");
  await page.getByRole("radio", { name: "Semicolon" }).check({ force: true });
  await page.getByRole("radio", { name: "one measurement" }).check({ force: true });
  await page.getByRole("radio", { name: "a fit factor" }).check({ force: true });
  await page.getByLabel("step", { exact: true }).selectOption("exercise");
  await page.getByRole("button", { name: "Keep the mapping" }).click();
  await page.getByText("No column holds this yet: Fit factor.").waitFor();
}

export const READINGS_ROWS: readonly Row[] = [
  {
    name: "reading-mappings",
    role: "coordinator",
    path: "/screens/set-up/reading-mappings",
    title: "How are an instrument's files read?",
    before: async page => void (await page.getByRole("table", { name: "Mappings" }).waitFor()),
  },
  {
    name: "reading-mappings-new",
    role: "coordinator",
    path: "/screens/set-up/reading-mappings",
    title: "How are an instrument's files read?",
    before: pointing,
  },
  {
    name: "records-recordings",
    role: "tester",
    path: measured,
    title: /^One attempt/,
    before: async page => {
      await page.getByRole("heading", { name: "Recordings of the instrument" }).waitFor();
      await page
        .getByRole("button", { name: /^Save the recording/ })
        .first()
        .waitFor();
    },
  },
];
