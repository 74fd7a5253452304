import type { ComponentChildren } from "preact";
import { useEffect, useRef } from "preact/hooks";

interface Props {
  children: ComponentChildren;
  onPress: () => void;
  kind?: "main" | "plain" | "stop";
  disabled?: boolean;
  /** The one thing to do now: it has the focus, so that Enter or a foot switch does it. */
  first?: boolean;
}

/** A button for a knuckle at arm's length. A second tap of a nervous hand, or a key that is held, does nothing. */
export function Big({ children, onPress, kind = "plain", disabled = false, first = false }: Props) {
  const button = useRef<HTMLButtonElement>(null);
  useEffect(() => {
    if (first && !disabled) button.current?.focus({ preventScroll: true });
  }, [first, disabled]);
  return (
    <button
      ref={button}
      type="button"
      class={`button button-${kind} button-station big`}
      disabled={disabled}
      onKeyDown={event => {
        if (event.repeat && (event.key === "Enter" || event.key === " ")) event.preventDefault();
      }}
      onClick={event => {
        if (event.detail <= 1) onPress();
      }}
    >
      {children}
    </button>
  );
}
