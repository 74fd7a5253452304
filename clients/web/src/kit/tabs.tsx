import type { ComponentChildren } from "preact";
import { useId } from "preact/hooks";

interface Props<Value extends string> {
  label: string;
  value: Value;
  tabs: readonly { value: Value; label: string }[];
  onValue: (value: Value) => void;
  children: ComponentChildren;
}

/** Tabs as the ARIA practices describe them: arrows move, the panel belongs to its tab. */
export function Tabs<Value extends string>({ label, value, tabs, onValue, children }: Props<Value>) {
  const id = useId();
  const move = (event: KeyboardEvent) => {
    const step = { ArrowRight: 1, ArrowLeft: -1 }[event.key];
    if (!step) return;
    event.preventDefault();
    const index = tabs.findIndex(tab => tab.value === value);
    const next = tabs[(index + step + tabs.length) % tabs.length];
    if (!next) return;
    onValue(next.value);
    document.getElementById(`${id}-${next.value}`)?.focus();
  };
  return (
    <>
      <div class="tabs" role="tablist" aria-label={label} onKeyDown={move}>
        {tabs.map(tab => (
          <button
            key={tab.value}
            id={`${id}-${tab.value}`}
            type="button"
            role="tab"
            class="tab"
            aria-selected={tab.value === value}
            aria-controls={`${id}-panel`}
            tabIndex={tab.value === value ? 0 : -1}
            onClick={() => onValue(tab.value)}
          >
            {tab.label}
          </button>
        ))}
      </div>
      <div id={`${id}-panel`} role="tabpanel" aria-labelledby={`${id}-${value}`} class="stack">
        {children}
      </div>
    </>
  );
}
