// Two attempts of one person at the same time: kept side by side until a person has decided.
import { useState } from "preact/hooks";
import { all, api, need, type Wire } from "../../api/client";
import { day, stationsOf } from "../../app/place";
import { useResource } from "../../app/use-resource";
import { Button } from "../../kit/button";
import { Facts, Page, Panel } from "../../kit/page";
import { Empty, Loaded } from "../../kit/states";
import { clock } from "../../words/format";
import { overlaps as words } from "../../words/overlaps";
import { station } from "../../words/station";
import { TakeOut } from "../records/take-out";
import { respiratorName } from "../station/pack";

type Attempt = Wire<"AttemptView">;

interface Found {
  overlap: Wire<"OverlapView">;
  attempts: Attempt[];
}

export default function Overlaps() {
  const [out, setOut] = useState<Attempt | null>(null);
  const found = useResource(`overlaps ${day.value?.id}`, () => read(day.value!.id), {
    nouns: ["attempts", "attempt_corrections"],
    everyMs: 60_000,
  });
  return (
    <Page title={words.title()} intro={words.intro()}>
      <Loaded resource={found}>
        {({ overlaps, names }) =>
          overlaps.length === 0 ? (
            <Empty title={words.none()}>
              <p>{words.none_more()}</p>
            </Empty>
          ) : (
            overlaps.map(one => (
              <Pair key={one.overlap.attempt_ids.join()} {...one} names={names} onOut={setOut} />
            ))
          )
        }
      </Loaded>
      {out && (
        <TakeOut
          attemptId={out.id}
          title={words.take_out()}
          label={words.why()}
          hint={words.why_hint()}
          needed={words.why_needed()}
          stays={words.stays()}
          confirm={words.confirm()}
          onClose={() => setOut(null)}
          onDone={() => {
            setOut(null);
            found.reload();
          }}
        />
      )}
    </Page>
  );
}

/** The overlaps with their attempts, and the names of stations and respirators by id. */
async function read(day_id: string): Promise<{ overlaps: Found[]; names: Map<string, string> }> {
  const [{ items }, stations, respirators] = await Promise.all([
    need(api.GET("/api/v1/days/{day_id}/overlaps", { params: { path: { day_id } } })),
    stationsOf(day_id),
    all(cursor => api.GET("/api/v1/respirators", { params: { query: { cursor } } })),
  ]);
  const attempt = (attempt_id: string) =>
    need(api.GET("/api/v1/attempts/{attempt_id}", { params: { path: { attempt_id } } }));
  const overlaps = items.map(async overlap => ({
    overlap,
    attempts: await Promise.all(overlap.attempt_ids.map(attempt)),
  }));
  const names = new Map<string, string>();
  for (const one of stations) names.set(one.id, one.name);
  for (const one of respirators) names.set(one.id, respiratorName(one));
  return { overlaps: await Promise.all(overlaps), names };
}

function Pair({
  overlap,
  attempts,
  names,
  onOut,
}: Found & { names: Map<string, string>; onOut: (attempt: Attempt) => void }) {
  return (
    <Panel title={`${overlap.given_name} ${overlap.family_name} · ${overlap.staff_number}`}>
      <div class="columns">
        {attempts.map(attempt => (
          <div class="stack" key={attempt.id}>
            <Facts
              facts={[
                [words.station(), names.get(attempt.station_id)],
                [words.time(), times(attempt)],
                [words.respirator(), names.get(attempt.respirator_id)],
                [words.result(), result(attempt)],
              ]}
            />
            <div class="row">
              <Button onClick={() => onOut(attempt)}>{words.take_out()}</Button>
            </div>
          </div>
        ))}
      </div>
    </Panel>
  );
}

function times({ happened_at, state }: Attempt): string {
  const ended = state.verdict?.ended_at;
  return [clock(happened_at), ended && clock(ended)].filter(Boolean).join(", ");
}

const result = ({ state }: Attempt): string | null =>
  state.verdict ? station[`result_${state.verdict.outcome}`]() : null;
