import { describe, expect, it } from "vitest";
import { confirmed, doubtOf, look, type Mark, metServer, type Reading, workedOut } from "./clock";

const MINUTE = 60_000;
const START = Date.UTC(2026, 10, 27, 8);

/** A reading `steady` minutes after the page began, with a clock that shows `wall` minutes after the start. */
const reading = (wall: number, steady: number, boot = "first"): Reading => ({
  wall: START + wall * MINUTE,
  steady: steady * MINUTE,
  boot,
});

const looked = (...readings: Reading[]): Mark =>
  readings.reduce<Mark | null>((mark, one) => look(mark, one), null) as Mark;

describe("a gate's clock", () => {
  it("is relied on while it goes with the steady counter", () => {
    expect(looked(reading(0, 0), reading(60, 60), reading(121.9, 120)).doubt).toBeNull();
  });

  it("is in doubt once it jumped, and stays so", () => {
    const ahead = looked(reading(0, 0), reading(90, 10));
    expect(ahead.doubt).toEqual({ why: "jumped_ahead", by: 80 * MINUTE });
    expect(look(ahead, reading(100, 20)).doubt).toEqual(ahead.doubt);
    expect(looked(reading(0, 0), reading(-30, 10)).doubt).toEqual({ why: "jumped_back", by: 40 * MINUTE });
  });

  it("can only be told to have gone back by a page that begins anew", () => {
    expect(looked(reading(0, 50), reading(600, 0, "second")).doubt).toBeNull();
    expect(looked(reading(0, 50), reading(-10, 0, "second")).doubt).toEqual({
      why: "jumped_back",
      by: 10 * MINUTE,
    });
  });

  it("is held against the server's, which also takes a doubt away", () => {
    const mark = looked(reading(0, 0), reading(90, 10));
    expect(metServer(mark, START + 89 * MINUTE).doubt).toBeNull();
    const behind = metServer(mark, START);
    expect(behind.doubt).toEqual({ why: "server_differs", by: -90 * MINUTE });
    // A person who looked at a clock is believed, as long as the difference stays what it was.
    const right = confirmed(behind);
    expect(right.doubt).toBeNull();
    expect(metServer(look(right, reading(100, 20)), START + 10 * MINUTE).doubt).toBeNull();
    expect(metServer(look(right, reading(100, 20)), START - 60 * MINUTE).doubt?.why).toBe("server_differs");
  });

  it("cannot be confirmed against what the server signed later", () => {
    const mark = confirmed(looked(reading(0, 0)));
    const signed = (START + 10 * MINUTE) / 1000;
    expect(doubtOf(mark, signed)).toEqual({ why: "before_pack", by: 10 * MINUTE });
    expect(doubtOf(mark, START / 1000)).toBeNull();
  });

  it("tells afterwards when a badge was really read", () => {
    const wrong = reading(90, 0);
    const met = metServer(looked(wrong, reading(100, 10)), START + 10 * MINUTE);
    expect(workedOut(met, wrong)).toBe(START);
    expect(workedOut(look(met, reading(130, 40)), reading(95, 5))).toBe(START + 5 * MINUTE);
    // A clock that is right needs nothing worked out, and a page that has not met the server cannot.
    expect(workedOut(metServer(looked(reading(0, 0)), START), reading(0, 0))).toBeUndefined();
    expect(workedOut(looked(wrong), wrong)).toBeUndefined();
    // From before a start of the page: no later than now.
    const later = metServer(looked(reading(200, 0, "second")), START + 20 * MINUTE);
    expect(workedOut(later, wrong)).toBe(START + 20 * MINUTE);
  });
});
