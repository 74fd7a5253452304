import "./badges.css";
import { useLocation } from "preact-iso";
import { useState } from "preact/hooks";
import { all, api, need, newId, nowText, type Wire } from "../../api/client";
import { day } from "../../app/place";
import { to } from "../../app/screens";
import { may } from "../../app/session";
import { useAction } from "../../app/use-action";
import { type Resource, useResource } from "../../app/use-resource";
import { Tag } from "../../kit/answer";
import { Button } from "../../kit/button";
import { ProblemNotice } from "../../kit/notice";
import { Page, Panel } from "../../kit/page";
import { Empty, Loaded } from "../../kit/states";
import { badgeSteps } from "../../words/badge-steps";
import { badges as words } from "../../words/badges";
import { clock } from "../../words/format";
import { HandOver } from "./hand-over";
import { Progress } from "./progress";

type Due = Wire<"BadgeDueView">;

/** Who is ready for a badge, what is being made, and whose the badge in the hand is. */
export default function Desk() {
  const dayId = day.value?.id ?? "";
  const path = { day_id: dayId };
  const due = useResource(
    `badges due ${dayId}`,
    () => all(cursor => api.GET("/api/v1/days/{day_id}/badges_due", { params: { path, query: { cursor } } })),
    { nouns: ["badges", "badge_batches", "badge_endings", "badge_holds", "visits"], everyMs: 30_000 },
  );
  const batches = useResource(
    `badge batches ${dayId}`,
    () => all(cursor => api.GET("/api/v1/badge_batches", { params: { query: { day_id: dayId, cursor } } })),
    { nouns: ["badge_batches"] },
  );
  return (
    <Page
      title={words.title()}
      actions={may("create_badge") && <Button href={to("/badges/at-once")}>{badgeSteps.once_nav()}</Button>}
    >
      <div class="columns">
        <HandOver />
        <div class="stack">
          <Panel title={words.due()}>
            <Loaded resource={due}>
              {found => <DueList dayId={dayId} due={found} onMade={due.reload} />}
            </Loaded>
          </Panel>
          <Batches batches={batches} />
        </div>
      </div>
    </Page>
  );
}

function DueList({ dayId, due, onMade }: { dayId: string; due: Due[]; onMade: () => void }) {
  const { route } = useLocation();
  // One id for each press that may be repeated: the same batch twice is one batch.
  const [id, setId] = useState(newId);
  const ready = due.filter(one => !one.held_back && !one.badge_batch_id);
  const make = useAction(async () => {
    const params = { path: { day_id: dayId } };
    const made = await need(
      api.POST("/api/v1/days/{day_id}/badge_batches", { params, body: { id, happened_at: nowText() } }),
    );
    setId(newId());
    onMade();
    route(to(`/badges/batches/${made.id}`));
  });
  if (due.length === 0) return <Empty title={words.due_none()} />;
  return (
    <>
      {ready.length > 0 && (
        <Button kind="main" size="large" wide busy={make.busy} onClick={() => void make.run()}>
          {words.make({ n: ready.length })}
        </Button>
      )}
      <ProblemNotice problem={make.problem} />
      <ul class="rows">
        {due.map(one => (
          <li key={one.person_id} class="badges-row">
            <span class="stack stack-close">
              <b>{one.name}</b>
              <span class="small soft">
                {[words.ticket({ n: one.ticket }), one.unit, words[`need_${one.need}`]()].join(" · ")}
              </span>
            </span>
            {!one.badge_batch_id && !one.held_back && may("create_badge") && (
              <Button
                kind="quiet"
                href={to(`/badges/at-once/${one.person_id}`)}
                label={`${badgeSteps.once_nav()}: ${one.name}`}
              >
                {badgeSteps.once_short()}
              </Button>
            )}
            {one.badge_batch_id && <Tag tone="wait">{words.being_made()}</Tag>}
            {one.held_back && <Tag tone="stop">{words.held_back()}</Tag>}
          </li>
        ))}
      </ul>
    </>
  );
}

function Batches({ batches }: { batches: Resource<Wire<"BadgeBatchView">[]> }) {
  return (
    <Panel title={words.batches()}>
      <Loaded resource={batches}>
        {found =>
          found.length === 0 ? (
            <Empty title={words.batches_none()} />
          ) : (
            <ul class="rows">
              {[...found].reverse().map(batch => (
                <li key={batch.id}>
                  <a class="row-link" href={to(`/badges/batches/${batch.id}`)}>
                    <b>{words.batch({ time: clock(batch.happened_at) })}</b>
                    <Progress batch={batch} />
                  </a>
                </li>
              ))}
            </ul>
          )
        }
      </Loaded>
    </Panel>
  );
}
