import type { ComponentChildren } from "preact";
import { useId } from "preact/hooks";
import { Shape } from "./shape";

interface Common {
  label: string;
  hint?: string;
  /** What is wrong with the value, in a sentence. */
  problem?: string | undefined;
}

interface Wiring {
  id: string;
  "aria-describedby": string | undefined;
  "aria-invalid": boolean;
}

/** A label, what explains it, what is wrong, and the control that the caller makes from the wiring. */
function Field({
  label,
  hint,
  problem,
  children,
}: Common & { children: (wiring: Wiring) => ComponentChildren }) {
  const id = useId();
  const described = [hint && `${id}-hint`, problem && `${id}-problem`].filter(Boolean).join(" ");
  return (
    <div class="field">
      <label class="field-label" for={id}>
        {label}
      </label>
      {hint && (
        <p class="field-hint" id={`${id}-hint`}>
          {hint}
        </p>
      )}
      {children({ id, "aria-describedby": described || undefined, "aria-invalid": Boolean(problem) })}
      {problem && (
        <p class="field-problem" id={`${id}-problem`}>
          <Shape tone="stop" size={18} />
          {problem}
        </p>
      )}
    </div>
  );
}

interface TextProps extends Common {
  value: string;
  onValue: (value: string) => void;
  type?: "text" | "search" | "password" | "date" | "time" | "datetime-local" | "number";
  required?: boolean;
  autocomplete?: string;
  inputMode?: "text" | "numeric" | "decimal" | "search";
  large?: boolean;
  maxLength?: number;
  min?: string;
  max?: string;
  /** Offered while something is typed; anything else may be typed too. */
  suggestions?: readonly string[];
  /** Of times, in seconds: 1 asks for seconds as well. */
  step?: number;
  inputRef?: (element: HTMLInputElement | null) => void;
  onKeyDown?: (event: KeyboardEvent) => void;
}

export function TextField(props: TextProps) {
  const {
    label,
    hint,
    problem,
    value,
    onValue,
    large,
    suggestions,
    inputRef,
    type = "text",
    ...rest
  } = props;
  return (
    <Field label={label} hint={hint} problem={problem}>
      {wiring => (
        <>
          <input
            {...wiring}
            {...rest}
            list={suggestions && `${wiring.id}-list`}
            ref={inputRef}
            class={large ? "input input-large" : "input"}
            type={type as "text"}
            value={value}
            spellcheck={false}
            onInput={event => onValue(event.currentTarget.value)}
          />
          {suggestions && (
            <datalist id={`${wiring.id}-list`}>
              {suggestions.map(one => (
                <option key={one} value={one} />
              ))}
            </datalist>
          )}
        </>
      )}
    </Field>
  );
}

export function TextArea(
  props: Common & {
    value: string;
    onValue: (value: string) => void;
    maxLength?: number;
    rows?: number;
    readOnly?: boolean;
    areaRef?: (element: HTMLTextAreaElement | null) => void;
  },
) {
  const { value, onValue, maxLength, rows, readOnly, areaRef, ...common } = props;
  return (
    <Field {...common}>
      {wiring => (
        <textarea
          {...wiring}
          ref={areaRef}
          class="input"
          maxLength={maxLength}
          rows={rows}
          readOnly={readOnly}
          spellcheck={false}
          value={value}
          onInput={event => onValue(event.currentTarget.value)}
        />
      )}
    </Field>
  );
}

export interface Option<Value extends string> {
  value: Value;
  label: string;
}

interface SelectProps<Value extends string> extends Common {
  value: Value | "";
  options: readonly Option<Value>[];
  onValue: (value: Value) => void;
  /** What stands there while nothing is chosen: no screen chooses for the person. */
  nothing?: string;
}

export function SelectField<Value extends string>(props: SelectProps<Value>) {
  const { value, options, onValue, nothing, ...common } = props;
  return (
    <Field {...common}>
      {wiring => (
        <select
          {...wiring}
          class="input"
          value={value}
          onChange={event => onValue(event.currentTarget.value as Value)}
        >
          {(nothing !== undefined || value === "") && (
            <option value="" disabled>
              {nothing ?? ""}
            </option>
          )}
          {options.map(option => (
            <option key={option.value} value={option.value}>
              {option.label}
            </option>
          ))}
        </select>
      )}
    </Field>
  );
}

interface ChoiceProps<Value extends string> extends Common {
  value: Value | null;
  options: readonly Option<Value>[];
  onValue: (value: Value) => void;
}

/** A question with several controls under it: its legend, what explains it, what is wrong. */
export function Group({
  label,
  hint,
  problem,
  children,
}: Common & { children: (id: string) => ComponentChildren }) {
  const id = useId();
  const described = [hint && `${id}-hint`, problem && `${id}-problem`].filter(Boolean).join(" ");
  return (
    <fieldset class="field" aria-describedby={described || undefined} data-invalid={Boolean(problem)}>
      <legend class="field-label">{label}</legend>
      {hint && (
        <p class="field-hint" id={`${id}-hint`}>
          {hint}
        </p>
      )}
      {children(id)}
      {problem && (
        <p class="field-problem" id={`${id}-problem`}>
          <Shape tone="stop" size={18} />
          {problem}
        </p>
      )}
    </fieldset>
  );
}

/** A few answers side by side, none of them chosen beforehand. */
export function Choice<Value extends string>({ value, options, onValue, ...common }: ChoiceProps<Value>) {
  return (
    <Group {...common}>
      {id => (
        <div class="choice">
          {options.map(option => (
            <label class="choice-option" key={option.value}>
              <input
                type="radio"
                name={id}
                value={option.value}
                checked={option.value === value}
                onChange={() => onValue(option.value)}
              />
              <span>{option.label}</span>
            </label>
          ))}
        </div>
      )}
    </Group>
  );
}

interface ChecksProps<Value extends string> extends Common {
  value: readonly Value[];
  options: readonly Option<Value>[];
  onValue: (value: Value[]) => void;
}

/** Any number of a few things; they stay in the order in which they are offered. */
export function Checks<Value extends string>({ value, options, onValue, ...common }: ChecksProps<Value>) {
  const chosen = (changed: Value, on: boolean) =>
    options.map(one => one.value).filter(one => (one === changed ? on : value.includes(one)));
  return (
    <Group {...common}>
      {() => (
        <div class="checks">
          {options.map(option => (
            <CheckField
              key={option.value}
              label={option.label}
              checked={value.includes(option.value)}
              onValue={on => onValue(chosen(option.value, on))}
            />
          ))}
        </div>
      )}
    </Group>
  );
}

export function CheckField(props: { label: string; checked: boolean; onValue: (checked: boolean) => void }) {
  return (
    <label class="check">
      <input
        type="checkbox"
        checked={props.checked}
        onChange={event => props.onValue(event.currentTarget.checked)}
      />
      <span>{props.label}</span>
    </label>
  );
}

/** A file from this device. Nothing leaves it before somebody sends it. */
export function FileField(props: Common & { accept: string; onFile: (file: File) => void }) {
  const { accept, onFile, ...common } = props;
  return (
    <Field {...common}>
      {wiring => (
        <input
          {...wiring}
          class="input"
          type="file"
          accept={accept}
          onChange={event => {
            const file = event.currentTarget.files?.[0];
            // Chosen again after a change, the same file is read again.
            event.currentTarget.value = "";
            if (file) onFile(file);
          }}
        />
      )}
    </Field>
  );
}
