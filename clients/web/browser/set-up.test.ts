// What a coordinator and an administrator set up, without anybody typing a request by hand; and what is refused.
import { describe, expect, it } from "vitest";
import { Actor, newId } from "./hospital";
import { expectComplaint, openAs } from "./pages";
import { ahead, dialog, fresh } from "./set-up";

describe("respirators", () => {
  it("are added with the protection factor of the table, and a second time refused at the size", async () => {
    expectComplaint(/40[09]|422/);
    const model = fresh("Dunlin");
    const page = await openAs("coordinator", "/screens/set-up/respirators");
    await page.getByRole("button", { name: "Add a respirator" }).click();
    await dialog(page).getByRole("button", { name: "Add a respirator" }).click();
    // Nothing was sent: what is missing is marked, and the first of it has the focus.
    expect(await page.getByLabel("Make").evaluate(one => one === document.activeElement)).toBe(true);
    const fill = async () => {
      await page.getByLabel("Make").fill("Tarn & Vale");
      await page.getByLabel("Model").fill(model);
      await page.getByLabel("Size", { exact: true }).fill("small");
      await page.getByLabel("Facepiece").selectOption("half_mask");
      await page.getByLabel("Filter class").fill("P100");
      await dialog(page).getByRole("button", { name: "Add a respirator" }).click();
    };
    await page.getByLabel("Protection factor").fill("9000");
    await fill();
    // 29 CFR 1910.134(d)(3)(i)(A) Table 1: an air-purifying half mask has 10, and no more.
    await dialog(page).getByText("at most what the table assigns").waitFor();
    expect(await page.getByLabel("Protection factor").getAttribute("aria-invalid")).toBe("true");
    await page.getByLabel("Protection factor").fill("");
    await dialog(page).getByRole("button", { name: "Add a respirator" }).click();
    const row = page.getByRole("row", { name: new RegExp(model) });
    await row.getByText("Half mask").waitFor();
    await row.getByRole("cell", { name: "10", exact: true }).waitFor();

    await page.getByRole("button", { name: "Add a respirator" }).click();
    await fill();
    await dialog(page).getByText("This is stored already.").first().waitFor();
    expect(await page.getByLabel("Size", { exact: true }).getAttribute("aria-invalid")).toBe("true");
  });

  it("are found by what people call them besides", async () => {
    const coordinator = await Actor.signIn("coordinator");
    const [model, called] = [fresh("Siskin"), fresh("the trolley one")];
    await coordinator.post("/api/v1/respirators", {
      ...{ id: newId(), make: "Brask", model, size: "one", facepiece: "half_mask", filter_class: "P3" },
    });
    const page = await openAs("coordinator", "/screens/set-up/respirators");
    await page.getByRole("button", { name: `Change: Brask ${model}` }).click();
    await page.getByLabel("Also called").fill(`${called}, , Brask small`);
    await page.getByRole("button", { name: "Save" }).click();
    const row = page.getByRole("row", { name: new RegExp(model) });
    await row.getByText(`${called}, Brask small`, { exact: true }).waitFor();
    await page.getByLabel("Search the list").fill(called.toUpperCase());
    expect(await page.getByRole("row").count()).toBe(2);
    await row.waitFor();
  });

  it("keep what is typed when somebody else was quicker, and take it on top of theirs", async () => {
    expectComplaint(/409/);
    const coordinator = await Actor.signIn("coordinator");
    const model = fresh("Knot");
    const made = await coordinator.post<{ id: string }>("/api/v1/respirators", {
      ...{ id: newId(), make: "Brask", model, size: "one", facepiece: "half_mask", filter_class: "P3" },
    });
    const page = await openAs("coordinator", "/screens/set-up/respirators");
    await page.getByRole("button", { name: `Change: Brask ${model}` }).click();
    await page.getByLabel("Approval number").fill("BR-0001");
    await coordinator.patch(`/api/v1/respirators/${made.id}`, { filter_class: "P100" }, 1);
    await dialog(page).getByText("Somebody changed this while you were at it.", { exact: false }).waitFor();
    expect(await page.getByLabel("Approval number").inputValue()).toBe("BR-0001");
    await page.getByRole("button", { name: "Save" }).click();
    await dialog(page).getByText("Somebody changed this meanwhile.").waitFor();
    await page.getByRole("button", { name: "Load it again" }).click();
    expect(await page.getByLabel("Filter class").inputValue()).toBe("P100");
    await page.getByLabel("Approval number").fill("BR-0001");
    await page.getByLabel("It is not used here any more").check();
    await page.getByRole("button", { name: "Save" }).click();
    const row = page.getByRole("row", { name: new RegExp(model) });
    await row.getByText("Not used any more", { exact: true }).waitFor();
    await row.getByText("BR-0001").waitFor();
  });
});

