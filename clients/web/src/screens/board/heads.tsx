import type { Wire } from "../../api/client";
import { board as words } from "../../words/board";
import { number } from "../../words/format";

const PARTS = ["done", "referred", "at_station", "waiting", "not_arrived"] as const;

/** How many are where: numbers with their words, and the same as one bar. */
export function Heads({ heads }: { heads: Wire<"HeadsView"> }) {
  const all = PARTS.reduce((sum, part) => sum + heads[part], 0);
  let from = 0;
  return (
    <div class="stack">
      {all > 0 && (
        <svg class="board-bar" viewBox={`0 0 ${all} 1`} preserveAspectRatio="none" aria-hidden="true">
          {PARTS.map(part => {
            const x = from;
            from += heads[part];
            return (
              <rect key={part} class={`board-part-${part}`} x={x} y="0" width={heads[part]} height="1" />
            );
          })}
        </svg>
      )}
      <dl class="board-heads">
        {PARTS.map(part => (
          <div key={part} class="board-head">
            <dt>
              <svg viewBox="0 0 12 12" width="14" height="14" aria-hidden="true">
                <rect class={`board-part-${part}`} width="12" height="12" rx="3" />
              </svg>
              {words[part]()}
            </dt>
            <dd class="number">{number(heads[part])}</dd>
          </div>
        ))}
      </dl>
      {heads.not_arrived > 0 && <p class="small soft">{words.not_arrived_hint()}</p>}
    </div>
  );
}
