import type { Wire } from "../../api/client";
import { clock, number } from "../../words/format";
import { reports as words } from "../../words/reports";

type HalfHour = Wire<"HalfHourView">;

const HEIGHT = 220;
const TOP = 16;
const AXIS = 28;
const LEFT = 34;
const GROUP = 48;
const BAR = 12;
const KINDS = ["arrivals", "tests", "passes"] as const;
const NAMES = { arrivals: words.arrivals, tests: words.tests, passes: words.passed };

/** Three bars to a half hour: who came, what was tested, what passed. */
export function FlowChart({ flow }: { flow: readonly HalfHour[] }) {
  const most = Math.max(1, ...flow.flatMap(one => KINDS.map(kind => one[kind])));
  const y = (count: number) => HEIGHT - AXIS - (count / most) * (HEIGHT - AXIS - TOP);
  const width = Math.max(320, LEFT + flow.length * GROUP);
  return (
    <figure>
      <svg
        class="reports-chart"
        viewBox={`0 0 ${width} ${HEIGHT}`}
        role="img"
        aria-label={words.chart_flow()}
      >
        {[0, most].map(count => (
          <g key={count}>
            <line class="reports-grid" x1={LEFT} x2={width} y1={y(count)} y2={y(count)} />
            <text class="reports-axis" x={LEFT - 6} y={y(count) + 5} text-anchor="end">
              {number(count)}
            </text>
          </g>
        ))}
        {flow.map((one, n) => (
          <g key={one.from}>
            {KINDS.map((kind, place) => (
              <rect
                key={kind}
                class={`reports-${kind}`}
                x={LEFT + n * GROUP + 4 + place * (BAR + 1)}
                y={y(one[kind])}
                width={BAR}
                height={Math.max(0, HEIGHT - AXIS - y(one[kind]))}
              />
            ))}
            {n % 2 === 0 && (
              <text class="reports-axis" x={LEFT + n * GROUP + 4} y={HEIGHT - 8}>
                {clock(one.from)}
              </text>
            )}
          </g>
        ))}
      </svg>
      <figcaption class="row small">
        {KINDS.map(kind => (
          <span key={kind} class="row">
            <svg viewBox="0 0 14 14" width="16" height="16" aria-hidden="true">
              <rect class={`reports-${kind}`} x="1" y="1" width="12" height="12" />
            </svg>
            {NAMES[kind]()}
          </span>
        ))}
        <span class="soft">{words.chart_flow()}</span>
      </figcaption>
    </figure>
  );
}
