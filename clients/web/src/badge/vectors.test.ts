// Against api-spec/test-vectors: the same vectors that the server, sellion-gate and the outside verifiers are held to.
import { readFileSync } from "node:fs";
import { describe, expect, it } from "vitest";
import { decode } from "./base45";
import { genuine } from "./code";
import { open, ringOf } from "./jws";
import { lineOf } from "./read";
import { parseSerial, printedSerial, readSerial } from "./serial";

const vectors = <Shape>(name: string): Shape =>
  JSON.parse(
    readFileSync(new URL(`../../../../api-spec/test-vectors/${name}.json`, import.meta.url), "utf8"),
  ) as Shape;

interface Badge {
  name: string;
  code: string;
  jwt?: string;
  claims?: unknown;
}

const badges = vectors<{ jwks: unknown; good: Badge[]; expired: Badge[]; refused: Badge[] }>("badges");
const base45 = vectors<{ good: { bytes: string; text: string }[]; refused: string[] }>("base45");
const serials = vectors<{ good: string[]; refused: string[] }>("serials");

describe("badges", () => {
  it.each([...badges.good, ...badges.expired])("are genuine: $name", async ({ code, claims }) => {
    const read = await genuine(await ringOf(badges.jwks), code);
    if (claims) expect(read).toEqual(claims);
  });

  it.each(badges.refused)("are refused: $name", async ({ code, jwt }) => {
    const ring = await ringOf(badges.jwks);
    // Some are wrong as codes, some only as tokens.
    if (code) await expect(genuine(ring, code)).rejects.toThrow();
    else await expect(open(ring, undefined, jwt ?? "")).rejects.toThrow();
  });

  it("are refused with any one bit changed", async () => {
    const ring = await ringOf(badges.jwks);
    const [header, payload, signature] = (badges.good[0]?.jwt ?? "").split(".") as [string, string, string];
    const bytes = Buffer.from(payload, "base64url");
    for (let place = 0; place < bytes.length; place += 7) {
      const altered = Buffer.from(bytes);
      altered[place] = (altered[place] ?? 0) ^ 1;
      const token = [header, altered.toString("base64url"), signature].join(".");
      await expect(open(ring, undefined, token)).rejects.toThrow();
    }
  });

  it("are not believed under a key whose id does not follow from it (RFC 7638)", async () => {
    const { keys } = badges.jwks as { keys: { kid: string }[] };
    await expect(ringOf({ keys: [{ ...keys[0], kid: keys[1]?.kid }] })).rejects.toThrow();
  });
});

describe("base45", () => {
  it.each(base45.good)("reads $text", ({ text, bytes }) => {
    expect(Buffer.from(decode(text) ?? []).toString("hex")).toBe(bytes);
  });

  it.each(base45.refused)("refuses %j", text => expect(decode(text)).toBeNull());
});

describe("serials", () => {
  it.each(serials.good)("take %s, as it is printed and in small letters", serial => {
    expect(parseSerial(serial)).toBe(serial);
    expect(parseSerial(` ${printedSerial(serial).toLowerCase()} `)).toBe(serial);
  });

  it.each(serials.refused)("refuse %j", text => expect(parseSerial(text)).toBeNull());

  it("say what is wrong with what was typed", () => {
    expect(readSerial("7KQ2M")).toEqual({ problem: "length" });
    expect(readSerial("7KQ2M-XW9R0")).toEqual({ problem: "character" });
    const good = serials.good[1] ?? "";
    const swapped = good[0] === good[1] ? `3${good.slice(1)}` : `${good[1]}${good[0]}${good.slice(2)}`;
    expect(readSerial(swapped)).toEqual({ problem: "check" });
  });
});

describe("a line", () => {
  it("is a code without what a scanner puts around it, and a blank at its end may belong to it", () => {
    const code = badges.good[0]?.code ?? "";
    expect(lineOf(`${code}\r\n`)).toEqual({ how: "code", text: code });
    expect(lineOf(`\t ${code} `)).toEqual({ how: "code", text: code });
    expect(lineOf("4006381333931")).toEqual({ how: "code", text: "4006381333931" });
  });

  it("is a serial where it reads as one", () => {
    const serial = serials.good[2] ?? "";
    expect(lineOf(`${serial}\n`)).toEqual({ how: "serial", text: serial });
  });
});
