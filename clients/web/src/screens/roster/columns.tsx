import { SelectField } from "../../kit/field";
import { roster as words } from "../../words/roster";
import { type Field, FIELDS, type Told } from "./file";

interface Props {
  headers: readonly string[];
  /** What a person said. */
  told: Told;
  /** What the server took, once it could read the file. */
  taken: Told | undefined;
  /** The fact whose column the server asks for. */
  missing: string | undefined;
  sentence: string | undefined;
  onTold: (told: Told) => void;
}

const FOUND = "found";
const NEEDED: readonly Field[] = ["staff_number", "given_name", "family_name"];

/** Which column holds what: as the server found it, unless somebody says otherwise. */
export function Columns({ headers, told, taken, missing, sentence, onTold }: Props) {
  const asFound = (field: Field) => {
    const name = taken?.[field];
    if (told[field]) return words.col_let_find();
    if (name) return words.col_as_found({ name });
    return NEEDED.includes(field) ? words.col_not_found() : words.col_none();
  };
  // A header may be any text, so that only its place is a safe value.
  const value = (field: Field) => {
    const place = headers.indexOf(told[field] ?? "");
    return told[field] === undefined || place < 0 ? FOUND : String(place);
  };
  const choose = (field: Field, chosen: string) => {
    const { [field]: _, ...others } = told;
    const header = headers[Number(chosen)];
    onTold(chosen === FOUND || header === undefined ? others : { ...others, [field]: header });
  };
  return (
    <fieldset class="stack">
      <legend class="field-label">{words.columns()}</legend>
      <p class="field-hint">{words.columns_hint()}</p>
      <div class="fields">
        {FIELDS.map(field => (
          <SelectField
            key={field}
            label={words[`col_${field}`]()}
            value={value(field)}
            options={[
              { value: FOUND, label: asFound(field) },
              ...headers.map((label, place) => ({ value: String(place), label })),
            ]}
            onValue={chosen => choose(field, chosen)}
            problem={missing === field ? sentence : undefined}
          />
        ))}
      </div>
    </fieldset>
  );
}
