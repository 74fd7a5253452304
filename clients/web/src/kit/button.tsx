import type { ComponentChildren } from "preact";

interface Props {
  children: ComponentChildren;
  /** `main` is the one thing to do here; a screen has one at most. */
  kind?: "main" | "plain" | "quiet" | "stop";
  /** `station`: for gloves and arm's length. */
  size?: "normal" | "large" | "station";
  wide?: boolean;
  busy?: boolean;
  disabled?: boolean;
  type?: "button" | "submit";
  onClick?: () => void;
  /** Makes it a link: going somewhere is not doing something. */
  href?: string;
  describedBy?: string;
  /** Says more than what stands on it, to those who listen: which of several rows it is for. */
  label?: string;
}

export function Button({ children, kind = "plain", size = "normal", wide, busy, disabled, ...rest }: Props) {
  const classes = ["button", `button-${kind}`, size !== "normal" && `button-${size}`, wide && "button-wide"];
  const className = classes.filter(Boolean).join(" ");
  if (rest.href !== undefined) {
    return (
      <a class={className} href={rest.href} aria-label={rest.label} onClick={rest.onClick}>
        {children}
      </a>
    );
  }
  return (
    <button
      type={rest.type ?? "button"}
      class={className}
      disabled={disabled}
      aria-busy={busy}
      aria-describedby={rest.describedBy}
      aria-label={rest.label}
      // A busy button keeps the focus; `useAction` drops the second tap.
      onClick={rest.onClick}
    >
      {children}
    </button>
  );
}
