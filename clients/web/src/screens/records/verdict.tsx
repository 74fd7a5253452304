import { Answer } from "../../kit/answer";
import { Facts, Panel } from "../../kit/page";
import { attempt as words } from "../../words/attempt";
import { dayAndClock, list, span } from "../../words/format";
import { station } from "../../words/station";
import type { Attempt } from "./attempt";
import { type Ending, ENDING_TONES, endingWord } from "./outcome";

/** What it came to, and the moment that decided it; of an open attempt, what is missing. */
export function Verdict({ attempt }: { attempt: Attempt }) {
  const { verdict, fit, missing, signed_at } = attempt.state;
  const ending: Ending = verdict?.outcome ?? "open";
  return (
    <Panel title={words.verdict()}>
      <Answer tone={attempt.correction ? "unknown" : ENDING_TONES[ending]} word={endingWord(ending)}>
        {verdict && <p>{station[`reason_${verdict.reason}`]()}</p>}
        {attempt.correction && <p class="strong">{words.correction()}</p>}
      </Answer>
      <Facts
        facts={[
          [
            words.missing(),
            missing.length > 0 && !verdict && list(missing.map(one => words[`missing_${one}`]())),
          ],
          [words.verdict(), verdict && decidedAt(verdict)],
          [words.ended(), verdict && dayAndClock(verdict.ended_at)],
          [words.signed(), signed_at && dayAndClock(signed_at)],
          [words.fit_factor(), fit?.overall],
          [words.pass_level(), fit?.pass_level],
        ]}
      />
      {verdict?.outcome === "pass" && <p class="soft small">{words.caution_pass()}</p>}
    </Panel>
  );
}

function decidedAt(verdict: NonNullable<Attempt["state"]["verdict"]>): string {
  const parts = [
    verdict.exercise != null && words.at_exercise({ n: verdict.exercise }),
    verdict.second != null && words.at_second({ span: span(verdict.second * 1000) }),
  ];
  return parts.filter(Boolean).join(", ");
}
