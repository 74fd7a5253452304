import { useState } from "preact/hooks";
import { all, api, need, newId, nowText } from "../../api/client";
import { may } from "../../app/session";
import { useAction } from "../../app/use-action";
import { useResource } from "../../app/use-resource";
import { Button } from "../../kit/button";
import { Dialog } from "../../kit/dialog";
import { CheckField, TextField } from "../../kit/field";
import { ProblemNotice } from "../../kit/notice";
import { Panel } from "../../kit/page";
import { dayAndClock } from "../../words/format";
import { kit } from "../../words/kit";
import { stores as words } from "../../words/stores";
import type { Lot } from "./names";

/** Stopping and releasing: both ask for a reason first, because others act on it at once. */
export function LotStop({ lot }: { lot: Lot }) {
  const [asked, setAsked] = useState(false);
  const allowed = lot.stopped ? may("create_lot_release") : may("create_lot_stop");
  return (
    <Panel title={words.state()}>
      {allowed && (
        <>
          <p class="soft">{lot.stopped ? words.release_more() : words.stop_more()}</p>
          <div class="row">
            <Button kind={lot.stopped ? "plain" : "stop"} onClick={() => setAsked(true)}>
              {lot.stopped ? words.release() : words.stop()}
            </Button>
          </div>
        </>
      )}
      {may("list_lot_stops") && <Stops lotId={lot.id} />}
      {asked && <Decide lot={lot} onClose={() => setAsked(false)} />}
    </Panel>
  );
}

/** Who stopped and released it, when and why: it stays readable. */
function Stops({ lotId }: { lotId: string }) {
  const stops = useResource(
    `lot stops ${lotId}`,
    () =>
      all(cursor =>
        api.GET("/api/v1/lot_stops", { params: { query: { lot_id: lotId, cursor, limit: 500 } } }),
      ),
    { nouns: ["lot_stops"] },
  );
  const told = ({
    happened_at,
    by,
    reason,
  }: {
    happened_at: string;
    by?: string | null;
    reason: string;
  }) => ({
    when: dayAndClock(happened_at),
    name: by ?? words.nobody(),
    reason,
  });
  if (!stops.data?.length) return null;
  return (
    <ul class="rows">
      {[...stops.data].reverse().map(one => (
        <li key={one.id} class="stack stack-close stores-stop">
          <p>{words.stop_line(told(one))}</p>
          {one.release && <p>{words.release_line(told(one.release))}</p>}
        </li>
      ))}
    </ul>
  );
}

function Decide({ lot, onClose }: { lot: Lot; onClose: () => void }) {
  const [id] = useState(newId);
  // What it was when it was asked: it changes while this dialog closes.
  const [releases] = useState(lot.stopped);
  const [reason, setReason] = useState("");
  const [possibly, setPossibly] = useState(true);
  const decide = useAction(async () => {
    const params = { path: { lot_id: lot.id } };
    const body = { id, reason: reason.trim(), happened_at: nowText() };
    if (releases) await need(api.POST("/api/v1/lots/{lot_id}/releases", { params, body }));
    else {
      const reach = possibly ? ("possibly" as const) : ("surely" as const);
      await need(api.POST("/api/v1/lots/{lot_id}/stops", { params, body: { ...body, reach } }));
    }
    onClose();
  });
  const number = { number: lot.lot_number };
  return (
    <Dialog title={releases ? words.release_title(number) : words.stop_title(number)} onClose={onClose}>
      <p>{releases ? words.release_more() : words.stop_more()}</p>
      <TextField label={words.reason()} value={reason} onValue={setReason} maxLength={500} />
      {!releases && <CheckField label={words.reach()} checked={possibly} onValue={setPossibly} />}
      <ProblemNotice problem={decide.problem} />
      <div class="row">
        <Button
          kind={releases ? "main" : "stop"}
          busy={decide.busy}
          disabled={reason.trim() === ""}
          onClick={() => void decide.run()}
        >
          {releases ? words.release() : words.stop()}
        </Button>
        <Button onClick={onClose}>{kit.cancel()}</Button>
      </div>
    </Dialog>
  );
}
