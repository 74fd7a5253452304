// Every operation that a person may call is offered by some screen, or stands here with the reason why none does.
import { describe, expect, it } from "vitest";
import document from "../../../../api-spec/openapi.json";
import { OPERATIONS } from "./operations";

/** Called by a text of its own rather than through the typed client: which file says so, and with what. */
const OTHERWISE: Record<string, readonly [file: string, text: string]> = {
  read_stream: ["../app/live.ts", 'new EventSource("/api/v1/stream")'],
  read_liveness: ["./reach.ts", 'new Request("/health/live"'],
  create_visit: ["../screens/check-in/person-at-desk.tsx", 'path: "/api/v1/visits", body'],
  create_visit_answers: [
    "../screens/check-in/person-at-desk.tsx",
    "path: `/api/v1/visits/${visitId}/answers`",
  ],
  create_attempt: ["../screens/station/chair.ts", 'ATTEMPTS = "/api/v1/attempts"'],
  append_attempt_events: ["../screens/station/chair.ts", 'ATTEMPTS = "/api/v1/attempts"'],
  create_screening: ["../screens/station/chair.ts", 'SCREENINGS = "/api/v1/screenings"'],
  create_lead_entry: ["../screens/gate/gate.ts", "path: `/api/v1/gates/${gate}/lead_entries`"],
  read_gate_pack: ["../screens/gate/held.ts", 'new Request("/api/v1/gate_pack"'],
  append_screening_events: ["../screens/station/chair.ts", 'SCREENINGS = "/api/v1/screenings"'],
};

/** For programs, which need no screen. */
const FOR_PROGRAMS: Record<string, string> = {
  read_status_list: "an IETF token status list, which verifiers of badges fetch",
  read_readiness: "what balances or restarts servers asks for it",
  read_respirator: "the list holds every respirator whole",
};

const sources = import.meta.glob<string>(["../**/*.{ts,tsx}", "./*.ts", "!../**/*.test.ts", "!./*.test.ts"], {
  query: "?raw",
  import: "default",
  eager: true,
});

const escaped = (text: string) => text.replace(/[.*+?^${}()|[\]\\]/g, "\\$&");
const written = Object.values(sources).join("\n");

const operations = Object.entries(document.paths).flatMap(([path, methods]) =>
  Object.entries(methods as Record<string, { operationId: string }>).map(([method, one]) => ({
    id: one.operationId,
    call: new RegExp(`api\\.${method.toUpperCase()}\\(\\s*"${escaped(path)}"`),
  })),
);

describe("every operation", () => {
  it("is offered by a screen, or has its reason here", () => {
    const silent = operations.filter(({ id, call }) => !call.test(written) && !(id in OTHERWISE));
    const excused = Object.keys(FOR_PROGRAMS);
    const ids = silent.map(one => one.id);
    expect(ids.filter(id => !excused.includes(id))).toEqual([]);
    expect(
      excused.filter(id => !ids.includes(id)),
      "excused, and offered all the same",
    ).toEqual([]);
  });

  it("that is called by a text of its own is called there", () => {
    for (const [id, [file, text]] of Object.entries(OTHERWISE)) {
      expect(sources[file] ?? "", `${id} in ${file}`).toContain(text);
    }
  });

  it("that needs somebody signed in is one of the document's", () => {
    const known = operations.map(one => one.id);
    expect(Object.keys(OPERATIONS).filter(id => !known.includes(id))).toEqual([]);
  });
});