describe("a day", () => {
  it("is planned past midnight with its stations, closed and opened again", async () => {
    expectComplaint(/409/);
    const place = fresh("Night hall");
    const page = await openAs("coordinator", "/screens/set-up/days");
    await page.getByRole("button", { name: "Plan a day" }).click();
    await page.getByLabel("Place").fill(place);
    await page.getByLabel("Date").fill(ahead().slice(0, 10));
    await page.getByLabel("Opens").fill("19:00");
    await page.getByLabel("Closes").fill("19:00");
    await dialog(page).getByRole("button", { name: "Plan a day" }).click();
    await dialog(page).getByText("It closes after it opens.").waitFor();
    await page.getByLabel("Closes").fill("03:30");
    await page.getByText("It closes on the next day.").waitFor();
    await dialog(page).getByRole("button", { name: "Plan a day" }).click();
    await page.getByRole("heading", { level: 1, name: place }).waitFor();
    await page.getByText("19:00 to 03:30").waitFor();

    const station = async (name: string) => {
      await page.getByRole("button", { name: "Set up a station" }).click();
      await page.getByLabel("Name").fill(name);
      await page.getByRole("checkbox", { name: "Screening" }).check();
      await page.getByRole("checkbox", { name: /^Testing/ }).check();
      await dialog(page).getByRole("button", { name: "Set up a station" }).click();
    };
    await station("Alcove 1");
    await page.getByRole("row", { name: /Alcove 1/ }).waitFor();
    await station("Alcove 1");
    await dialog(page).getByText("This is stored already.").first().waitFor();
    await page.getByRole("button", { name: "Cancel" }).click();

    await page.getByRole("button", { name: "Change: Alcove 1" }).click();
    await page.getByLabel("Name").fill("Alcove 1, left");
    await page.getByRole("checkbox", { name: "Screening" }).uncheck();
    await page.getByRole("checkbox", { name: /^Testing/ }).uncheck();
    await dialog(page).getByRole("button", { name: "Save" }).click();
    await dialog(page).getByText("Choose at least one.").waitFor();
    await page.getByRole("checkbox", { name: /^Testing/ }).check();
    await page.getByRole("checkbox", { name: /^Closed: it calls nobody/ }).check();
    await dialog(page).getByRole("button", { name: "Save" }).click();
    const changed = page.getByRole("row", { name: /Alcove 1, left/ });
    await changed.getByText(/^Closed at/).waitFor();
    expect(await changed.innerText()).not.toContain("Screening");

    await page.getByRole("button", { name: "Close the day" }).click();
    await dialog(page).getByRole("button", { name: "Close the day" }).click();
    await page.getByText("Closed", { exact: true }).waitFor();
    await page.getByRole("button", { name: "Open it again" }).click();
    await dialog(page).getByRole("button", { name: "Open it again" }).click();
    await page.getByText("Planned", { exact: true }).waitFor();
  });

  it("takes over the stations of the day before it", async () => {
    const coordinator = await Actor.signIn("coordinator");
    const plan = (head: string, opens: number) =>
      coordinator.post<{ id: string }>("/api/v1/days", {
        id: newId(),
        place: fresh(head),
        opens_at: new Date(opens).toISOString(),
        closes_at: new Date(opens + 3_600_000).toISOString(),
      });
    const opens = Date.now() + 400 * 86_400_000;
    const first = await plan("First hall", opens - 1000);
    const day = await plan("Second hall", opens);
    for (const name of ["North", "South"]) {
      await coordinator.post(`/api/v1/days/${first.id}/stations`, { id: newId(), name, parts: ["testing"] });
    }
    const page = await openAs("coordinator", `/screens/set-up/days/${day.id}`);
    await page.getByRole("button", { name: /^The same stations as First hall/ }).click();
    await page.getByRole("row", { name: /South/ }).waitFor();
    await page.getByRole("row", { name: /North/ }).waitFor();
  });
});

