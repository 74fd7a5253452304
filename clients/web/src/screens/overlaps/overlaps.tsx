// Two attempts of one person at the same time: kept side by side until a person has decided.
import { useState } from "preact/hooks";
import { all, api, need, newId, nowText, type Wire } from "../../api/client";
import { day, stationsOf } from "../../app/place";
import { useAction } from "../../app/use-action";
import { useResource } from "../../app/use-resource";
import { Button } from "../../kit/button";
import { Dialog } from "../../kit/dialog";
import { TextField } from "../../kit/field";
import { ProblemNotice } from "../../kit/notice";
import { Facts, Page, Panel } from "../../kit/page";
import { Empty, Loaded } from "../../kit/states";
import { clock } from "../../words/format";
import { kit } from "../../words/kit";
import { overlaps as words } from "../../words/overlaps";
import { station } from "../../words/station";
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
          attempt={out}
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

function TakeOut({
  attempt,
  onClose,
  onDone,
}: {
  attempt: Attempt;
  onClose: () => void;
  onDone: () => void;
}) {
  const [id] = useState(newId);
  const [reason, setReason] = useState("");
  const save = useAction(async () => {
    const body = { id, reason, happened_at: nowText() };
    const params = { path: { attempt_id: attempt.id } };
    await need(api.POST("/api/v1/attempts/{attempt_id}/corrections", { params, body }));
    onDone();
  });
  return (
    <Dialog title={words.take_out()} onClose={onClose}>
      <form
        class="stack"
        onSubmit={event => {
          event.preventDefault();
          if (reason.trim() !== "") void save.run();
        }}
      >
        <TextField label={words.why()} hint={words.why_hint()} value={reason} onValue={setReason} />
        <p class="soft">{words.stays()}</p>
        <ProblemNotice problem={save.problem} />
        <div class="row">
          <Button type="submit" kind="main" busy={save.busy} disabled={reason.trim() === ""}>
            {words.confirm()}
          </Button>
          <Button onClick={onClose}>{kit.cancel()}</Button>
        </div>
      </form>
    </Dialog>
  );
}
