// The same questions as the server and sellion-gate were asked, and the same answers. Recorded in api-spec/test-vectors;
// with SELLION_GATE_CASES, those that gate-cases left in that folder (tests/outside/pack/check.sh asks ten thousand).
import { readdirSync, readFileSync } from "node:fs";
import { join } from "node:path";
import { beforeAll, describe, expect, it } from "vitest";
import { ringOf, type Ring } from "../badge/jws";
import { lineOf } from "../badge/read";
import { answer, type Instruction, WORD_OF } from "./answer";
import { micros } from "./moments";
import { Pack } from "./pack";

interface Case {
  gate: string;
  at: string;
  text: string;
  server: string;
  alone: string;
}

interface Recorded {
  jwks: unknown;
  packs: { gate: string; pack: string; current: string }[];
  cases: Case[];
}

function recorded(): Recorded {
  const file = new URL("../../../../api-spec/test-vectors/gate-packs.json", import.meta.url);
  const { jwks, packs, texts, cases } = JSON.parse(readFileSync(file, "utf8")) as Omit<Recorded, "cases"> & {
    texts: string[];
    cases: [number, string, number, string, string][];
  };
  const whole = cases.map(([gate, at, text, server, alone]) => {
    return { gate: packs[gate]?.gate ?? "", at, text: texts[text] ?? "", server, alone };
  });
  return { jwks, packs, cases: whole };
}

function left(folder: string): Recorded {
  const read = (name: string) => readFileSync(join(folder, name), "utf8").trim();
  const gates = readdirSync(folder).filter(name => name.endsWith(".pack"));
  const packs = gates.map(name => {
    const gate = name.slice(0, -".pack".length);
    return { gate, pack: read(name), current: read(`${gate}.current`) };
  });
  const cases = JSON.parse(read("cases.json")) as (Omit<Case, "alone"> & { sellion_gate: string })[];
  return {
    jwks: JSON.parse(read("jwks.json")),
    packs,
    cases: cases.map(one => ({ ...one, alone: one.sellion_gate })),
  };
}

const folder = process.env["SELLION_GATE_CASES"];
const { jwks, packs, cases } = folder ? left(folder) : recorded();
const opened = new Map<string, { pack: Pack; knownAt: number }>();
let ring: Ring;

beforeAll(async () => {
  ring = await ringOf(jwks);
  for (const { gate, pack: text, current } of packs) {
    const pack = await Pack.open(ring, text);
    opened.set(gate, { pack, knownAt: await pack.current(current) });
  }
});

describe("a gate alone", () => {
  it("answers as sellion-gate does, and as the server where its knowledge is young enough", async () => {
    const [differ, seen] = [[] as unknown[], {} as Record<string, number>];
    for (const { gate, at, text, server, alone } of cases) {
      const { pack, knownAt } = opened.get(gate)!;
      const told = await answer(pack, lineOf(text), { at: micros(at), knownAt, clockTrusted: true });
      seen[told.word] = (seen[told.word] ?? 0) + 1;
      const excused = told.instruction === "too_old";
      if (told.word !== alone || (!excused && told.word !== server))
        differ.push({ gate, at, text, told, server, alone });
    }
    expect(differ).toEqual([]);
    const words = [...new Set(Object.values(WORD_OF))];
    for (const word of words) expect(seen[word], `${word} was asked for`).toBeGreaterThan(cases.length / 50);
  }, 120_000);

  it("says no more than what needs no time while its clock is in doubt", async () => {
    const told = new Set<Instruction>();
    for (const { gate, at, text } of cases.slice(0, 300)) {
      const { pack, knownAt } = opened.get(gate)!;
      const asked = { at: micros(at), knownAt };
      const trusted = await answer(pack, lineOf(text), { ...asked, clockTrusted: true });
      const doubted = await answer(pack, lineOf(text), { ...asked, clockTrusted: false });
      expect(doubted.word).not.toBe("enter");
      expect(doubted.respirator).toBeUndefined();
      if (doubted.word === "not_valid") expect(trusted.word).toBe("not_valid");
      told.add(doubted.instruction);
    }
    expect([...told]).toContain("clock");
  });

  it("believes no pack of which a bit was changed, and no word for another pack", async () => {
    const [one, other] = packs as [(typeof packs)[0], (typeof packs)[0]];
    const [header = "", payload = "", signature = ""] = one.pack.split(".");
    const bytes = Buffer.from(payload, "base64url");
    for (let place = 0; place < bytes.length; place += 997) {
      const altered = Buffer.from(bytes);
      altered[place] = (altered[place] ?? 0) ^ 4;
      await expect(
        Pack.open(ring, [header, altered.toString("base64url"), signature].join(".")),
      ).rejects.toThrow();
    }
    await expect(Pack.open(ring, one.current)).rejects.toThrow();
    const { pack } = opened.get(one.gate)!;
    await expect(pack.current(other.current)).rejects.toThrow();
    await expect(pack.current(one.pack)).rejects.toThrow();
  });
});
