// Whether the gate's clock can be relied on: dates decide, so a clock that was set wrong must not. The same witnesses as
// in clients/scanner/src/doubt.rs: the steady counter, the last reading before a start, the server, and the pack.
/** Both clocks, read together, in milliseconds. */
export interface Reading {
  /** What the device's clock shows, since 1970. */
  wall: number;
  /** A counter that nobody sets, since the page began. */
  steady: number;
  /** Which start of the page the counter counts from. */
  boot: string;
}

/** Why the clock cannot be relied on, and by how much. */
export interface Doubt {
  why: "jumped_back" | "jumped_ahead" | "server_differs" | "before_pack";
  /** In milliseconds; how far the server is ahead, where it differs: below zero when it is behind. */
  by: number;
}

/** What is remembered of the clock from one look to the next. */
export interface Mark {
  reading: Reading;
  doubt: Doubt | null;
  /** By how much the server was ahead when a person said that this clock is right. */
  confirmedAhead: number | null;
  /** What the server's clock showed when it was last met, and ours then. */
  met: { server: number; reading: Reading } | null;
}

/** What two good clocks may differ by; the server takes facts that far ahead of its own. */
export const TOLERANCE_MS = 120_000;

const boot = `${performance.timeOrigin} ${Math.random()}`;

export const readClocks = (): Reading => ({ wall: Date.now(), steady: performance.now(), boot });

/** How long after an earlier reading, by the steady counter; nothing across a start of the page. */
export function since(reading: Reading, earlier: Reading): number | undefined {
  const same = reading.boot === earlier.boot && reading.steady >= earlier.steady;
  return same ? reading.steady - earlier.steady : undefined;
}

/** Looks at the clock, with what was remembered. */
export function look(before: Mark | null, reading: Reading): Mark {
  if (!before) return { reading, doubt: null, confirmedAhead: null, met: null };
  return { ...before, reading, doubt: jump(before.reading, reading) ?? before.doubt };
}

/** After a start only a step back can be told: nobody knows for how long the page was closed. */
function jump(before: Reading, now: Reading): Doubt | null {
  const moved = now.wall - before.wall;
  const passed = since(now, before);
  const ahead = passed === undefined ? Math.min(moved, 0) : moved - passed;
  if (ahead > TOLERANCE_MS) return { why: "jumped_ahead", by: ahead };
  return ahead < -TOLERANCE_MS ? { why: "jumped_back", by: -ahead } : null;
}

/** Compares with the server's clock, read just now. */
export function metServer(mark: Mark, server: number): Mark {
  const ahead = server - mark.reading.wall;
  const vouched = Math.abs(ahead) <= TOLERANCE_MS;
  const confirmedAhead = vouched ? null : mark.confirmedAhead;
  const known = vouched || (confirmedAhead !== null && Math.abs(ahead - confirmedAhead) <= TOLERANCE_MS);
  return {
    ...mark,
    met: { server, reading: mark.reading },
    confirmedAhead,
    doubt: known ? null : { why: "server_differs", by: ahead },
  };
}

/** A person says that the clock is right. */
export function confirmed(mark: Mark): Mark {
  const confirmedAhead = mark.doubt?.why === "server_differs" ? mark.doubt.by : mark.confirmedAhead;
  return { ...mark, confirmedAhead, doubt: null };
}

/** Why the clock cannot be relied on; what the server signed later than it shows, nobody can confirm away. */
export function doubtOf(mark: Mark, knownAt: number | null): Doubt | null {
  const later = knownAt === null ? 0 : knownAt * 1000 - mark.reading.wall;
  return later > TOLERANCE_MS ? { why: "before_pack", by: later } : mark.doubt;
}

/**
 * When a badge was really read, in case that the clock showed another time: by the server's clock and the steady counter
 * since; after a start of the page, no later than now.
 */
export function workedOut(mark: Mark, readAt: Reading): number | undefined {
  const passed = mark.met && since(mark.reading, mark.met.reading);
  if (!mark.met || passed === undefined || passed === null) return undefined;
  const now = mark.met.server + passed;
  const ago = since(mark.reading, readAt);
  const really = ago === undefined ? Math.min(readAt.wall, now) : now - ago;
  return Math.abs(really - readAt.wall) > TOLERANCE_MS ? really : undefined;
}
