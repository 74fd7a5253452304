// What is printed of a screen, read back by poppler (pdftotext), which is not ours.
import { execFileSync } from "node:child_process";
import { describe, expect, it } from "vitest";
import { person } from "./hospital";
import { openAs } from "./pages";

/** The text of a page as it is printed on A4. */
const onPaper = (pdf: Buffer): string =>
  execFileSync("pdftotext", ["-layout", "-", "-"], { input: pdf }).toString();

describe("a list on paper", () => {
  it("has its words and numbers whole, what was chosen, and nothing to press, also of a dark screen", async () => {
    const number = String((await person({ permitted: false }))["staff_number"]);
    const page = await openAs("coordinator", "/screens/due", { theme: "dark" });
    const find = page.getByLabel("Name, staff number or ward");
    await find.waitFor({ timeout: 45_000 });
    await find.fill(number);
    await page.getByRole("row", { name: new RegExp(number) }).waitFor();
    const text = onPaper(await page.pdf({ format: "A4" }));
    for (const whole of [number, "Staff number", "department", "4 weeks"]) expect(text).toContain(whole);
    for (const pressed of ["Print", "Menu", "8 weeks"]) expect(text).not.toContain(pressed);
    await page.emulateMedia({ media: "print", colorScheme: "dark" });
    const ink = await page.evaluate(() => getComputedStyle(document.body).color);
    expect(ink, "dark letters").toBe("rgb(17, 33, 31)");
  });
});
