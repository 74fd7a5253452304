import { readFileSync } from "node:fs";
import { afterEach, describe, expect, it } from "vitest";
import { WORD_OF } from "../../pack/answer";
import { gateInstructions } from "../../words/gate";
import { chooseLanguage } from "../../words/language";
import { saidText, understood } from "./instruction";

const rules = readFileSync(new URL("../../../../../server/rules/src/gate.rs", import.meta.url), "utf8");

afterEach(() => chooseLanguage("en"));

describe("what the guard is asked to do", () => {
  it("is said in the server's own sentences", () => {
    for (const [name, say] of Object.entries(gateInstructions)) expect(rules, name).toContain(`"${say()}"`);
    // Every reason of the rules has one of them.
    expect(Object.keys(WORD_OF).length + 1).toBe(Object.keys(gateInstructions).length);
    const sentences = rules.slice(rules.indexOf("const fn sentence")).match(/"[A-Z][^"]+"/g) ?? [];
    expect(sentences.length).toBe(Object.keys(WORD_OF).length);
  });

  it("is said in the language of the reader, with the site's own fallback as it is", () => {
    const held = gateInstructions.held();
    const said = understood(
      `${gateInstructions.check_name()} ${held} Written fallback of this gate: Call 4410.`,
    );
    expect(said).toEqual({ instruction: "held", text: held, fallback: "Call 4410.", checkName: true });
    chooseLanguage("es");
    expect(saidText(said)).toContain("salud laboral");
  });

  it("is shown as it came where a newer server says something else", () => {
    const said = understood("Step aside and read the sign.");
    expect(said).toMatchObject({ instruction: undefined, fallback: undefined, checkName: false });
    expect(saidText(said)).toBe("Step aside and read the sign.");
  });
});
