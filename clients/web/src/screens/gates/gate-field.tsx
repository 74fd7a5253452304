import { SelectField } from "../../kit/field";
import { Loaded } from "../../kit/states";
import { useGates } from "./lists";

interface Props {
  label: string;
  /** The gate's id; empty while none is chosen. */
  value: string;
  onValue: (gateId: string) => void;
}

/** Which gate something is asked about. */
export function GateField({ label, value, onValue }: Props) {
  const gates = useGates();
  return (
    <Loaded resource={gates}>
      {list => (
        <SelectField
          label={label}
          value={value}
          nothing=""
          options={list.map(one => ({ value: one.id, label: one.name }))}
          onValue={onValue}
        />
      )}
    </Loaded>
  );
}
