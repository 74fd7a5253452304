import { describe, expect, it } from "vitest";
import type { Wire } from "../../api/client";
import { finishOf } from "./finish";

const hour = 3600;

function board(here: number, [soonest, likely, latest]: [number, number, number] | [] = []) {
  const left = likely && {
    likely_seconds: likely,
    soonest_seconds: soonest,
    latest_seconds: latest,
  };
  return {
    at: "2026-03-10T14:00:00Z",
    closes_at: "2026-03-10T17:00:00Z",
    heads: { done: 10, referred: 0, at_station: 0, waiting: here, not_arrived: 0 },
    pace: { finished: 4, over_seconds: hour, ...(left ? { those_here: left } : {}) },
    stations: [],
    alarms: [],
  } as unknown as Wire<"BoardView">;
}

describe("will we finish", () => {
  it("is yes only when the slow end of the estimate lies before the closing time", () => {
    expect(finishOf(board(9, [hour, 2 * hour, 2.9 * hour])).tone).toBe("go");
    expect(finishOf(board(9, [hour, 2 * hour, 3.1 * hour])).tone).toBe("wait");
    expect(finishOf(board(9, [2 * hour, 3.5 * hour, 5 * hour])).tone).toBe("stop");
  });

  it("is not known without a pace, and nothing to ask when nobody is here", () => {
    expect(finishOf(board(9)).tone).toBe("unknown");
    expect(finishOf(board(0)).tone).toBe("plain");
  });
});