describe("a gate", () => {
  it("gets a policy with a class and a former model that ends, and shows it as coming", async () => {
    expectComplaint(/422/);
    const name = fresh("Plover door");
    const page = await openAs("coordinator", "/screens/set-up/gates");
    await page.getByRole("button", { name: "Add a gate" }).click();
    await page.getByLabel("Name").fill(name);
    await dialog(page).getByRole("button", { name: "Add a gate" }).click();
    await page
      .getByRole("row", { name: new RegExp(name) })
      .getByText("No policy: lets nobody in")
      .waitFor();
    await page.getByRole("link", { name }).click();
    await page.getByRole("link", { name: "Decide a policy" }).click();

    await page.getByRole("button", { name: "Decide it" }).click();
    await page.getByText("Name what is used here, or say that no respirator is needed.").waitFor();
    await page.getByRole("radio", { name: "At a time ahead" }).check();
    await page.getByLabel("Date and time").fill(ahead());
    await page.getByRole("button", { name: "Add a respirator" }).click();
    const former = page.getByRole("group", { name: "Line 1" });
    await former.getByLabel("One respirator").selectOption({ index: 1 });
    // An end before the beginning is the server's to refuse; it is shown at its line.
    await former.getByLabel("Until").fill(`${new Date().toISOString().slice(0, 10)}T23:59`);
    await page.getByRole("button", { name: "Add a class" }).click();
    const one = page.getByRole("group", { name: "Line 2" });
    await one.getByLabel("Facepiece").selectOption("full_facepiece");
    await one.getByLabel("Filter class").fill("P100");
    await page.getByLabel("What to do when nobody can tell").fill("Call the shift lead on 4410.");
    await page.getByRole("radio", { name: "Under any name" }).check();
    await page.getByRole("button", { name: "Decide it" }).click();
    await former.getByText("This end lies before the beginning of the policy.").waitFor();
    await former.getByLabel("Until").fill(ahead().replace("T08:00", "T20:00"));
    await page.getByRole("button", { name: "Line 2: earlier" }).click();
    await page.getByRole("button", { name: "Decide it" }).click();

    await page.getByRole("heading", { level: 1, name }).waitFor();
    await page.getByText("Coming", { exact: true }).waitFor();
    const lines = page.getByRole("listitem").filter({ hasText: /full facepiece, P100|until/ });
    expect(await lines.first().innerText()).toBe("Any full facepiece, P100");
    await page.getByText("Call the shift lead on 4410.").waitFor();
    await page.getByText("15 minutes").waitFor();

    // The next one is decided on top of it.
    await page.getByRole("link", { name: "Decide a policy" }).click();
    expect(await page.getByRole("group", { name: "Line 1" }).getByLabel("Filter class").inputValue()).toBe(
      "P100",
    );
  });

  it("is named anew, on top of what others made of it", async () => {
    expectComplaint(/409/);
    const coordinator = await Actor.signIn("coordinator");
    const [before, theirs, after] = [fresh("Heron door"), fresh("Heron gate"), fresh("Ibis door")];
    const gate = await coordinator.post<{ id: string }>("/api/v1/gates", { id: newId(), name: before });
    const page = await openAs("coordinator", `/screens/set-up/gates/${gate.id}`);
    await page.getByRole("button", { name: "Change the name" }).click();
    await page.getByLabel("Name").fill(after);
    await coordinator.patch(`/api/v1/gates/${gate.id}`, { name: theirs }, 1);
    await dialog(page).getByRole("button", { name: "Save" }).click();
    await dialog(page).getByRole("button", { name: "Load it again" }).click();
    expect(await page.getByLabel("Name").inputValue()).toBe(theirs);
    await page.getByLabel("Name").fill(after);
    await dialog(page).getByRole("button", { name: "Save" }).click();
    await page.getByRole("heading", { level: 1, name: after }).waitFor();
  });

  it("stands a walk away from another one", async () => {
    const coordinator = await Actor.signIn("coordinator");
    const [one, other] = [fresh("East"), fresh("West")];
    for (const name of [one, other]) await coordinator.post("/api/v1/gates", { id: newId(), name });
    const page = await openAs("coordinator", "/screens/set-up/gates");
    await page.getByRole("button", { name: "Store a walking time" }).click();
    await page.getByLabel("Between").selectOption({ label: one });
    await page.getByLabel("And", { exact: true }).selectOption({ label: one });
    await page.getByLabel("Seconds").fill("240");
    await page.getByRole("button", { name: "Save" }).click();
    await dialog(page).getByText("Choose two different gates.").waitFor();
    await page.getByLabel("And", { exact: true }).selectOption({ label: other });
    await page.getByRole("button", { name: "Save" }).click();
    await page.getByRole("row", { name: new RegExp(`${one}.*240 seconds|${other}.*240 seconds`) }).waitFor();
  });

  it("tells before a change whom it will turn away", async () => {
    const coordinator = await Actor.signIn("coordinator");
    const gate = await coordinator.post<{ id: string }>("/api/v1/gates", {
      id: newId(),
      name: fresh("Ward"),
    });
    const { items } = await coordinator.get<{ items: { unit: string }[] }>("/api/v1/people?limit=1");
    const page = await openAs("coordinator", `/screens/set-up/gates/${gate.id}`);
    await page.getByLabel("Date and time").fill(ahead());
    await page.getByRole("radio", { name: "Departments" }).check();
    await page.getByLabel("Departments", { exact: true }).last().fill(`${items[0]?.unit}\nNowhere`);
    await page.getByRole("button", { name: "Find out" }).click();
    await page.getByText("Known to nobody: Nowhere").waitFor();
    // Without a policy nobody enters.
    await page.getByRole("table", { name: "Whom will it turn away?" }).getByRole("row").nth(1).waitFor();
  });
});

