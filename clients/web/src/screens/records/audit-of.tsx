import { api } from "../../api/client";
import { to } from "../../app/screens";
import { usePages } from "../../app/use-pages";
import { Button } from "../../kit/button";
import { Panel } from "../../kit/page";
import { Loaded } from "../../kit/states";
import { attempt as words } from "../../words/attempt";
import { clockWithSeconds, date, dateAtSite } from "../../words/format";
import { useUserNames } from "./audit-rows";

/** Who wrote the row and its parts: the chain says so, and the record itself does not. */
export function AuditOf({ subjectId }: { subjectId: string }) {
  const users = useUserNames();
  const { resource } = usePages(`audit of ${subjectId}`, (cursor, limit) =>
    api.GET("/api/v1/audit_rows", { params: { query: { subject_id: subjectId, cursor, limit } } }),
  );
  return (
    <Panel title={words.audit()}>
      <Loaded resource={resource}>
        {({ items }) => (
          <ul class="rows">
            {items.map(row => (
              <li key={row.seq} class="entry">
                <p class="strong">{(row.actor_id && users.get(row.actor_id)) ?? row.actor_kind}</p>
                <p class="soft small">
                  {row.action.replaceAll("_", " ")} · {date(dateAtSite(row.recorded_at))},{" "}
                  {clockWithSeconds(row.recorded_at)}
                </p>
              </li>
            ))}
          </ul>
        )}
      </Loaded>
      <div class="row">
        <Button kind="quiet" href={to(`/records/audit?subject=${subjectId}`)}>
          {words.audit_open()}
        </Button>
      </div>
    </Panel>
  );
}
