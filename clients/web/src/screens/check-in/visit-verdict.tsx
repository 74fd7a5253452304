import { useEffect } from "preact/hooks";
import type { Wire } from "../../api/client";
import { Answer } from "../../kit/answer";
import { Countdown } from "../../kit/countdown";
import { play } from "../../kit/sound";
import type { Tone } from "../../kit/shape";
import { checkIn as words } from "../../words/check-in";
import { clock } from "../../words/format";

type Visit = Wire<"VisitView">;

/** The one line that a checked-in person is told. */
function told(visit: Visit): { tone: Tone; word: string } {
  if (visit.step === "done") return { tone: "go", word: words.ended_done() };
  if (visit.step === "referred") return { tone: "plain", word: words.ended_referred() };
  if (visit.held_by_station_id) return { tone: "plain", word: words.at_station() };
  switch (visit.verdict) {
    case "ready":
      return { tone: "go", word: words.ready() };
    case "ready_at":
      return { tone: "wait", word: words.ready_at({ time: clock(visit.earliest_start) }) };
    default:
      return { tone: "stop", word: words.on_hold() };
  }
}

/** Ready, ready at a time, or held back and where to go; never why. */
export function VisitVerdict({ visit, onReady }: { visit: Visit; onReady: () => void }) {
  const { tone, word } = told(visit);
  useEffect(() => play(tone === "go" ? "done" : "attention"), [visit.id, tone]);
  return (
    <Answer tone={tone} word={word}>
      <p class="number strong">{words.ticket({ ticket: visit.ticket })}</p>
      {visit.verdict === "ready" && !visit.held_by_station_id && <p>{words.ready_more()}</p>}
      {visit.verdict === "ready_at" && (
        <>
          <p>{words.ready_at_more()}</p>
          <Countdown
            label={word}
            from={Date.parse(visit.happened_at)}
            until={Date.parse(visit.earliest_start)}
            onOver={onReady}
          />
        </>
      )}
      {visit.verdict === "on_hold" &&
        visit.hold_reasons?.map(hold => <p key={hold}>{words[`hold_${hold}`]()}</p>)}
      {visit.hold_reasons?.includes("hair_at_seal") && <p class="small soft">{words.respect()}</p>}
    </Answer>
  );
}
