import type { ComponentChildren } from "preact";
import { useEffect, useRef, useState } from "preact/hooks";
import type { Form } from "../app/use-form";
import { kit } from "../words/kit";
import { Button } from "./button";
import { Notice, ProblemNotice } from "./notice";

interface FormProps<Typed> {
  form: Form<Typed>;
  /** The button that stores it, in one verb. */
  submit?: string;
  /** `main` unless the form is not the one thing to do on its screen. */
  kind?: "main" | "plain" | "stop";
  onCancel?: () => void;
  /** Reads again what the form stands on, when somebody changed it meanwhile. */
  onStale?: (() => void) | undefined;
  children: ComponentChildren;
}

/** The fields of a form, what the server said to it, and its buttons. A try that fails leads to the first fault. */
export function FormBody<Typed>({
  form,
  submit,
  kind = "main",
  onCancel,
  onStale,
  children,
}: FormProps<Typed>) {
  const element = useRef<HTMLFormElement>(null);
  useEffect(() => {
    if (form.failures === 0) return;
    if (form.problem?.code === "stale_version") onStale?.();
    const faulty = "[aria-invalid=true], [data-invalid=true] :is(input, select)";
    element.current?.querySelector<HTMLElement>(faulty)?.focus();
  }, [form.failures]);
  return (
    <form
      ref={element}
      class="stack"
      noValidate
      onSubmit={event => {
        event.preventDefault();
        void form.submit();
      }}
    >
      {children}
      <ProblemNotice problem={form.problem} />
      <div class="row">
        <Button kind={kind} type="submit" busy={form.busy}>
          {submit ?? kit.save()}
        </Button>
        {onCancel && <Button onClick={onCancel}>{kit.cancel()}</Button>}
      </div>
    </form>
  );
}

interface EditedProps<Row> {
  /** The row as it was read last. */
  row: Row;
  /** The form over the row with which it began; `stored` is told what became of it. */
  children: (began: Row, stored: (row: Row) => void) => ComponentChildren;
}

/**
 * A form over a row that others may change too. What is typed is never thrown away by somebody else's change: it is
 * told, and the person takes the row as it is now when they are ready.
 */
export function Edited<Row extends { version: number }>({ row, children }: EditedProps<Row>) {
  const [began, setBegan] = useState(row);
  return (
    <div class="stack" key={began.version}>
      {row.version > began.version && (
        <Notice tone="wait" title={kit.changed_meanwhile()} urgent>
          <div class="row">
            <Button onClick={() => setBegan(row)}>{kit.load_again()}</Button>
          </div>
        </Notice>
      )}
      {children(began, setBegan)}
    </div>
  );
}

/** Several short fields beside each other where there is room. */
export function FieldRow({ children }: { children: ComponentChildren }) {
  return <div class="field-row">{children}</div>;
}
