import "./stores.css";
import { useState } from "preact/hooks";
import { api, need, nowText } from "../../api/client";
import { may } from "../../app/session";
import { Choice, TextField } from "../../kit/field";
import { holds } from "../../kit/filter";
import { Notice } from "../../kit/notice";
import { Page, Panel } from "../../kit/page";
import { Empty, Loaded } from "../../kit/states";
import { equipmentWords } from "../../words/equipment";
import { stores as words } from "../../words/stores";
import { MovementForm, PlaceField } from "./movement-form";
import { EquipmentTable } from "./equipment-table";
import { useEquipment } from "./lists";
import type { Equipment } from "./names";

/** Which nebulizers and hoods can be used? */
export default function EquipmentScreen() {
  const equipment = useEquipment();
  const [filter, setFilter] = useState("");
  const fits = (one: Equipment) =>
    holds(
      filter,
      words[`kind_${one.kind}`](),
      one.label,
      one.place?.name,
      equipmentWords[`eq_${one.state}`](),
    );
  return (
    <Page title={equipmentWords.title()}>
      <Panel>
        <Loaded resource={equipment}>
          {rows =>
            rows.length === 0 ? (
              <Empty title={equipmentWords.none()} />
            ) : (
              <>
                <TextField label={equipmentWords.filter()} type="search" value={filter} onValue={setFilter} />
                <EquipmentTable caption={equipmentWords.title()} rows={rows.filter(fits)} placed />
              </>
            )
          }
        </Loaded>
      </Panel>
      {may("create_equipment") && <Register onDone={equipment.reload} />}
      <Notice tone="plain">
        <p>{equipmentWords.caution()}</p>
      </Notice>
    </Page>
  );
}

function Register({ onDone }: { onDone: () => void }) {
  const [kind, setKind] = useState<"nebulizer" | "hood" | null>(null);
  const [label, setLabel] = useState("");
  const [contact, setContact] = useState("");
  const [place, setPlace] = useState("");
  const seconds = Number(contact);
  const wiped = kind !== "hood" || (contact.trim() !== "" && Number.isInteger(seconds) && seconds >= 0);
  return (
    <Panel title={equipmentWords.register()}>
      <MovementForm
        action={equipmentWords.register()}
        ready={kind !== null && label.trim() !== "" && place !== "" && wiped}
        onSave={id =>
          need(
            api.POST("/api/v1/equipment", {
              body: {
                id,
                kind: kind ?? "nebulizer",
                label: label.trim(),
                place_id: place,
                happened_at: nowText(),
                ...(kind === "hood" ? { contact_seconds: seconds } : {}),
              },
            }),
          )
        }
        onSaved={() => {
          setLabel("");
          onDone();
        }}
      >
        <div class="stores-whole">
          <Choice
            label={words.kind()}
            value={kind}
            options={(["nebulizer", "hood"] as const).map(value => ({
              value,
              label: words[`kind_${value}`](),
            }))}
            onValue={setKind}
          />
        </div>
        <TextField label={words.label()} autocomplete="off" value={label} onValue={setLabel} />
        <PlaceField label={words.place()} value={place} onValue={setPlace} />
        {kind === "hood" && (
          <TextField
            label={equipmentWords.contact()}
            type="number"
            inputMode="numeric"
            min="0"
            value={contact}
            onValue={setContact}
          />
        )}
      </MovementForm>
    </Panel>
  );
}
