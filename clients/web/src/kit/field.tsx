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
  /** Of times, in seconds: 1 asks for seconds as well. */
  step?: number;
  inputRef?: (element: HTMLInputElement | null) => void;
  onKeyDown?: (event: KeyboardEvent) => void;
}

export function TextField(props: TextProps) {
  const { label, hint, problem, value, onValue, large, inputRef, type = "text", ...rest } = props;
  return (
    <Field label={label} hint={hint} problem={problem}>
      {wiring => (
        <input
          {...wiring}
          {...rest}
          ref={inputRef}
          class={large ? "input input-large" : "input"}
          type={type as "text"}
          value={value}
          spellcheck={false}
          onInput={event => onValue(event.currentTarget.value)}
        />
      )}
    </Field>
  );
}

export function TextArea(
  props: Common & { value: string; onValue: (value: string) => void; maxLength?: number },
) {
  const { value, onValue, maxLength, ...common } = props;
  return (
    <Field {...common}>
      {wiring => (
        <textarea
          {...wiring}
          class="input"
          maxLength={maxLength}
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

/** A few answers side by side, none of them chosen beforehand. */
export function Choice<Value extends string>({
  label,
  hint,
  problem,
  value,
  options,
  onValue,
}: ChoiceProps<Value>) {
  const id = useId();
  const described = [hint && `${id}-hint`, problem && `${id}-problem`].filter(Boolean).join(" ");
  return (
    <fieldset class="field" aria-describedby={described || undefined}>
      <legend class="field-label">{label}</legend>
      {hint && (
        <p class="field-hint" id={`${id}-hint`}>
          {hint}
        </p>
      )}
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
      {problem && (
        <p class="field-problem" id={`${id}-problem`}>
          <Shape tone="stop" size={18} />
          {problem}
        </p>
      )}
    </fieldset>
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
            if (file) onFile(file);
          }}
        />
      )}
    </Field>
  );
}
