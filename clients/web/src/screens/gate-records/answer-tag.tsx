import type { Wire } from "../../api/client";
import { Tag } from "../../kit/answer";
import type { Tone } from "../../kit/shape";
import { gateAnswers } from "../../words/gate";

const TONES: Record<Wire<"Answer">, Tone> = {
  enter: "go",
  not_cleared: "stop",
  cannot_confirm: "unknown",
  not_valid: "stop",
};

/** What a gate said. */
export function AnswerTag({ answer }: { answer: Wire<"Answer"> }) {
  return <Tag tone={TONES[answer]}>{gateAnswers[answer]()}</Tag>;
}
