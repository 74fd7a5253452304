import { describe, expect, it } from "vitest";
import type { Wire } from "../../api/client";
import { changesOf, typedOf, upon } from "./typed";

const oda: Wire<"PersonView"> = {
  id: "019cd6c2-8c00-7000-8000-000000000001",
  kind: "staff",
  staff_number: "004217",
  given_name: "Oda",
  family_name: "Brennick",
  unit: "Heron ward",
  birth_month_day: "04-17",
  created_at: "2026-03-10T08:00:00Z",
  version: 3,
};

describe("a correction of a person", () => {
  it("sends only what differs", () => {
    expect(changesOf(oda, typedOf(oda))).toEqual({});
    expect(changesOf(oda, { ...typedOf(oda), family_name: "Roe", left_on: "2026-12-31" })).toEqual({
      family_name: "Roe",
      left_on: "2026-12-31",
    });
  });

  it("takes a last day away with null, and never the birth date by leaving it empty", () => {
    const gone = { ...oda, left_on: "2026-12-31" };
    expect(changesOf(gone, { ...typedOf(gone), left_on: "" })).toEqual({ left_on: null });
  });

  it("keeps zeros and spaces of a number as they were typed", () => {
    expect(changesOf(oda, { ...typedOf(oda), staff_number: "0004217" })).toEqual({ staff_number: "0004217" });
  });

  it("stands upon what somebody else stored meanwhile", () => {
    const typed = { ...typedOf(oda), family_name: "Roe" };
    const fresh = { ...oda, unit: "Plover", family_name: "Brennick-Vale", version: 4 };
    const again = upon(fresh, oda, typed);
    expect(again.unit).toBe("Plover");
    expect(again.family_name).toBe("Roe");
    expect(changesOf(fresh, again)).toEqual({ family_name: "Roe" });
  });
});
