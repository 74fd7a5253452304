import { useState } from "preact/hooks";
import { api, need, newId, type Wire } from "../../api/client";
import { missing, useForm } from "../../app/use-form";
import { TextField } from "../../kit/field";
import { FormBody } from "../../kit/form";
import { gateSetUp as words } from "../../words/gate-set-up";

interface Means {
  onStored: () => void;
  onCancel: () => void;
}

export function NewGate({ onStored, onCancel }: Means) {
  const [id] = useState(newId);
  const form = useForm(
    { name: "" },
    {
      check: typed => missing(typed, "name"),
      save: async ({ name }) => {
        await need(api.POST("/api/v1/gates", { body: { id, name } }));
        onStored();
      },
    },
  );
  return (
    <FormBody form={form} submit={words.add()} onCancel={onCancel}>
      <TextField label={words.name()} hint={words.name_hint()} autocomplete="off" {...form.field("name")} />
    </FormBody>
  );
}

/** What a gate is called; what it accepts is decided by its policies. */
export function EditGate({
  row,
  onStored,
  onCancel,
  onStale,
}: Means & { row: Wire<"GateView">; onStale: () => void }) {
  const form = useForm(
    { name: row.name },
    {
      check: typed => missing(typed, "name"),
      save: async body => {
        const params = { path: { gate_id: row.id }, header: { "If-Match": `"${row.version}"` } };
        await need(api.PATCH("/api/v1/gates/{gate_id}", { params, body }));
        onStored();
      },
    },
  );
  return (
    <FormBody form={form} onCancel={onCancel} onStale={onStale}>
      <TextField label={words.name()} hint={words.name_hint()} autocomplete="off" {...form.field("name")} />
    </FormBody>
  );
}
