import type { Form } from "../../app/use-form";
import { Group, SelectField } from "../../kit/field";
import { readings as words } from "../../words/readings";
import {
  columnWith,
  type Draft,
  type Exercise,
  type Meaning,
  meanings,
  NAMES_MAX,
  type Place,
  placed,
  unplaced,
} from "./draft";
import { meaningWord } from "./faults";
import type { Sheet } from "./sheet";

interface Props {
  form: Form<Draft>;
  sheet: Sheet;
  exercises: readonly Exercise[];
}

const NOTHING = "nothing";
/** As many of its cells as tell what a column is. */
const CELLS_SHOWN = 3;

/** Every column of the file, with its first cells, and what it holds. */
export function Columns({ form, sheet, exercises }: Props) {
  const draft = form.typed;
  const offered = meanings(draft, exercises).map(value => ({ value, label: meaningWord(value, exercises) }));
  const point = (place: number, chosen: Meaning | typeof NOTHING) => {
    const { [place]: before, ...others } = draft.meanings;
    // Another column of exercises has other names in it.
    const renamed = chosen === "exercise" || before === "exercise" || chosen === "test" || before === "test";
    form.set({
      meanings: chosen === NOTHING ? others : { ...others, [place]: chosen },
      ...(renamed ? { exercises: {} } : {}),
    });
  };
  return (
    <Group
      label={words.columns()}
      hint={words.columns_hint()}
      problem={form.fault("columns") ?? form.fault("measurements")}
    >
      {() => (
        <div class="fields">
          {Array.from({ length: sheet.columns }, (_, place) => (
            <SelectField
              key={place}
              label={sheet.headers[place] || words.column_n({ n: place + 1 })}
              hint={firstCells(sheet, place)}
              value={draft.meanings[place] ?? NOTHING}
              options={[{ value: NOTHING, label: words.nothing() }, ...offered]}
              onValue={chosen => point(place, chosen)}
              problem={form.fault(`columns[${place}]`)}
            />
          ))}
        </div>
      )}
    </Group>
  );
}

const firstCells = (sheet: Sheet, place: number): string =>
  sheet.rows
    .slice(0, CELLS_SHOWN)
    .map(row => row[place] || "–")
    .join(" · ");

/** Which exercise each name or line stands for; what is a number already stands for itself. */
export function Exercises({ form, sheet, exercises }: Props) {
  const draft = form.typed;
  const keys = unplaced(draft, sheet);
  if (keys.length === 0) return null;
  const named = columnWith(draft, "exercise") !== undefined;
  const places: { value: Place; label: string }[] = [
    ...exercises.map(({ number, name }) => ({ value: `${number}` as const, label: name })),
    { value: "out", label: words.left_out() },
  ];
  return (
    <Group
      label={words.exercises()}
      hint={named ? words.exercises_names() : words.exercises_lines()}
      problem={form.fault("exercises") ?? form.fault("names") ?? form.fault("exercise")}
    >
      {() => (
        <div class="fields">
          {keys.slice(0, NAMES_MAX).map(key => (
            <SelectField
              key={key}
              label={named ? key : words.line_n({ n: Number(key) })}
              value={placed(draft, key)}
              nothing={words.choose()}
              options={places}
              onValue={place => form.set({ exercises: { ...draft.exercises, [key]: place } })}
              problem={form.fault(`exercises[${key}]`)}
            />
          ))}
        </div>
      )}
    </Group>
  );
}
