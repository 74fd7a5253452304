import { useState } from "preact/hooks";
import { api, need, newId, nowText } from "../../api/client";
import { may } from "../../app/session";
import { useAction } from "../../app/use-action";
import { Button } from "../../kit/button";
import { CheckField, TextField } from "../../kit/field";
import { ProblemNotice } from "../../kit/notice";
import { Panel } from "../../kit/page";
import { Tabs } from "../../kit/tabs";
import { stores as words } from "../../words/stores";
import { MoveForm } from "./move-form";
import { MovementForm, PlaceField } from "./movement-form";
import { microlitres } from "./microlitres";
import type { Bottle } from "./names";

type Part = "move" | "count" | "fill" | "spill" | "discard";

interface Props {
  bottle: Bottle;
  onDone: () => void;
}

/** What can be done with a bottle: one thing at a time, each its own entry. */
export function BottleActions({ bottle, onDone }: Props) {
  const [part, setPart] = useState<Part>("move");
  if (!may("create_bottle_movement")) return null;
  const tabs: Part[] = ["move", "count", "fill", "spill", "discard"];
  return (
    <Panel actions={!bottle.opened_at && <Open bottle={bottle} onDone={onDone} />}>
      <Tabs
        label={words.to_do()}
        value={part}
        tabs={tabs.map(value => ({ value, label: words[value]() }))}
        onValue={setPart}
      >
        {part === "move" && (
          <MoveForm
            from={bottle.place?.id}
            inTurn
            onMove={body =>
              need(
                api.POST("/api/v1/bottles/{bottle_id}/placements", {
                  params: { path: { bottle_id: bottle.id } },
                  body,
                }),
              )
            }
            onMoved={onDone}
          />
        )}
        {part === "fill" && <Fill bottle={bottle} onDone={onDone} />}
        {(part === "count" || part === "spill" || part === "discard") && (
          <Amount key={part} movement={part} bottle={bottle} onDone={onDone} />
        )}
      </Tabs>
    </Panel>
  );
}

function Open({ bottle, onDone }: Props) {
  const [id] = useState(newId);
  const open = useAction(async () => {
    const params = { path: { bottle_id: bottle.id } };
    await need(
      api.POST("/api/v1/bottles/{bottle_id}/openings", { params, body: { id, happened_at: nowText() } }),
    );
    onDone();
  });
  return (
    <div class="stack">
      <Button busy={open.busy} onClick={() => void open.run()}>
        {words.open()}
      </Button>
      <ProblemNotice problem={open.problem} />
    </div>
  );
}

/** What was found, spilled or thrown away; never without a reason, so that nobody adjusts to fit. */
function Amount({ bottle, movement, onDone }: Props & { movement: "count" | "spill" | "discard" }) {
  const [amount, setAmount] = useState("");
  const [reason, setReason] = useState("");
  const [guessed, setGuessed] = useState(movement === "spill");
  const volume_ul = microlitres(amount);
  return (
    <MovementForm
      action={words[movement]()}
      ready={volume_ul !== undefined && reason.trim() !== ""}
      onSave={id =>
        need(
          api.POST("/api/v1/bottles/{bottle_id}/movements", {
            params: { path: { bottle_id: bottle.id } },
            body: {
              id,
              movement,
              volume_ul: volume_ul ?? 0,
              guessed,
              reason: reason.trim(),
              happened_at: nowText(),
              ...(bottle.place ? { place_id: bottle.place.id } : {}),
            },
          }),
        )
      }
      onSaved={() => {
        setAmount("");
        setReason("");
        onDone();
      }}
    >
      <TextField
        label={movement === "count" ? words.found_ml() : words.amount_ml()}
        inputMode="decimal"
        value={amount}
        onValue={setAmount}
      />
      <TextField label={words.reason()} value={reason} onValue={setReason} maxLength={500} />
      <CheckField label={words.guessed()} checked={guessed} onValue={setGuessed} />
    </MovementForm>
  );
}

function Fill({ bottle, onDone }: Props) {
  const [station, setStation] = useState("");
  const [nebulizer, setNebulizer] = useState("");
  const [amount, setAmount] = useState("1");
  const [rinsed, setRinsed] = useState(false);
  const volume_ul = microlitres(amount);
  return (
    <MovementForm
      action={words.fill()}
      ready={station !== "" && nebulizer.trim() !== "" && Boolean(volume_ul)}
      onSave={id =>
        need(
          api.POST("/api/v1/fills", {
            body: {
              id,
              bottle_id: bottle.id,
              station_id: station,
              nebulizer: nebulizer.trim(),
              volume_ul: volume_ul ?? 0,
              rinsed,
              happened_at: nowText(),
            },
          }),
        )
      }
      onSaved={() => {
        setNebulizer("");
        setRinsed(false);
        onDone();
      }}
    >
      <PlaceField label={words.station()} value={station} onValue={setStation} stationsOnly />
      <TextField label={words.nebulizer()} autocomplete="off" value={nebulizer} onValue={setNebulizer} />
      <TextField label={words.amount_ml()} inputMode="decimal" value={amount} onValue={setAmount} />
      <CheckField label={words.rinsed()} checked={rinsed} onValue={setRinsed} />
    </MovementForm>
  );
}
