import type { ComponentChildren } from "preact";
import { useEffect, useRef } from "preact/hooks";
import { titleShown } from "./title-focus";

interface Props {
  title: string;
  /** One sentence under the title, where the title does not say it all. */
  intro?: string;
  actions?: ComponentChildren;
  children?: ComponentChildren;
  narrow?: boolean;
}

/** A screen: its question as the title, and below it the answer. */
export function Page({ title, intro, actions, children, narrow }: Props) {
  useEffect(() => {
    document.title = `${title} · Sellion`;
  }, [title]);
  const heading = useRef<HTMLHeadingElement>(null);
  useEffect(() => titleShown(heading.current), []);
  return (
    <div class={narrow ? "page page-narrow" : "page"}>
      <div class="page-head">
        <div class="stack stack-close">
          <h1 tabIndex={-1} ref={heading}>
            {title}
          </h1>
          {intro && <p class="soft">{intro}</p>}
        </div>
        {actions && <div class="row">{actions}</div>}
      </div>
      {children}
    </div>
  );
}

/** A part of a screen with a heading of its own. */
export function Panel({
  title,
  actions,
  children,
}: {
  title?: string;
  actions?: ComponentChildren;
  children: ComponentChildren;
}) {
  return (
    <section class="panel">
      {(title || actions) && (
        <div class="row row-apart">
          {title && <h2>{title}</h2>}
          {actions}
        </div>
      )}
      {children}
    </section>
  );
}

/** Facts with their names. Those that are not there are left out. */
export function Facts({ facts }: { facts: readonly (readonly [name: string, value: ComponentChildren])[] }) {
  return (
    <dl class="facts">
      {facts
        .filter(([, value]) => value !== undefined && value !== null && value !== false && value !== "")
        .map(([name, value]) => (
          <div key={name}>
            <dt>{name}</dt>
            <dd>{value}</dd>
          </div>
        ))}
    </dl>
  );
}
