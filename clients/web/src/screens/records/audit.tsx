import "./records.css";
import { useLocation } from "preact-iso";
import { useState } from "preact/hooks";
import { api } from "../../api/client";
import { to } from "../../app/screens";
import { usePages } from "../../app/use-pages";
import { Button } from "../../kit/button";
import { TextField } from "../../kit/field";
import { More } from "../../kit/more";
import { Notice } from "../../kit/notice";
import { Page, Panel } from "../../kit/page";
import { Empty, Loaded } from "../../kit/states";
import { audit as words } from "../../words/audit";
import { AuditRows } from "./audit-rows";
import { firstBreak } from "./chain";

/** What was written, by whom, in which order; and whether each row names the one before it. */
export default function Audit() {
  const { query, route } = useLocation();
  const subject = query["subject"];
  const from = Math.max(1, Math.trunc(Number(query["from"] ?? "1")) || 1);
  const [typed, setTyped] = useState(String(from));
  const { resource, more } = usePages(`audit ${subject} ${from}`, (cursor, limit) => {
    const where = subject ? { subject_id: subject } : cursor ? {} : { from_seq: from };
    return api.GET("/api/v1/audit_rows", { params: { query: { ...where, cursor, limit } } });
  });
  return (
    <Page title={words.title()} intro={words.intro()}>
      <Panel>
        {subject ? (
          <div class="row row-apart">
            <p>{words.of_one()}</p>
            <Button href={to("/records/audit")}>{words.whole()}</Button>
          </div>
        ) : (
          <form
            class="fields"
            onSubmit={event => {
              event.preventDefault();
              route(to(`/records/audit?from=${encodeURIComponent(typed)}`));
            }}
          >
            <TextField
              label={words.from()}
              value={typed}
              onValue={setTyped}
              inputMode="numeric"
              problem={/^[1-9]\d*$/.test(typed) ? undefined : words.from_number()}
            />
            <div class="row">
              <Button type="submit" disabled={!/^[1-9]\d*$/.test(typed)}>
                {words.show()}
              </Button>
            </div>
          </form>
        )}
      </Panel>
      <Panel>
        <Loaded resource={resource}>
          {({ items, rest }) =>
            items.length === 0 ? (
              <Empty title={words.none()} />
            ) : (
              <>
                {!subject && <Links broken={firstBreak(items)} count={items.length} />}
                <AuditRows caption={words.title()} rows={items} />
                <More rest={rest} busy={resource.loading} onMore={more} />
              </>
            )
          }
        </Loaded>
      </Panel>
    </Page>
  );
}

function Links({ broken, count }: { broken: number | undefined; count: number }) {
  if (broken !== undefined) {
    return (
      <Notice tone="stop" title={words.broken({ seq: broken })} urgent>
        <p>{words.broken_todo()}</p>
      </Notice>
    );
  }
  return (
    <Notice tone="go" title={words.linked({ n: count })}>
      <p>{words.linked_more()}</p>
    </Notice>
  );
}
