import { TextField } from "../../kit/field";
import { FieldRow } from "../../kit/form";
import { Panel } from "../../kit/page";
import { figures as words } from "../../words/figures";
import { kit } from "../../words/kit";
import { type Days, daysFault } from "./days";

/** Which days are counted. */
export function DaysFields({ days, onDays }: { days: Days; onDays: (days: Days) => void }) {
  const fault = daysFault(days);
  const wrong = fault === "missing" ? kit.required() : fault && words[fault]();
  return (
    <Panel>
      <FieldRow>
        <TextField
          label={words.from()}
          type="date"
          value={days.from}
          problem={days.from ? undefined : wrong}
          onValue={from => onDays({ ...days, from })}
        />
        <TextField
          label={words.until()}
          type="date"
          value={days.to}
          problem={days.from ? wrong : undefined}
          onValue={to => onDays({ ...days, to })}
        />
      </FieldRow>
    </Panel>
  );
}
