import type { Wire } from "../../api/client";
import { percent } from "../../words/format";
import { reports as words } from "../../words/reports";

export interface Bar {
  key: string;
  name: string;
  share: Wire<"ShareView">;
}

const WIDTH = 640;
const ROW = 52;
const AXIS = 26;
const MARGIN = 14;
const TICKS = [0, 0.25, 0.5, 0.75, 1];

const x = (share: number) => MARGIN + share * (WIDTH - 2 * MARGIN);

/** Shares from 0 to 1 with their ranges, one to a line, drawn to the same scale. */
export function ShareChart({ bars }: { bars: readonly Bar[] }) {
  const height = bars.length * ROW + AXIS;
  return (
    <figure>
      <svg
        class="reports-chart"
        viewBox={`0 0 ${WIDTH} ${height}`}
        role="img"
        aria-label={words.chart_shares()}
      >
        {TICKS.map(tick => (
          <g key={tick}>
            <line class="reports-grid" x1={x(tick)} x2={x(tick)} y1="0" y2={height - AXIS} />
            <text
              class="reports-axis"
              x={x(tick)}
              y={height - 6}
              text-anchor={tick === 0 ? "start" : tick === 1 ? "end" : "middle"}
            >
              {percent(tick)}
            </text>
          </g>
        ))}
        {bars.map((one, n) => {
          const y = n * ROW + 36;
          return (
            <g key={one.key}>
              <text x={MARGIN} y={n * ROW + 18}>
                {one.name}
              </text>
              <line class="reports-range" x1={x(one.share.low)} x2={x(one.share.high)} y1={y} y2={y} />
              <circle class="reports-dot" cx={x(one.share.share)} cy={y} r="8" />
            </g>
          );
        })}
      </svg>
      <figcaption class="small soft">{words.chart_shares()}</figcaption>
    </figure>
  );
}
