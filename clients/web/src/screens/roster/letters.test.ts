import { describe, expect, it } from "vitest";
import { headersOf, inUtf8 } from "./letters";

describe("a roster file", () => {
  it("has its headers read whatever separates and quotes them, and whatever ends the line", () => {
    expect(headersOf("\uFEFFPersonalnr;Vorname;Nachname\r\n1;2;3", ";")).toEqual([
      "Personalnr",
      "Vorname",
      "Nachname",
    ]);
    expect(headersOf('"Number, staff",Given name ,"Family"\n', ",")).toEqual([
      "Number, staff",
      "Given name",
      "Family",
    ]);
    expect(headersOf("a\tb\rc", "\t")).toEqual(["a", "b"]);
    expect(headersOf("", ",")).toEqual([]);
  });

  it("is sent byte for byte, or in UTF-8 where somebody said how it is written", async () => {
    // 0xE9 is e acute in windows-1252 (WHATWG Encoding Standard, index-windows-1252).
    const bytes = new Uint8Array([0x52, 0xe9]).buffer;
    expect(new Uint8Array(await inUtf8(bytes, "utf8").arrayBuffer())).toEqual(new Uint8Array([0x52, 0xe9]));
    expect(await inUtf8(bytes, "1252").text()).toBe("R\u00e9");
  });
});
