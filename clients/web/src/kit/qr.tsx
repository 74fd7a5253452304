import { generate } from "lean-qr";
import "./qr.css";

/** Around the code nothing is printed for four modules (ISO/IEC 18004, 9.1). */
const QUIET = 4;

/** A QR code of a text. It is dark on light in both themes: readers expect that. */
export function Qr({ text, label }: { text: string; label: string }) {
  const code = generate(text);
  const side = code.size + 2 * QUIET;
  let dark = "";
  for (let y = 0; y < code.size; y++) {
    for (let x = 0; x < code.size; x++) {
      if (code.get(x, y)) dark += `M${x + QUIET} ${y + QUIET}h1v1h-1z`;
    }
  }
  return (
    <svg
      class="qr"
      viewBox={`0 0 ${side} ${side}`}
      role="img"
      aria-label={label}
      shape-rendering="crispEdges"
    >
      <path class="qr-light" d={`M0 0h${side}v${side}h-${side}z`} />
      <path class="qr-dark" d={dark} />
    </svg>
  );
}
