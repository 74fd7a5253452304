import { newId } from "../../api/client";
import { Button } from "../../kit/button";
import { SelectField, TextField } from "../../kit/field";
import { FieldRow } from "../../kit/form";
import { gateSetUp as words } from "../../words/gate-set-up";
import { kit } from "../../words/kit";
import { respiratorWords } from "../../words/respirators";
import { FILTER_CLASSES, facepieceOptions } from "../respirators/respirator-form";
import { useRespirators } from "../stores/lists";
import { respiratorName } from "../stores/names";
import { emptyLine, type LineTyped } from "./policy-typed";

interface Props {
  lines: LineTyped[];
  onLines: (lines: LineTyped[]) => void;
  /** What is wrong with `accepts`, `accepts[1]` or `accepts[1].until`. */
  fault: (name: string) => string | undefined;
}

/** What a gate accepts, the preferred one first. */
export function AcceptLines({ lines, onLines, fault }: Props) {
  const change = (n: number, part: Partial<LineTyped>) =>
    onLines(lines.map((line, place) => (place === n ? { ...line, ...part } : line)));
  const earlier = (n: number) =>
    onLines(lines.map((line, place) => (place === n - 1 ? lines[n] : place === n ? lines[n - 1] : line)!));
  const add = (kind: LineTyped["kind"]) => onLines([...lines, emptyLine(newId(), kind)]);
  const missing = fault("accepts");
  return (
    <fieldset class="stack" data-invalid={Boolean(missing)}>
      <legend class="field-label">{words.accepts()}</legend>
      <p class="field-hint">{words.accepts_hint()}</p>
      {lines.map((line, n) => (
        <div class="gates-line" role="group" aria-label={words.line({ n: n + 1 })} key={line.key}>
          <p class="strong" aria-hidden="true">
            {words.line({ n: n + 1 })}
          </p>
          <What
            line={line}
            onChange={part => change(n, part)}
            fault={name => fault(`accepts[${n}]${name}`)}
          />
          <TextField
            label={words.until()}
            hint={words.until_hint()}
            type="datetime-local"
            value={line.until}
            onValue={until => change(n, { until })}
            problem={fault(`accepts[${n}].until`)}
          />
          <div class="row">
            {n > 0 && (
              <Button kind="quiet" label={words.up_of({ n: n + 1 })} onClick={() => earlier(n)}>
                {words.up()}
              </Button>
            )}
            <Button kind="quiet" onClick={() => onLines(lines.filter((_, place) => place !== n))}>
              {kit.remove()}
            </Button>
          </div>
        </div>
      ))}
      {missing && (
        <p class="field-problem" role="alert">
          {missing}
        </p>
      )}
      <div class="row">
        <Button onClick={() => add("respirator")}>{words.add_respirator()}</Button>
        <Button onClick={() => add("class")}>{words.add_class()}</Button>
      </div>
    </fieldset>
  );
}

interface WhatProps {
  line: LineTyped;
  onChange: (part: Partial<LineTyped>) => void;
  fault: (name: string) => string | undefined;
}

const ANY = "any";

function What({ line, onChange, fault }: WhatProps) {
  const respirators = useRespirators().data ?? [];
  if (line.kind === "respirator") {
    // One that is not used any more is offered only where it stands already.
    const offered = respirators.filter(one => !one.retired_at || one.id === line.respirator_id);
    return (
      <SelectField
        label={words.accept_respirator()}
        options={offered.map(one => ({ value: one.id, label: respiratorName(one) }))}
        value={line.respirator_id}
        onValue={respirator_id => onChange({ respirator_id })}
        problem={fault("") ?? fault(".respirator_id")}
      />
    );
  }
  return (
    <FieldRow>
      <SelectField
        label={respiratorWords.facepiece()}
        options={[{ value: ANY, label: words.any_facepiece() }, ...facepieceOptions()]}
        value={line.facepiece || ANY}
        onValue={value => onChange({ facepiece: value === ANY ? "" : value })}
        problem={fault("") ?? fault(".facepiece")}
      />
      <TextField
        label={respiratorWords.filter_class()}
        hint={words.any_class()}
        suggestions={FILTER_CLASSES}
        autocomplete="off"
        value={line.filter_class}
        onValue={filter_class => onChange({ filter_class })}
        problem={fault(".filter_class")}
      />
    </FieldRow>
  );
}
