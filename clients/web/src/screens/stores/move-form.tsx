import { useState } from "preact/hooks";
import { nowText, type Wire } from "../../api/client";
import { TextField } from "../../kit/field";
import { stores as words } from "../../words/stores";
import { MovementForm, PlaceField } from "./movement-form";

interface Props {
  from: string | undefined;
  /** Whether another one could be first: then an exception needs a reason. */
  inTurn?: boolean;
  onMove: (body: Wire<"NewPlacement">) => Promise<unknown>;
  onMoved: () => void;
}

/** Moves, issues, returns or hands over one thing; a hand-over has two names. */
export function MoveForm({ from, inTurn, onMove, onMoved }: Props) {
  const [target, setTarget] = useState("");
  const [taker, setTaker] = useState("");
  const [reason, setReason] = useState("");
  return (
    <MovementForm
      action={words.move()}
      ready={target !== ""}
      onSave={id =>
        onMove({
          id,
          to_place_id: target,
          happened_at: nowText(),
          ...(from ? { from_place_id: from } : {}),
          ...(taker.trim() ? { handed_to: taker.trim() } : {}),
          ...(reason.trim() ? { reason: reason.trim() } : {}),
        })
      }
      onSaved={() => {
        setTarget("");
        setTaker("");
        setReason("");
        onMoved();
      }}
    >
      <PlaceField label={words.to()} value={target} onValue={setTarget} except={from} />
      <TextField
        label={words.handed_to()}
        hint={words.handed_to_hint()}
        autocomplete="off"
        value={taker}
        onValue={setTaker}
      />
      {inTurn && (
        <TextField
          label={words.exception()}
          hint={words.exception_hint()}
          value={reason}
          onValue={setReason}
          maxLength={500}
        />
      )}
    </MovementForm>
  );
}
