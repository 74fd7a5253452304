import type { ComponentChildren } from "preact";
import { useEffect, useId, useRef } from "preact/hooks";

interface Props {
  title: string;
  children: ComponentChildren;
  /** Called when the person leaves it; without it, the dialog stays until something in it is done. */
  onClose?: () => void;
}

/** The browser's own modal dialog: it keeps the focus inside and the rest of the page out of reach. */
export function Dialog({ title, children, onClose }: Props) {
  const dialog = useRef<HTMLDialogElement>(null);
  const id = useId();
  useEffect(() => {
    const shown = dialog.current;
    shown?.showModal();
    return () => shown?.close();
  }, []);
  return (
    <dialog
      ref={dialog}
      class="dialog"
      aria-labelledby={id}
      onCancel={event => {
        // Escape asks; what happens is for the one who opened it.
        event.preventDefault();
        onClose?.();
      }}
    >
      <div class="stack">
        <h2 id={id}>{title}</h2>
        {children}
      </div>
    </dialog>
  );
}
