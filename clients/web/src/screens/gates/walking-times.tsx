import { useState } from "preact/hooks";
import { api, need, newId, nowText, type Wire } from "../../api/client";
import { may } from "../../app/session";
import { missing, useForm } from "../../app/use-form";
import { Button } from "../../kit/button";
import { Dialog } from "../../kit/dialog";
import { SelectField, TextField } from "../../kit/field";
import { FieldRow, FormBody } from "../../kit/form";
import { Panel } from "../../kit/page";
import { Empty, Loaded } from "../../kit/states";
import { Table } from "../../kit/table";
import { gateSetUp as words } from "../../words/gate-set-up";
import { kit } from "../../words/kit";
import { useWalkingTimes } from "./lists";

type Gate = Wire<"GateView">;
type Pair = Pick<Wire<"WalkingTimeView">, "gate_id" | "other_gate_id" | "seconds">;

/** How soon somebody can be at another gate: what makes two readings of one badge a pair to look at. */
export function WalkingTimes({ gates }: { gates: Gate[] }) {
  const times = useWalkingTimes();
  const [open, setOpen] = useState<Pair | "new" | null>(null);
  const name = (id: string) => gates.find(one => one.id === id)?.name ?? "–";
  const both = (one: Pair) => `${name(one.gate_id)} – ${name(one.other_gate_id)}`;
  const close = () => setOpen(null);
  return (
    <Panel
      title={words.walking()}
      actions={
        may("create_walking_time") && <Button onClick={() => setOpen("new")}>{words.walking_add()}</Button>
      }
    >
      <p class="soft">{words.walking_intro()}</p>
      <Loaded resource={times}>
        {rows =>
          rows.length === 0 ? (
            <Empty title={words.walking_none()} />
          ) : (
            <Table
              caption={words.walking()}
              rows={rows}
              keyOf={one => one.id}
              columns={[
                { title: words.between(), cell: both },
                {
                  title: words.seconds(),
                  cell: one => (one.seconds === 0 ? words.not_told() : words.takes({ n: one.seconds })),
                },
                ...(may("create_walking_time")
                  ? [
                      {
                        title: kit.change(),
                        action: true,
                        cell: (one: Pair) => (
                          <Button
                            kind="quiet"
                            label={kit.change_of({ name: both(one) })}
                            onClick={() => setOpen(one)}
                          >
                            {kit.change()}
                          </Button>
                        ),
                      },
                    ]
                  : []),
              ]}
            />
          )
        }
      </Loaded>
      {open && (
        <Dialog title={words.walking_add()} onClose={close}>
          <TimeForm
            gates={gates}
            pair={open === "new" ? null : open}
            onCancel={close}
            onStored={() => {
              close();
              times.reload();
            }}
          />
        </Dialog>
      )}
    </Panel>
  );
}

interface FormProps {
  gates: Gate[];
  /** The pair that is measured anew; null for one to be chosen. */
  pair: Pair | null;
  onStored: () => void;
  onCancel: () => void;
}

/** A time is appended, and the newest counts: what was stored before is no longer asked for. */
function TimeForm({ gates, pair, onStored, onCancel }: FormProps) {
  const [id] = useState(newId);
  const start = { gate_id: pair?.gate_id ?? "", other_gate_id: pair?.other_gate_id ?? "" };
  const form = useForm(
    { ...start, seconds: pair ? String(pair.seconds) : "" },
    {
      check: typed => ({
        ...missing(typed, "gate_id", "other_gate_id"),
        ...(typed.gate_id !== "" && typed.gate_id === typed.other_gate_id
          ? { other_gate_id: words.two_gates() }
          : {}),
        seconds: !/^\d{1,5}$/.test(typed.seconds.trim()) && words.seconds_wrong(),
      }),
      refusals: { other_gate_id: words.two_gates, seconds: words.seconds_wrong },
      save: async ({ seconds, ...between }) => {
        const body = { id, ...between, seconds: Number(seconds), happened_at: nowText() };
        await need(api.POST("/api/v1/walking_times", { body }));
        onStored();
      },
    },
  );
  const options = gates.map(one => ({ value: one.id, label: one.name }));
  return (
    <FormBody form={form} onCancel={onCancel}>
      <FieldRow>
        <SelectField label={words.between()} options={options} {...form.field("gate_id")} />
        <SelectField label={words.and()} options={options} {...form.field("other_gate_id")} />
      </FieldRow>
      <TextField
        label={words.seconds()}
        hint={words.seconds_hint()}
        inputMode="numeric"
        {...form.field("seconds")}
      />
    </FormBody>
  );
}
