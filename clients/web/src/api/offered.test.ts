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
  append_screening_events: ["../screens/station/chair.ts", 'SCREENINGS = "/api/v1/screenings"'],
};

/** For programs, which need no screen. */
const FOR_PROGRAMS: Record<string, string> = {
  read_status_list: "an IETF token status list, which verifiers of badges fetch",
  read_readiness: "what balances or restarts servers asks for it",
  read_respirator: "the list holds every respirator whole",
};

/** For people, and still without a screen. Whoever builds the screen takes its line out. */
const NOT_YET: Record<string, string> = {
  create_badge: "badges are not made, printed and held on a screen yet",
  create_badge_hold: "badges are not made, printed and held on a screen yet",
  create_badge_hold_release: "badges are not made, printed and held on a screen yet",
  create_badge_sheet: "badges are not made, printed and held on a screen yet",
  create_proof_sheet: "badges are not made, printed and held on a screen yet",
  end_badge: "badges are not made, printed and held on a screen yet",
  list_badges: "badges are not made, printed and held on a screen yet",
  read_badge: "badges are not made, printed and held on a screen yet",
  list_attempts: "records are not read and corrected on a screen yet",
  list_audit_rows: "records are not read and corrected on a screen yet",
  read_attempt_record: "records are not read and corrected on a screen yet",
  read_attempt_recording: "records are not read and corrected on a screen yet",
  list_gate_clearances: "records are not read and corrected on a screen yet",
  list_scan_comparisons: "records are not read and corrected on a screen yet",
  list_scans: "records are not read and corrected on a screen yet",
  create_permission: "people, their permissions and the roster have no screen of their own yet",
  create_roster_import: "people, their permissions and the roster have no screen of their own yet",
  list_clearances: "people, their permissions and the roster have no screen of their own yet",
  list_permissions: "people, their permissions and the roster have no screen of their own yet",
  list_roster_imports: "people, their permissions and the roster have no screen of their own yet",
  preview_roster_import: "people, their permissions and the roster have no screen of their own yet",
  update_person: "people, their permissions and the roster have no screen of their own yet",
  create_referral: "people, their permissions and the roster have no screen of their own yet",
  list_referrals: "people, their permissions and the roster have no screen of their own yet",
  create_lead_entry: "gates do not read badges on a screen yet",
  create_scan: "gates do not read badges on a screen yet",
  read_gate_figures: "gates do not read badges on a screen yet",
  read_gate_outlook_counts: "gates do not read badges on a screen yet",
  read_gate_pack: "gates do not read badges on a screen yet",
  create_attempt_recording: "files of readings are not taken at a station yet",
  create_reading_file: "files of readings are not taken at a station yet",
  create_reading_mapping: "files of readings are not taken at a station yet",
  list_reading_mappings: "files of readings are not taken at a station yet",
  preview_reading_file: "files of readings are not taken at a station yet",
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
    const excused = [...Object.keys(FOR_PROGRAMS), ...Object.keys(NOT_YET)];
    expect(silent.map(one => one.id).filter(id => !excused.includes(id))).toEqual([]);
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
