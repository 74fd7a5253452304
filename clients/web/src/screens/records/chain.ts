import type { Wire } from "../../api/client";

type Row = Pick<Wire<"AuditRowView">, "seq" | "hash" | "previous_hash">;

/**
 * The first row that does not name the fingerprint of the row before it, of rows that follow each other without a gap;
 * undefined when each does. Whether a fingerprint is that of its row is for `sellion audit verify`.
 */
export function firstBreak(rows: readonly Row[]): number | undefined {
  for (const [n, row] of rows.entries()) {
    const before = rows[n - 1];
    if (!before) continue;
    if (row.seq !== before.seq + 1 || row.previous_hash !== before.hash) return row.seq;
  }
  return undefined;
}
