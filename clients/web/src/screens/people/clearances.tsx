import { useState } from "preact/hooks";
import { api, need, type Wire } from "../../api/client";
import { to } from "../../app/screens";
import { may } from "../../app/session";
import { useResource } from "../../app/use-resource";
import { Tag } from "../../kit/answer";
import { Button } from "../../kit/button";
import { TextField } from "../../kit/field";
import { Panel } from "../../kit/page";
import type { Tone } from "../../kit/shape";
import { Empty, Loaded } from "../../kit/states";
import { Table } from "../../kit/table";
import { date, dayAndClock, list, momentAtSite } from "../../words/format";
import { person as words } from "../../words/person";
import { records } from "../../words/records";
import { type Names, useRespiratorNames } from "../records/names";

type Clearance = Wire<"ClearanceView">;

const TONES: Record<Wire<"ClearanceState">, Tone> = { cleared: "go", held: "unknown", not_cleared: "stop" };

/** A day comes and goes without anybody writing anything. */
const AGAIN_MS = 60_000;

interface Asked {
  at: string;
  known_at?: string;
}

/** How somebody stands with each respirator, now or at the moment that is asked about. */
export const useClearances = (personId: string, asked: Asked | null) =>
  useResource(
    `clearances ${personId} ${JSON.stringify(asked)}`,
    () =>
      need(
        api.GET("/api/v1/people/{person_id}/clearances", {
          params: { path: { person_id: personId }, query: asked ?? {} },
        }),
      ),
    {
      nouns: [
        "attempts",
        "attempt_corrections",
        "permissions",
        "lot_stops",
        "stops",
        "stop_releases",
        "people",
      ],
      everyMs: AGAIN_MS,
    },
  );

/** What somebody is cleared for now, or was at another moment, as known then or now. */
export function Clearances({ personId }: { personId: string }) {
  const [asked, setAsked] = useState<Asked | null>(null);
  const respirators = useRespiratorNames();
  const clearances = useClearances(personId, asked);
  return (
    <Panel
      title={words.clearances()}
      actions={asked && <Button onClick={() => setAsked(null)}>{words.to_now()}</Button>}
    >
      <Loaded resource={clearances}>
        {found => (
          <>
            {asked && (
              <p class="soft">
                {words.clearances_at({ at: dayAndClock(found.at), known: dayAndClock(found.known_at) })}
              </p>
            )}
            {found.items.length === 0 ? (
              <Empty title={words.clearances_none()} />
            ) : (
              <ClearanceTable items={found.items} respirators={respirators} />
            )}
          </>
        )}
      </Loaded>
      <AskMoment onAsk={setAsked} />
    </Panel>
  );
}

export function ClearanceTable({ items, respirators }: { items: readonly Clearance[]; respirators: Names }) {
  return (
    <Table
      caption={words.clearances()}
      rows={items}
      keyOf={one => one.respirator_id}
      columns={[
        { title: words.respirator(), cell: one => respirators.get(one.respirator_id) ?? "…" },
        {
          title: words.state(),
          cell: one => <Tag tone={TONES[one.state]}>{records[`state_${one.state}`]()}</Tag>,
        },
        { title: words.due_on(), cell: one => dueDay(one) ?? "–" },
        {
          title: words.why(),
          cell: one =>
            one.reasons.length > 0 ? list(one.reasons.map(why => records[`reason_${why}`]())) : "–",
        },
        { title: words.stands_on(), cell: one => <StandsOn one={one} /> },
      ]}
    />
  );
}

/** The day it ends by itself; where something else has ended it, the day says nothing. */
function dueDay(one: Clearance): string | undefined {
  const counts = one.state !== "not_cleared" || one.reasons.includes("overdue");
  return counts && one.due_on ? date(one.due_on) : undefined;
}

function StandsOn({ one }: { one: Clearance }) {
  if (!one.basis_attempt) return <>–</>;
  const said = one.tested_on ? date(one.tested_on) : words.the_attempt();
  return may("read_attempt") ? (
    <a href={to(`/records/attempts/${one.basis_attempt}`)}>{said}</a>
  ) : (
    <>{said}</>
  );
}

function AskMoment({ onAsk }: { onAsk: (asked: Asked) => void }) {
  const [open, setOpen] = useState(false);
  const [at, setAt] = useState("");
  const [known, setKnown] = useState("");
  if (!open) {
    return (
      <div class="row">
        <Button kind="quiet" onClick={() => setOpen(true)}>
          {words.at_moment()}
        </Button>
      </div>
    );
  }
  return (
    <form
      class="fields"
      onSubmit={event => {
        event.preventDefault();
        if (at === "") return;
        const known_at = known === "" ? undefined : momentAtSite(known).toISOString();
        onAsk({ at: momentAtSite(at).toISOString(), known_at });
      }}
    >
      <TextField label={words.at()} type="datetime-local" step={1} value={at} onValue={setAt} />
      <TextField
        label={words.known_at()}
        hint={words.known_at_hint()}
        type="datetime-local"
        step={1}
        value={known}
        onValue={setKnown}
      />
      <div class="row">
        <Button type="submit" disabled={at === ""}>
          {words.ask()}
        </Button>
      </div>
    </form>
  );
}
