import { useEffect } from "preact/hooks";
import { Answer } from "../../kit/answer";
import { Button } from "../../kit/button";
import { Notice } from "../../kit/notice";
import type { Tone } from "../../kit/shape";
import { DISCREET, play } from "../../kit/sound";
import type { Word } from "../../pack/answer";
import { printedSerial } from "../../badge/serial";
import { clock } from "../../words/format";
import { gate as words, gateAnswers, gateInstructions } from "../../words/gate";
import type { Gate, LetIn, Shown } from "./gate";
import { saidText } from "./instruction";

/** A silhouette of its own for each word: disc, square, diamond, card. */
const TONES: Record<Word, Tone> = {
  enter: "go",
  not_cleared: "stop",
  cannot_confirm: "unknown",
  not_valid: "check",
};

/** The one answer, and whose it is. Nothing of it stays for the next person. */
export function Verdict({ gate, camera }: { gate: Gate; camera: boolean }) {
  const [shown, letIn] = [gate.shown.value, gate.letIn.value];
  useEffect(() => {
    if (!shown) return;
    performance.mark("badge-answer");
    const quiet = shown.word === "enter" && !shown.checkName;
    // The same for every other word, and heard by the guard alone: nobody in the corridor learns which it was.
    if (quiet) play("done");
    else play("attention", DISCREET);
    // What only adds a name is no other answer.
  }, [shown?.id, shown?.word, shown?.checkName]);
  if (letIn) return <LetInUnder letIn={letIn} onNext={() => gate.clear()} />;
  if (shown) return <Told gate={gate} shown={shown} />;
  return (
    <div class="gate-ready">
      <Answer tone="plain" word={gate.asking.value ? words.asking() : words.ready()} wall>
        <p>{camera ? words.ready_camera() : words.ready_typed()}</p>
      </Answer>
    </div>
  );
}

function Told({ gate, shown }: { gate: Gate; shown: Shown }) {
  return (
    <div class="stack">
      {shown.checkName && <Notice tone="check" title={gateInstructions.check_name()} urgent />}
      {/* Another scan is another answer: it is said anew. */}
      <Answer key={shown.id} tone={TONES[shown.word]} word={gateAnswers[shown.word]()} wall>
        {shown.word === "not_cleared" && <p class="gate-respirator">{words.for_here()}</p>}
        {shown.name && <p class="gate-name">{shown.name}</p>}
        {shown.respirator && <p class="gate-respirator">{shown.respirator}</p>}
        <p>{instruction(gate, shown)}</p>
        {shown.fallback && (
          <p class="gate-fallback">
            <span class="soft">{words.fallback()}: </span>
            <b>{shown.fallback}</b>
          </p>
        )}
        {!shown.name && shown.word !== "not_valid" && <p class="soft">{words.name_on_badge()}</p>}
        {shown.typed && shown.word === "enter" && <p class="strong">{words.typed()}</p>}
        {shown.serial && <p class="soft number">{words.serial({ serial: printedSerial(shown.serial) })}</p>}
      </Answer>
      {!shown.kept && <Notice tone="wait" title={words.not_kept()} urgent />}
      <div>
        <Button size="large" onClick={() => gate.clear()}>
          {words.next()}
        </Button>
      </div>
    </div>
  );
}

/** What to do; a gate that knows nothing says what it lacks. */
function instruction(gate: Gate, shown: Shown): string {
  if (shown.instruction || shown.text) return saidText(shown);
  return gate.link.trouble.value === "unreadable" ? words.unreadable_pack() : words.alone_nothing();
}

function LetInUnder({ letIn, onNext }: { letIn: LetIn; onNext: () => void }) {
  const { lead, reason, at, kept } = letIn;
  return (
    <div class="stack">
      <Answer tone="go" word={words.lead_kept()} wall>
        <p>{words.lead_kept_more({ name: lead, time: clock(at), reason: words[`lead_${reason}`]() })}</p>
      </Answer>
      {!kept && <Notice tone="wait" title={words.not_kept()} urgent />}
      <div>
        <Button size="large" onClick={onNext}>
          {words.next()}
        </Button>
      </div>
    </div>
  );
}
