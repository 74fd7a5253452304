// The checks of screens themselves: each finds the fault that it is there for, and leaves a page without it alone.
import type { Page } from "playwright-core";
import { describe, expect, it } from "vitest";
import { accessible, fits, worksByKeyboard } from "./checks";
import { open } from "./pages";

async function page(main: string, style = ""): Promise<Page> {
  const opened = await open({ size: "phone", installs: false });
  await opened.setContent(
    `<!doctype html><html lang="en"><title>A page</title><style>${style}</style>
     <body><main><h1>A page</h1>${main}</main></body></html>`,
  );
  return opened;
}

/** What a check says of a page; nothing where it finds nothing. */
const said = (check: Promise<void>): Promise<string> =>
  check.then(
    () => "",
    (fault: Error & { actual?: unknown }) => `${fault.message} ${JSON.stringify(fault.actual)}`,
  );

const GOOD = `<label>Name <input></label> <a href="#here">Here</a> <button>Save</button>`;

describe("a check of a screen", () => {
  it("finds no fault where there is none", async () => {
    const good = await page(GOOD);
    await accessible(good);
    await fits(good);
    await worksByKeyboard(good);
  });

  it.each([
    ["a field without a name", "label", "<input>", ""],
    ["letters that nearly look like the paper", "color-contrast", "<p>Faint</p>", "p { color: #ccc }"],
    ["a picture without words", "image-alt", `<img src="data:image/gif;base64,R0lGODlhAQABAAAAACw=">`, ""],
    ["a list of no entries", "list", "<ul><p>One</p></ul>", ""],
    ["a second main heading's room", "landmark-no-duplicate-main", "</main><main>", ""],
  ])("finds %s", async (_, rule, main, style) => {
    expect(await said(accessible(await page(main, style)))).toContain(`"${rule}: `);
  });

  it("finds what is wider than a phone, and names it", async () => {
    const wide = await page(`<p class="wide">Wide</p>`, ".wide { width: 500px }");
    expect(await said(fits(wide))).toContain('class=\\"wide\\"');
  });

  it("finds what sticks out of its panel, where the page has room for it", async () => {
    const style = ".panel { width: 200px } .panel p { width: 250px }";
    const out = await page(`<section class="panel"><p id="out">Out</p></section>`, style);
    expect(await said(fits(out))).toContain('id=\\"out\\"');
  });

  it("finds what cannot be reached by keyboard, and what does not show that it was", async () => {
    const hidden = await page(`${GOOD}<button id="last">Last</button>`, "#last:focus { outline: none }");
    expect(await said(worksByKeyboard(hidden))).toContain("cannot be seen");
    const trap = `<button onkeydown="event.preventDefault()">Trap</button><button>Beyond</button>`;
    expect(await said(worksByKeyboard(await page(trap)))).toContain("Beyond");
  });
});
