import type { ComponentChildren } from "preact";
import { Shape, type Tone } from "./shape";

interface Props {
  tone: Tone;
  /** The answer, in as few words as it takes. */
  word: string;
  children?: ComponentChildren;
  /** Read from across a room. */
  wall?: boolean;
}

/** The one answer of a screen: word, silhouette and tone together; it is also said to those who listen. */
export function Answer({ tone, word, children, wall }: Props) {
  return (
    <div class={`answer tone-${tone}${wall ? " answer-wall" : ""}`} role="status">
      <Shape tone={tone} size={wall ? "clamp(4rem, 14vw, 12rem)" : "clamp(2.75rem, 8vw, 4.5rem)"} />
      <p class="answer-word">{word}</p>
      {children && <div class="answer-more stack stack-close">{children}</div>}
    </div>
  );
}

/** A state in a list or beside a name. */
export function Tag({ tone, children }: { tone: Tone; children: ComponentChildren }) {
  return (
    <span class={`tag tone-${tone}`}>
      <Shape tone={tone} size={16} />
      <span>{children}</span>
    </span>
  );
}
