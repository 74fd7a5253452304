import type { Wire } from "../../api/client";
import { SelectField } from "../../kit/field";
import { badges as words } from "../../words/badges";

type Cause = Wire<"MisprintCause">;

const CAUSES = ["smeared", "cut_wrong", "wrong_stock", "misaligned", "other"] as const satisfies Cause[];

interface Props {
  value: Cause | "";
  onValue: (cause: Cause) => void;
  problem?: string | undefined;
}

/** How a badge was spoiled in printing. */
export function MisprintField(props: Props) {
  return (
    <SelectField
      label={words.misprint()}
      options={CAUSES.map(value => ({ value, label: words[`misprint_${value}`]() }))}
      {...props}
    />
  );
}
