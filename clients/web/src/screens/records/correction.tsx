import { useState } from "preact/hooks";
import { may } from "../../app/session";
import { Button } from "../../kit/button";
import { Facts, Panel } from "../../kit/page";
import { attempt as words } from "../../words/attempt";
import { dayAndClock } from "../../words/format";
import type { Attempt } from "./attempt";
import { TakeOut } from "./take-out";

/** What corrected the record, or the way to correct it: by appending, with a reason. */
export function Correction({ attempt, onDone }: { attempt: Attempt; onDone: () => void }) {
  const [asking, setAsking] = useState(false);
  const { correction } = attempt;
  if (correction) {
    return (
      <Panel title={words.correction()}>
        <p class="strong">{correction.reason}</p>
        <Facts facts={[[words.event_time(), dayAndClock(correction.happened_at)]]} />
        <p class="soft">{words.correction_more()}</p>
      </Panel>
    );
  }
  if (!may("create_attempt_correction")) return null;
  const open = !attempt.state.verdict;
  return (
    <Panel title={words.correct()}>
      {open ? (
        <p class="soft">{words.correct_open()}</p>
      ) : (
        <div class="row">
          <Button onClick={() => setAsking(true)}>{words.correct()}</Button>
        </div>
      )}
      {asking && (
        <TakeOut
          attemptId={attempt.id}
          title={words.correct()}
          label={words.correct_title()}
          hint={words.correct_hint()}
          stays={words.correct_stays()}
          confirm={words.correct_confirm()}
          needed={words.correct_needed()}
          onClose={() => setAsking(false)}
          onDone={() => {
            setAsking(false);
            onDone();
          }}
        />
      )}
    </Panel>
  );
}
