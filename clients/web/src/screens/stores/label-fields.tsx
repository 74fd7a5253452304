import { TextField } from "../../kit/field";
import { kit } from "../../words/kit";
import { stores as words } from "../../words/stores";
import type { LabelTyped } from "./label-typed";

interface Props {
  value: LabelTyped;
  onValue: (value: LabelTyped) => void;
  solution: boolean;
  /** The field that the server named. */
  field: string | undefined;
}

/** The label of a delivery: scanned into the first field, or typed twice below it. */
export function LabelFields({ value, onValue, solution, field }: Props) {
  const set = (name: keyof LabelTyped) => (text: string) => onValue({ ...value, [name]: text });
  const mark = (name: string) => (field === name ? words.look_again() : undefined);
  const scanned = value.label.trim() !== "";
  // A label without an expiry in it is found out by the server.
  const typesExpiry = !scanned || field?.startsWith("printed_expiry") || value.expiry !== "";
  return (
    <>
      <TextField
        label={words.supplier_label()}
        hint={words.supplier_label_hint()}
        problem={mark("label")}
        autocomplete="off"
        value={value.label}
        onValue={set("label")}
        onKeyDown={event => {
          // A scanner ends with Enter; the form is sent by hand, after what is left is filled in.
          if (event.key === "Enter") event.preventDefault();
        }}
      />
      {!scanned && (
        <div class="stores-form">
          <TextField
            label={words.type_lot()}
            problem={mark("lot_number")}
            autocomplete="off"
            value={value.lot}
            onValue={set("lot")}
          />
          <TextField
            label={words.type_lot_again()}
            hint={words.type_again_hint()}
            problem={mark("lot_number_again")}
            autocomplete="off"
            value={value.lotAgain}
            onValue={set("lotAgain")}
          />
        </div>
      )}
      {typesExpiry && (
        <div class="stores-form">
          <TextField
            label={words.type_expiry()}
            hint={words.type_expiry_hint()}
            problem={mark("printed_expiry")}
            autocomplete="off"
            value={value.expiry}
            onValue={set("expiry")}
          />
          <TextField
            label={words.type_expiry_again()}
            hint={words.type_again_hint()}
            problem={mark("printed_expiry_again")}
            autocomplete="off"
            value={value.expiryAgain}
            onValue={set("expiryAgain")}
          />
        </div>
      )}
      <div class="stores-form">
        <TextField
          label={words.maker()}
          hint={words.maker_hint()}
          problem={field === "maker" ? kit.required() : undefined}
          value={value.maker}
          onValue={set("maker")}
        />
        <TextField label={words.box_lot()} autocomplete="off" value={value.boxLot} onValue={set("boxLot")} />
        {solution && (
          <TextField
            label={words.opened_life()}
            hint={words.opened_life_hint()}
            problem={mark("opened_life_days")}
            type="number"
            inputMode="numeric"
            min="1"
            value={value.openedLife}
            onValue={set("openedLife")}
          />
        )}
      </div>
    </>
  );
}