describe("rule sets", () => {
  it("show each value with its source, and where two differ", async () => {
    const page = await openAs("coordinator", "/screens/set-up/rule-sets");
    await page.getByRole("row").filter({ hasText: "In force for new days" }).getByRole("link").click();
    await page.getByLabel("Search the values").fill("dose");
    const rows = page.getByRole("table", { name: "Values" }).getByRole("row");
    await rows.filter({ hasText: "1910.134" }).first().waitFor();
    await page.getByRole("link", { name: "Compare" }).click();
    await page.getByLabel("The other").selectOption({ index: 2 });
    await page.getByText(/values? differs?\.|They agree/).waitFor();
  });

  it("of the site's own are taken, or led to by line and column where they are wrong", async () => {
    expectComplaint(/422/);
    const page = await openAs("coordinator", "/screens/set-up/rule-sets");
    await page.getByRole("row").filter({ hasText: "In force for new days" }).getByRole("link").click();
    await page.getByRole("link", { name: "A set of our own upon this" }).click();
    const area = page.getByLabel("The set, in TOML");
    const begun = await area.inputValue();
    expect(begun).toContain("based_on");
    const name = `marrowfield-${newId().slice(-6)}`;
    const text = begun
      .replace('name = ""', `name = "${name}"`)
      .replace('title = ""', 'title = "Marrowfield own"');
    const value = (seconds: number) =>
      `${text}\n[values.wait_after_fail_seconds]\nvalue = ${seconds}\nunit = "seconds"\nsource = "house rule 7"\nstatus = "common_practice"\n`;
    await area.fill(value(1));
    await page.getByRole("button", { name: "Store it" }).click();
    await page.getByText("1 mistake. Nothing was stored.").first().waitFor();
    await page.getByText("Looser than what it stands upon, and nobody answers for it").waitFor();
    await page.getByRole("button", { name: /^Line \d+, column \d+$/ }).click();
    const at = await area.evaluate(one => (one as HTMLTextAreaElement).selectionStart);
    expect(value(1).slice(0, at).split("\n").length).toBeGreaterThan(begun.split("\n").length - 1);
    await area.fill(value(1200));
    await page.getByRole("button", { name: "Store it" }).click();
    await page.getByRole("heading", { level: 1, name: "Marrowfield own" }).waitFor();
    await page.getByText("1,200 seconds").waitFor();
  });
});
