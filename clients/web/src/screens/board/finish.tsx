import type { Wire } from "../../api/client";
import { Answer } from "../../kit/answer";
import type { Tone } from "../../kit/shape";
import { board as words } from "../../words/board";
import { clock, span } from "../../words/format";

type Board = Wire<"BoardView">;

/** When so much of the pace is used up, as a moment. */
const after = (board: Board, seconds: number): number => Date.parse(board.at) + seconds * 1000;

interface Told {
  tone: Tone;
  word: string;
}

/** The answer in a few words. It follows from the server's estimate and the closing time alone. */
export function finishOf(board: Board): Told {
  const { heads, pace } = board;
  if (heads.at_station + heads.waiting === 0) return { tone: "plain", word: words.empty() };
  const left = pace.those_here;
  if (!left) return { tone: "unknown", word: words.unknown() };
  const closes = Date.parse(board.closes_at);
  const time = clock(after(board, left.likely_seconds));
  if (after(board, left.latest_seconds) <= closes) return { tone: "go", word: words.yes({ time }) };
  if (after(board, left.likely_seconds) <= closes) return { tone: "wait", word: words.close({ time }) };
  return { tone: "stop", word: words.no({ time }) };
}

/** Will we finish: the estimate with its spread, and what it was made from. */
export function Finish({ board, wall }: { board: Board; wall?: boolean }) {
  const { tone, word } = finishOf(board);
  const { those_here: here, everybody, finished, over_seconds } = board.pace;
  const time = (seconds: number) => clock(after(board, seconds));
  const waits = board.heads.at_station + board.heads.waiting > 0;
  return (
    <Answer tone={tone} word={word} wall={wall}>
      {here && waits && (
        <p>
          {words.here({
            likely: time(here.likely_seconds),
            soonest: time(here.soonest_seconds),
            latest: time(here.latest_seconds),
          })}
        </p>
      )}
      {everybody && board.heads.not_arrived > 0 && (
        <p>{words.everybody({ likely: time(everybody.likely_seconds) })}</p>
      )}
      <p class="small soft">
        {[
          over_seconds > 0 ? words.pace({ n: finished, span: span(over_seconds * 1000) }) : "",
          words.closes({ time: clock(board.closes_at) }),
          here ? words.estimate() : words.unknown_more(),
        ]
          .filter(Boolean)
          .join(" ")}
      </p>
    </Answer>
  );
}
