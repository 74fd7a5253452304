import { useState } from "preact/hooks";
import { api, need, newId, nowText } from "../../api/client";
import { useForm } from "../../app/use-form";
import { Choice, TextField } from "../../kit/field";
import { FieldRow, FormBody } from "../../kit/form";
import { play } from "../../kit/sound";
import { readings as words } from "../../words/readings";
import { Columns, Exercises } from "./columns";
import { BASES, type Draft, type Exercise } from "./draft";
import { faultsOf } from "./faults";
import { mappingOf, type Stored } from "./mapping";
import { DELIMITERS, likelyDelimiter, sheetOf } from "./sheet";

interface Props {
  /** What stands in the file that is pointed at. */
  text: string;
  exercises: readonly Exercise[];
  onStored: (mapping: Stored) => void;
  onCancel: () => void;
}

const ROWS = ["row_per_exercise", "row_per_test"] as const;
const MARKS = ["point", "comma"] as const;

const begun = (text: string): Draft => ({
  name: "",
  delimiter: likelyDelimiter(text),
  decimal_mark: null,
  header_line: "1",
  rows: null,
  basis: null,
  meanings: {},
  exercises: {},
});

const sheetFor = (text: string, draft: Draft) =>
  sheetOf(text, draft.delimiter, Number(draft.header_line) || 0);

/** A mapping made by pointing at the columns of a file. The file stays on this device. */
export function NewMapping({ text, exercises, onStored, onCancel }: Props) {
  const [id] = useState(newId);
  const form = useForm<Draft>(() => begun(text), {
    check: draft => faultsOf(draft, sheetFor(text, draft), exercises),
    save: async draft => {
      const mapping = mappingOf(draft, sheetFor(text, draft));
      const body = { id, name: draft.name.trim(), mapping, happened_at: nowText() };
      onStored(await need(api.POST("/api/v1/reading_mappings", { body })));
      play("done");
    },
  });
  const { typed } = form;
  const sheet = sheetFor(text, typed);
  // What the columns were said to hold says nothing about other columns.
  const anew = (part: Partial<Draft>) => form.set({ ...part, meanings: {}, exercises: {} });
  return (
    <FormBody form={form} submit={words.keep()} onCancel={onCancel}>
      <TextField label={words.name()} hint={words.name_hint()} autocomplete="off" {...form.field("name")} />
      <Choice
        label={words.delimiter()}
        options={DELIMITERS.map(value => ({ value, label: words[`delimiter_${value}`]() }))}
        {...form.field("delimiter")}
        onValue={delimiter => anew({ delimiter })}
      />
      <FieldRow>
        <Choice
          label={words.decimal()}
          options={MARKS.map(value => ({ value, label: words[`decimal_${value}`]() }))}
          {...form.field("decimal_mark")}
        />
        <TextField
          label={words.header_line()}
          hint={words.header_line_hint()}
          inputMode="numeric"
          {...form.field("header_line")}
          onValue={header_line => anew({ header_line })}
        />
      </FieldRow>
      <Choice
        label={words.rows()}
        options={ROWS.map(value => ({ value, label: words[`rows_${value}`]() }))}
        {...form.field("rows")}
        onValue={rows => anew({ rows })}
      />
      <Choice
        label={words.basis()}
        options={BASES.map(value => ({ value, label: words[`basis_${value}`]() }))}
        {...form.field("basis")}
        onValue={basis => anew({ basis })}
      />
      {typed.rows && typed.basis && (
        <>
          <Columns form={form} sheet={sheet} exercises={exercises} />
          <Exercises form={form} sheet={sheet} exercises={exercises} />
        </>
      )}
    </FormBody>
  );
}
