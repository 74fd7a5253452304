import { describe, expect, it } from "vitest";
import { firstBreak } from "./chain";

const row = (seq: number, previous_hash: string, hash: string) => ({ seq, previous_hash, hash });

describe("the links of the audit chain", () => {
  it("hold where each row names the one before", () => {
    expect(firstBreak([])).toBeUndefined();
    expect(firstBreak([row(5, "x", "a")])).toBeUndefined();
    expect(firstBreak([row(5, "x", "a"), row(6, "a", "b"), row(7, "b", "c")])).toBeUndefined();
  });

  it("name the row at which they break: another fingerprint, or a row that is gone", () => {
    expect(firstBreak([row(5, "x", "a"), row(6, "z", "b"), row(7, "b", "c")])).toBe(6);
    expect(firstBreak([row(5, "x", "a"), row(7, "a", "c")])).toBe(7);
  });
});
