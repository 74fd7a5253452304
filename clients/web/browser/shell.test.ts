// What stands around every screen: signing in and out, what each role sees, a network that goes, a server that is newer.
import { describe, expect, it } from "vitest";
import type { Role } from "../src/api/client";
import { account, place } from "./hospital";
import { expectComplaint, OFFLINE, open, openAs } from "./pages";

const REFUSED = /Failed to load resource: the server responded with a status of 401/;

describe("signing in", () => {
  it("says what is wrong, and then lets the person in and out again", async () => {
    expectComplaint(REFUSED);
    const page = await open();
    await page.goto("/");
    await page.getByText("It does not decide whether a respirator protects a person").waitFor();
    await page.getByLabel("Username").fill("coordinator");
    await page.getByLabel("Password").fill("guessed");
    await page.keyboard.press("Enter");
    await page.getByRole("alert").getByText("Username and password do not belong together.").waitFor();
    expect(await page.getByLabel("Password").inputValue()).toBe("");

    await page.getByLabel("Password").fill(account("coordinator").password);
    await page.keyboard.press("Enter");
    await page.getByRole("heading", { name: "What is to be done?" }).waitFor();

    await page.getByRole("button", { name: /settings and sign-out/ }).click();
    await page.getByRole("button", { name: "Sign out" }).click();
    await page.getByRole("heading", { name: "Sign in" }).waitFor();
    await page.reload();
    await page.getByRole("heading", { name: "Sign in" }).waitFor();
  });

  it("is asked for again over running work, and the work goes on", async () => {
    expectComplaint(REFUSED);
    const page = await openAs("coordinator", "/screens/place");
    const day = page.getByRole("button", { name: /Assembly hall/ });
    await day.waitFor();
    await page.context().request.delete("/api/v1/sessions/current");
    await day.click();
    const dialog = page.getByRole("dialog", { name: "Sign in again" });
    await dialog.waitFor();
    await dialog.getByLabel("Username").fill("coordinator");
    await dialog.getByLabel("Password").fill(account("coordinator").password);
    await dialog.getByRole("button", { name: "Sign in", exact: true }).click();
    await dialog.waitFor({ state: "detached" });
    // The stations, whose reading met the end of the sign-in.
    await page.getByRole("heading", { name: /^Stations of/ }).waitFor();
    await page
      .getByRole("button", { name: /testing/ })
      .first()
      .waitFor();
  });

  it("is in the language that the person reads", async () => {
    expectComplaint(REFUSED);
    const page = await open({ language: "es" });
    await page.goto("/");
    await page.getByRole("heading", { name: "Iniciar sesión" }).waitFor();
    expect(await page.evaluate(() => document.documentElement.lang)).toBe("es");
    await page.getByRole("radio", { name: "English" }).check();
    await page.getByRole("heading", { name: "Sign in" }).waitFor();
    await page.reload();
    await page.getByRole("heading", { name: "Sign in" }).waitFor();
  });
});

describe("the shell", () => {
  it("shows each role its own screens only", async () => {
    const offered = async (role: Role) => {
      const page = await openAs(role, "/");
      await page.getByRole("heading", { name: "What is to be done?" }).waitFor();
      const [screens, days] = [
        page.getByRole("navigation").getByRole("link"),
        page.getByRole("link", { name: /day or station/ }),
      ];
      return { screens: await screens.allTextContents(), day: await days.count() };
    };
    expect((await offered("check_in")).screens).toContain("Check-in");
    for (const role of ["storekeeper", "clinician", "admin"] as const) {
      expect((await offered(role)).screens).not.toContain("Check-in");
    }
    expect((await offered("storekeeper")).day).toBe(1);
    expect((await offered("admin")).day).toBe(0);
    // Knowing the address does not help.
    const page = await openAs("storekeeper", "/screens/check-in");
    await page.getByRole("heading", { name: "There is no such screen" }).waitFor();
  });

  it("remembers where the device works", async () => {
    const { station } = await place("testing");
    const page = await openAs("tester", "/screens/place");
    await page.getByRole("button", { name: /Assembly hall/ }).click();
    await page.getByRole("button", { name: String(station?.["name"]) }).click();
    await page.getByRole("heading", { name: "What is to be done?" }).waitFor();
    const link = page.getByRole("link", { name: /Change day or station/ });
    expect(await link.textContent()).toContain(station?.["name"]);
    await page.reload();
    expect(await link.textContent()).toContain(station?.["name"]);
  });

  it("says since when the server does not answer, and that it answers again", async () => {
    expectComplaint(OFFLINE);
    const page = await openAs("coordinator", "/screens/place");
    await page.getByText("Live").waitFor();
    await page.context().setOffline(true);
    await page.getByText(/No answer since \d\d:\d\d/).waitFor({ timeout: 40_000 });
    await page.context().setOffline(false);
    await page.getByText("Live").waitFor({ timeout: 40_000 });
  });

  it("starts without the network, once it was there", async () => {
    expectComplaint(OFFLINE);
    const page = await openAs("tester", "/screens/place");
    await page.evaluate(() => navigator.serviceWorker.ready.then(() => undefined));
    await page.reload();
    await page.getByRole("button", { name: /Assembly hall/ }).waitFor();
    await page.context().setOffline(true);
    await page.reload();
    await page.getByRole("heading", { name: "Where do you work?" }).waitFor();
    await page.getByText("The server does not answer.").first().waitFor();
    expect(await page.getByRole("button", { name: /settings and sign-out/ }).textContent()).not.toBe("");
  });

  it("tells of a newer build, and takes it when the person says so", async () => {
    const page = await openAs("coordinator", "/screens/place");
    await page.getByRole("button", { name: /Assembly hall/ }).waitFor();
    expect(await page.getByText("A newer version of the screens is ready.").count()).toBe(0);
    // A server that was replaced meanwhile: every answer is the real one, under the name of another build.
    await page.route("**/api/v1/days**", async route => {
      const response = await route.fetch();
      await route.fulfill({
        response,
        headers: { ...response.headers(), "sellion-screens": "index-next.js" },
      });
    });
    await page.getByRole("button", { name: /Assembly hall/ }).click();
    await page.getByText("A newer version of the screens is ready.").waitFor();
    await page.unroute("**/api/v1/days**");
    await page.getByRole("button", { name: "Load it now" }).click();
    await page.getByText("A newer version of the screens is ready.").waitFor({ state: "detached" });
    await page.getByRole("heading", { name: "Where do you work?" }).waitFor();
  });

  it("moves the focus to the title of the next screen", async () => {
    const page = await openAs("coordinator", "/");
    await page.getByRole("link", { name: /day or station/ }).click();
    await page.getByRole("heading", { name: "Where do you work?" }).waitFor();
    await page.waitForFunction(() => document.activeElement?.tagName === "H1");
    expect(await page.title()).toContain("Where do you work?");
  });
});
