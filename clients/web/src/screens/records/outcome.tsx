// How an attempt ended, in one word with its shape; and what has to be known beside it.
import type { Wire } from "../../api/client";
import { Tag } from "../../kit/answer";
import type { Tone } from "../../kit/shape";
import { span } from "../../words/format";
import { records as words } from "../../words/records";
import { station } from "../../words/station";

export type Item = Wire<"AttemptItem">;
export type Ending = Wire<"Outcome"> | "open";

export const ENDING_TONES: Record<Ending, Tone> = {
  pass: "go",
  fail: "stop",
  void: "unknown",
  stopped: "wait",
  open: "plain",
};

/** What is recorded so much later was written down by somebody afterwards, or waited on a device. */
const LATE_MS = 60 * 60_000;

export const endingOf = (item: Item): Ending => item.verdict?.outcome ?? "open";

export const endingWord = (ending: Ending): string =>
  ending === "open" ? words.open() : station[`result_${ending}`]();

/** How much later than it happened an attempt was recorded, where that is worth knowing. */
export function lateBy({ happened_at, recorded_at }: Pick<Item, "happened_at" | "recorded_at">): number {
  const late = Date.parse(recorded_at) - Date.parse(happened_at);
  return late > LATE_MS ? late : 0;
}

export function EndingTag({ ending }: { ending: Ending }) {
  return <Tag tone={ENDING_TONES[ending]}>{endingWord(ending)}</Tag>;
}

/** Corrected, recorded late: never left out of a list. */
export function Remarks({ item }: { item: Item }) {
  const late = lateBy(item);
  return (
    <span class="row">
      {item.corrected_at && <Tag tone="unknown">{words.corrected()}</Tag>}
      {late > 0 && <span class="soft small">{words.late({ span: span(late) })}</span>}
    </span>
  );
}
