// Who and what signs in, and the settings of the site, as an administrator sets them up; and what is refused.
import { execFileSync } from "node:child_process";
import { mkdtempSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { describe, expect, it } from "vitest";
import { Actor, base, newId } from "./hospital";
import { expectComplaint, open, openAs } from "./pages";
import { dialog, fresh } from "./set-up";

describe("users", () => {
  it("are added, sign in, get another password, and are shut out", async () => {
    expectComplaint(/401|409|422/);
    const username = `ines.${newId().slice(-8)}`;
    const page = await openAs("admin", "/screens/set-up/users");
    const add = async (password: string) => {
      await page.getByRole("button", { name: "Add a user" }).first().click();
      await page.getByLabel("Name on the screens").fill(`Ines ${username}`);
      await page.getByLabel("Username").fill(username);
      await page.getByRole("checkbox", { name: /^Auditor/ }).check();
      await page.getByLabel("Password").fill(password);
      await dialog(page).getByRole("button", { name: "Add a user" }).click();
    };
    await add("short");
    await dialog(page).getByText("10 to 256 characters.").waitFor();
    await page.getByLabel("Password").fill("a long pass phrase");
    await dialog(page).getByRole("button", { name: "Add a user" }).click();
    const row = page.getByRole("row", { name: new RegExp(username) });
    await row.getByText("Auditor").waitFor();
    await add("a long pass phrase");
    await dialog(page).getByText("This is stored already.").first().waitFor();
    expect(await page.getByLabel("Username").getAttribute("aria-invalid")).toBe("true");
    await page.getByRole("button", { name: "Cancel" }).click();

    const signIn = async (password: string) => {
      const window = await open();
      return (
        await window.context().request.post("/api/v1/sessions", { data: { username, password } })
      ).status();
    };
    expect(await signIn("a long pass phrase")).toBe(201);
    await row.getByRole("button", { name: /^Change/ }).click();
    await page.getByLabel("New password").fill("another pass phrase");
    await page.getByRole("button", { name: "Save" }).click();
    await dialog(page).waitFor({ state: "hidden" });
    expect(await signIn("a long pass phrase")).toBe(401);
    expect(await signIn("another pass phrase")).toBe(201);
    await row.getByRole("button", { name: /^Change/ }).click();
    await page.getByLabel("The account is closed").check();
    await page.getByRole("button", { name: "Save" }).click();
    await row.getByText("Closed since", { exact: false }).waitFor();
    expect(await signIn("another pass phrase")).toBe(401);
  });
});

describe("a device", () => {
  it("is enrolled by the code on the screen, works without a password, and is shut out at once", async () => {
    expectComplaint(/401/);
    const name = fresh("Tablet");
    const page = await openAs("admin", "/screens/set-up/devices");
    await page.getByRole("button", { name: "Add a device" }).click();
    await page.getByLabel("Name", { exact: true }).fill(name);
    await page.getByRole("radio", { name: "Check-in" }).check();
    await dialog(page).getByRole("button", { name: "Add a device" }).click();
    const code = page.getByRole("img", { name: "Code with the address and the token" });
    const picture = join(mkdtempSync(join(tmpdir(), "sellion-code-")), "code.png");
    await code.screenshot({ path: picture });
    // zbar reads the code as a camera would.
    const address = execFileSync("zbarimg", ["--quiet", "--raw", picture], { encoding: "utf8" }).trim();
    expect(address.startsWith(`${base()}/#device=`)).toBe(true);
    // Nothing but the button closes it, and afterwards the token is nowhere.
    await page.keyboard.press("Escape");
    await page.getByRole("button", { name: "It is on the device" }).click();
    const token = address.split("=")[1] ?? "";
    expect(await page.content()).not.toContain(token);

    const tablet = await open();
    await tablet.goto(address);
    await tablet.getByRole("button", { name: "Make it the device" }).click();
    await tablet
      .getByRole("link", { name: "Who is here?" })
      .or(tablet.getByText("What is to be done?"))
      .first()
      .waitFor();
    expect(tablet.url()).not.toContain(token);

    const row = page.getByRole("row", { name: new RegExp(name) });
    await row.getByRole("button", { name: /^Take the token away/ }).click();
    await dialog(page).getByRole("button", { name: "Take the token away" }).click();
    await row.getByText("Taken away", { exact: false }).waitFor();
    const answer = await tablet
      .context()
      .request.get("/api/v1/days", { headers: { authorization: `Bearer ${token}` } });
    expect(answer.status()).toBe(401);
  });

  it("is not made of somebody's browser without asking", async () => {
    expectComplaint(/401/);
    const page = await openAs("coordinator", "/#device=a.b.c");
    await page
      .getByText("Coordinator is signed in here", { exact: false })
      .or(page.getByText("is signed in here"))
      .first()
      .waitFor();
    await page.getByRole("button", { name: "Make it the device" }).click();
    await page.getByRole("alert").waitFor();
    await page.getByRole("button", { name: "No, forget the token" }).click();
    await page.getByRole("heading", { name: "What is to be done?" }).waitFor();
  });
});

describe("the site", () => {
  it("keeps what is typed wrong out, and says how long readings are kept", async () => {
    expectComplaint(/422/);
    const page = await openAs("admin", "/screens/set-up/site");
    await page.getByLabel("Readings at gates (days)").fill("0");
    await page.getByRole("button", { name: "Save" }).click();
    await page.getByText("A whole number from 1 to 36500, or nothing.").waitFor();
    await page.getByLabel("Readings at gates (days)").fill("3650");
    await page.getByText("What is older is deleted once a day", { exact: false }).waitFor();
    await page.getByRole("button", { name: "Save" }).click();
    await page
      .getByText("What is older is deleted once a day", { exact: false })
      .waitFor({ state: "hidden" });
    await page.getByLabel("Readings at gates (days)").fill("");
    await page.getByRole("button", { name: "Save" }).click();
    await page
      .getByText("What is older is deleted once a day", { exact: false })
      .waitFor({ state: "hidden" });
    const admin = await Actor.signIn("admin");
    const site = await admin.get<{ scans_kept_days: number | null }>("/api/v1/sites/current");
    expect(site.scans_kept_days ?? null).toBeNull();
  });

  it("is not there for a coordinator, and an auditor sees users without a way to change them", async () => {
    const coordinator = await openAs("coordinator", "/screens/set-up/site");
    await coordinator.getByRole("heading", { name: "There is no such screen" }).waitFor();
    const auditor = await openAs("auditor", "/screens/set-up/users");
    await auditor.getByRole("table").waitFor();
    expect(await auditor.getByRole("button", { name: /^(Add|Change)/ }).count()).toBe(0);
  });
});
