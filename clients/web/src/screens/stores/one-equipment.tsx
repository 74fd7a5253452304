import "./stores.css";
import { useRoute } from "preact-iso";
import { useState } from "preact/hooks";
import { api, need, nowText, type Wire } from "../../api/client";
import { may } from "../../app/session";
import { Answer } from "../../kit/answer";
import { Choice, TextField } from "../../kit/field";
import { Notice } from "../../kit/notice";
import { Page, Panel } from "../../kit/page";
import { Loaded } from "../../kit/states";
import { shell } from "../../words/shell";
import { equipmentWords } from "../../words/equipment";
import { stores as words } from "../../words/stores";
import { PrintLabels } from "./add-bottles";
import { StopThing } from "../stops/stop-thing";
import { Findings, Review } from "./findings";
import { MoveForm } from "./move-form";
import { MovementForm } from "./movement-form";
import { useEquipment } from "./lists";
import { type Equipment, EQUIPMENT_TONES, equipmentState } from "./names";
import { Weigh } from "./weigh";

/** What can be found on each; a mix-up names the nebulizer whose liquid it was. */
const FINDINGS: Record<Equipment["kind"], readonly Wire<"Finding">[]> = {
  nebulizer: ["sprays", "clogged", "mixed_up", "rinsed", "retired"],
  hood: ["wiped", "torn", "retired"],
};

/** One nebulizer or hood: can it be used, where is it, and what was found on it. */
export default function OneEquipment() {
  const { id = "" } = useRoute().params;
  const equipment = useEquipment();
  return (
    <Loaded resource={equipment}>
      {rows => {
        const one = rows.find(row => row.id === id);
        if (!one) return <Page title={shell.not_found()} narrow />;
        return (
          <Page
            title={`${words[`kind_${one.kind}`]()} ${one.label}`}
            intro={one.place?.name ?? words.nobody_said()}
            actions={
              <StopThing thing="equipment" id={one.id} name={`${words[`kind_${one.kind}`]()} ${one.label}`} />
            }
          >
            <Answer tone={EQUIPMENT_TONES[one.state]} word={equipmentState(one)} />
            {may("create_equipment_check") && <Check one={one} others={rows} onDone={equipment.reload} />}
            {may("create_equipment_placement") && <Move one={one} onDone={equipment.reload} />}
            <Review one={one} />
            <Findings one={one} others={rows} />
            {one.kind === "nebulizer" && <Weigh equipmentId={one.id} />}
            {may("create_label_sheet") && <PrintLabels equipmentIds={[one.id]} />}
            <Notice tone="plain">
              <p>{equipmentWords.caution()}</p>
            </Notice>
          </Page>
        );
      }}
    </Loaded>
  );
}

interface Props {
  one: Equipment;
  onDone: () => void;
}

function Check({ one, others, onDone }: Props & { others: readonly Equipment[] }) {
  const [finding, setFinding] = useState<Wire<"Finding"> | null>(null);
  const [note, setNote] = useState("");
  const [other, setOther] = useState<string | null>(null);
  const nebulizers = others.filter(row => row.kind === "nebulizer" && row.id !== one.id);
  return (
    <Panel>
      <MovementForm
        action={equipmentWords.record()}
        ready={finding !== null}
        onSave={id =>
          need(
            api.POST("/api/v1/equipment/{equipment_id}/checks", {
              params: { path: { equipment_id: one.id } },
              body: {
                id,
                finding: finding ?? "sprays",
                happened_at: nowText(),
                ...(note.trim() ? { note: note.trim() } : {}),
                ...(finding === "mixed_up" && other ? { other_equipment_id: other } : {}),
              },
            }),
          )
        }
        onSaved={() => {
          setFinding(null);
          setNote("");
          onDone();
        }}
      >
        <div class="stores-whole">
          <Choice
            label={equipmentWords.finding()}
            value={finding}
            options={FINDINGS[one.kind].map(value => ({ value, label: equipmentWords[`find_${value}`]() }))}
            onValue={setFinding}
          />
        </div>
        {finding === "mixed_up" && (
          <div class="stores-whole">
            <Choice
              label={words.nebulizer()}
              value={other}
              options={nebulizers.map(row => ({ value: row.id, label: row.label }))}
              onValue={setOther}
            />
          </div>
        )}
        <TextField label={equipmentWords.note()} value={note} onValue={setNote} maxLength={500} />
      </MovementForm>
    </Panel>
  );
}

function Move({ one, onDone }: Props) {
  const params = { path: { equipment_id: one.id } };
  return (
    <Panel title={words.move()}>
      <MoveForm
        from={one.place?.id}
        onMove={body => need(api.POST("/api/v1/equipment/{equipment_id}/placements", { params, body }))}
        onMoved={onDone}
      />
    </Panel>
  );
}
