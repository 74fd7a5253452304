import { useState } from "preact/hooks";
import { run as words } from "../../words/run";
import type { PhaseProps } from "./attempt";
import { Big } from "./big";
import type { Case } from "./chair";
import { nameOf } from "./confirm";
import { Step } from "./frame";

/** After the last exercise: asked once more, the nebulizer looked at, signed. */
export function Closing({ run, at, put, one, respirator }: PhaseProps & { one: Case; respirator: string }) {
  const { dose } = at;
  if (dose) {
    return (
      <Step title={words.dose_now()}>
        <p class="run-number">{dose.squeezes}</p>
        <Big kind="main" first onPress={() => put({ kind: "dose_given", squeezes: dose.squeezes })}>
          {words.dose_given({ n: dose.squeezes })}
        </Big>
      </Step>
    );
  }
  if (!at.askedAgain) {
    return (
      <Step title={words.ask()} say={words.ask_say()}>
        <div class="run-pair">
          <Big onPress={() => put({ kind: "asked_again", tasted: false, comfortable: false })}>
            {words.ask_uncomfortable()}
          </Big>
          <Big onPress={() => put({ kind: "asked_again", tasted: false, comfortable: true })}>
            {words.ask_no()}
          </Big>
        </div>
      </Step>
    );
  }
  if (!at.nebulizerClear && run.plan.doses) {
    return (
      <Step title={words.look()} say={words.look_say()}>
        <div class="run-pair">
          <Big onPress={() => put({ kind: "nebulizer_checked", clear: false })}>{words.look_clogged()}</Big>
          <Big onPress={() => put({ kind: "nebulizer_checked", clear: true })}>{words.look_clear()}</Big>
        </div>
      </Step>
    );
  }
  return <Sign one={one} respirator={respirator} onSign={() => put({ kind: "signed" })} />;
}

/** Two touches at two places: who it is with what, then the signature. */
export function Sign({ one, respirator, onSign }: { one: Case; respirator: string; onSign: () => void }) {
  const [checked, setChecked] = useState(false);
  return (
    <Step title={words.sign()}>
      <p>{words.sign_for()}</p>
      <div class="run-pair">
        <Big onPress={() => setChecked(true)} first={!checked} kind={checked ? "plain" : "main"}>
          {words.sign_is({ person: nameOf(one), respirator })}
        </Big>
        <Big kind={checked ? "main" : "plain"} first={checked} disabled={!checked} onPress={onSign}>
          {words.sign_it()}
        </Big>
      </div>
    </Step>
  );
}
