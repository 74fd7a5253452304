import { useState } from "preact/hooks";
import { api, need, nowText, type Wire } from "../../api/client";
import { may } from "../../app/session";
import { TextField } from "../../kit/field";
import { Panel } from "../../kit/page";
import { Tabs } from "../../kit/tabs";
import { stores as words } from "../../words/stores";
import { MovementForm, PlaceField } from "./movement-form";
import type { Lot } from "./names";

const PARTS = ["receive", "move", "count", "discard"] as const;
type Part = (typeof PARTS)[number];

/** What is counted in pieces: received somewhere, moved, counted, thrown away. */
export function PieceActions({ lot }: { lot: Lot }) {
  const [part, setPart] = useState<Part>("receive");
  if (!may("create_lot_movement")) return null;
  return (
    <Panel title={words.pieces()}>
      <Tabs
        label={words.to_do()}
        value={part}
        tabs={PARTS.map(value => ({ value, label: words[value]() }))}
        onValue={setPart}
      >
        <PieceForm key={part} lot={lot} movement={part} />
      </Tabs>
    </Panel>
  );
}

function PieceForm({ lot, movement }: { lot: Lot; movement: Part }) {
  const [pieces, setPieces] = useState("");
  const [from, setFrom] = useState("");
  const [target, setTarget] = useState("");
  const [taker, setTaker] = useState("");
  const [reason, setReason] = useState("");
  const [hasFrom, hasTo] = [movement !== "receive", movement === "receive" || movement === "move"];
  const saysWhy = movement === "count" || movement === "discard";
  const count = Number(pieces);
  const whole = pieces.trim() !== "" && Number.isInteger(count) && count >= (movement === "count" ? 0 : 1);
  const ready =
    whole && (!hasFrom || from !== "") && (!hasTo || target !== "") && (!saysWhy || reason.trim() !== "");
  const body = (id: string): Wire<"NewLotMovement"> => ({
    id,
    movement,
    pieces: count,
    happened_at: nowText(),
    ...(hasFrom ? { from_place_id: from } : {}),
    ...(hasTo ? { to_place_id: target } : {}),
    ...(movement === "move" && taker.trim() ? { handed_to: taker.trim() } : {}),
    ...(reason.trim() ? { reason: reason.trim() } : {}),
  });
  return (
    <MovementForm
      action={words[movement]()}
      ready={ready}
      onSave={id =>
        need(
          api.POST("/api/v1/lots/{lot_id}/movements", {
            params: { path: { lot_id: lot.id } },
            body: body(id),
          }),
        )
      }
      onSaved={() => {
        setPieces("");
        setReason("");
      }}
    >
      <TextField
        label={movement === "count" ? words.found_pieces() : words.how_many()}
        type="number"
        inputMode="numeric"
        min="0"
        value={pieces}
        onValue={setPieces}
      />
      {hasFrom && <PlaceField label={words.place()} value={from} onValue={setFrom} />}
      {hasTo && <PlaceField label={words.to()} value={target} onValue={setTarget} except={from} />}
      {movement === "move" && (
        <TextField
          label={words.handed_to()}
          hint={words.handed_to_hint()}
          autocomplete="off"
          value={taker}
          onValue={setTaker}
        />
      )}
      {hasFrom && (
        <TextField
          label={movement === "move" ? words.exception() : words.reason()}
          value={reason}
          onValue={setReason}
          maxLength={500}
        />
      )}
    </MovementForm>
  );
}
