import { useState } from "preact/hooks";
import { api, need, type Wire } from "../../api/client";
import { to } from "../../app/screens";
import { useResource } from "../../app/use-resource";
import { Button } from "../../kit/button";
import { TextField } from "../../kit/field";
import { Notice } from "../../kit/notice";
import { Panel } from "../../kit/page";
import { Empty, Loaded } from "../../kit/states";
import { Table } from "../../kit/table";
import { dayAndClock, list, momentAtSite } from "../../words/format";
import { gateRecords as words } from "../../words/gate-records";
import { type Names, useRespiratorNames } from "../records/names";
import { type Apart, apart } from "./apart";

type View = Wire<"GateClearancesView">;
type Item = Wire<"GateClearanceItem">;

/** Who was cleared at one moment: as known then, as known now, and who differs between the two. */
export function Cleared({ gateId }: { gateId: string }) {
  const [typed, setTyped] = useState("");
  const [at, setAt] = useState<string | null>(null);
  const found = useResource(at && `cleared ${gateId} ${at}`, async () => {
    const [then, now] = await Promise.all([
      everyPage(gateId, at ?? "", at ?? ""),
      everyPage(gateId, at ?? ""),
    ]);
    return { then, now, apart: apart(then.items, now.items, one => one.person_id) };
  });
  const respirators = useRespiratorNames();
  return (
    <Panel title={words.tab_cleared()}>
      <form
        class="fields"
        onSubmit={event => {
          event.preventDefault();
          if (typed !== "") setAt(momentAtSite(typed).toISOString());
        }}
      >
        <TextField label={words.at()} type="datetime-local" step={1} value={typed} onValue={setTyped} />
        <div class="row">
          <Button type="submit" kind="main" disabled={typed === ""}>
            {words.ask()}
          </Button>
        </div>
      </form>
      {at && (
        <Loaded resource={found}>
          {answer => (
            <>
              <p class="strong">{words.asked_at({ at: dayAndClock(at) })}</p>
              <Policy view={answer.now} respirators={respirators} />
              <Differences apart={answer.apart} respirators={respirators} />
            </>
          )}
        </Loaded>
      )}
    </Panel>
  );
}

function Policy({ view, respirators }: { view: View; respirators: Names }) {
  if (!view.policy_id) return <Notice tone="wait" title={words.no_policy()} />;
  if (view.none_needed) return <Notice tone="plain" title={words.none_needed()} />;
  return (
    <p class="soft">
      {words.accepted()}: {list(view.respirator_ids.map(id => respirators.get(id) ?? "…"))}
    </p>
  );
}

function Differences({
  apart: { first, second, both },
  respirators,
}: {
  apart: Apart<Item>;
  respirators: Names;
}) {
  const groups = [
    { title: words.only_then(), more: words.only_then_more(), items: first },
    { title: words.only_now(), more: words.only_now_more(), items: second },
    { title: words.both(), more: "", items: both },
  ];
  return (
    <>
      {groups.map(({ title, more, items }) => (
        <section key={title} class="stack stack-close">
          <h3>
            {title}: {words.people({ n: items.length })}
          </h3>
          {more && items.length > 0 && <p class="soft small">{more}</p>}
          {items.length === 0 ? (
            <Empty title={words.nobody()} />
          ) : (
            <Table
              caption={title}
              rows={items}
              keyOf={one => one.person_id}
              columns={[
                {
                  title: words.person(),
                  cell: one => (
                    <a href={to(`/people/${one.person_id}`)}>
                      {one.given_name} {one.family_name}
                    </a>
                  ),
                },
                { title: words.number(), cell: one => one.staff_number },
                {
                  title: words.respirators(),
                  cell: one => list(one.clearances.map(of => respirators.get(of.respirator_id) ?? "…")),
                },
              ]}
            />
          )}
        </section>
      ))}
    </>
  );
}

/** Whoever compares two lists needs both whole. */
async function everyPage(gate_id: string, at: string, known_at?: string): Promise<View> {
  let whole: View | undefined;
  let cursor: string | null | undefined;
  do {
    const query = { at, limit: 500, ...(known_at ? { known_at } : {}), ...(cursor ? { cursor } : {}) };
    const page: View = await need(
      api.GET("/api/v1/gates/{gate_id}/clearances", { params: { path: { gate_id }, query } }),
    );
    whole = { ...page, items: [...(whole?.items ?? []), ...page.items] };
    cursor = page.next;
  } while (cursor);
  return whole;
}
