import { all, api, type Wire } from "../../api/client";
import { to } from "../../app/screens";
import { may } from "../../app/session";
import { useResource } from "../../app/use-resource";
import { Table } from "../../kit/table";
import { audit as words } from "../../words/audit";
import { clockWithSeconds, date, dateAtSite } from "../../words/format";

export type AuditRow = Wire<"AuditRowView">;

/** The names of users, for those who may read them. */
export function useUserNames(): ReadonlyMap<string, string> {
  const users = useResource(
    may("list_users") ? "users" : null,
    () => all(cursor => api.GET("/api/v1/users", { params: { query: { cursor, limit: 500 } } })),
    { nouns: ["users"] },
  );
  return new Map(users.data?.map(one => [one.id, one.display_name]));
}

/** What the rows of these tables lead to. */
const LEADS: Readonly<Record<string, string>> = { attempts: "/records/attempts/", people: "/people/" };

/** Rows of the audit chain in its own order. */
export function AuditRows({ caption, rows }: { caption: string; rows: readonly AuditRow[] }) {
  const users = useUserNames();
  return (
    <Table
      caption={caption}
      rows={rows}
      keyOf={row => String(row.seq)}
      columns={[
        { title: words.seq(), cell: row => <span class="number">{row.seq}</span> },
        {
          title: words.when(),
          cell: row => `${date(dateAtSite(row.recorded_at))}, ${clockWithSeconds(row.recorded_at)}`,
        },
        { title: words.actor(), cell: row => actor(row, users) },
        { title: words.action(), cell: row => row.action.replaceAll("_", " ") },
        { title: words.subject(), cell: row => <Subject row={row} /> },
        { title: words.print(), cell: row => <Print row={row} /> },
      ]}
    />
  );
}

function actor(row: AuditRow, users: ReadonlyMap<string, string>): string {
  if (!row.actor_id) return words.by_program();
  if (row.actor_kind === "device") return words.by_device();
  return users.get(row.actor_id) ?? words.by_user();
}

function Subject({ row }: { row: AuditRow }) {
  const name = row.subject_table.replaceAll("_", " ");
  const lead = LEADS[row.subject_table];
  return (
    <>
      {lead ? <a href={to(`${lead}${row.subject_id}`)}>{name}</a> : name}{" "}
      <a class="small" href={to(`/records/audit?subject=${row.subject_id}`)}>
        {words.only_this()}
      </a>
    </>
  );
}

/** The first digits of a fingerprint are enough to compare by eye; the whole stands behind them. */
function Print({ row }: { row: AuditRow }) {
  return (
    <details class="records-details">
      <summary class="number">{row.hash.slice(0, 8)}</summary>
      <p class="records-code number">
        {words.hash()}: {row.hash}
      </p>
      <p class="records-code number">
        {words.previous()}: {row.previous_hash}
      </p>
      {row.subject_digest && (
        <p class="records-code number">
          {words.digest()}: {row.subject_digest}
        </p>
      )}
      {Object.keys(row.detail).length > 0 && <p class="records-code">{JSON.stringify(row.detail)}</p>}
    </details>
  );
}
