import { api, need, type Wire } from "../../api/client";
import { missing, useForm } from "../../app/use-form";
import { CheckField, TextField } from "../../kit/field";
import { FormBody } from "../../kit/form";
import { stores as words } from "../../words/stores";

interface Props {
  row: Wire<"PlaceView">;
  onStored: () => void;
  onCancel: () => void;
  onStale: () => void;
}

/** What a storeroom is called, and whether every station fills there. A station is changed on its day. */
export function EditStoreroom({ row, onStored, onCancel, onStale }: Props) {
  const { name, filling_point } = row;
  const form = useForm(
    { name, filling_point },
    {
      check: typed => missing(typed, "name"),
      save: async body => {
        const params = { path: { place_id: row.id }, header: { "If-Match": `"${row.version}"` } };
        await need(api.PATCH("/api/v1/places/{place_id}", { params, body }));
        onStored();
      },
    },
  );
  return (
    <FormBody form={form} onCancel={onCancel} onStale={onStale}>
      <TextField label={words.place_name()} autocomplete="off" maxLength={100} {...form.field("name")} />
      <CheckField
        label={words.filling_point_check()}
        checked={form.typed.filling_point}
        onValue={checked => form.set({ filling_point: checked })}
      />
    </FormBody>
  );
}
