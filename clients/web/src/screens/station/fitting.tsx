import { minutesAndSeconds } from "../../words/format";
import { run as words } from "../../words/run";
import { station } from "../../words/station";
import type { PhaseProps } from "./attempt";
import { Big } from "./big";
import { Step } from "./frame";

/** Before the first dose, or before the instrument: on by the wearer's own hand, sealed, worn long enough. */
export function Fitting(props: PhaseProps) {
  const { at, moment, put } = props;
  const left = at.wornUntil === null ? 0 : at.wornUntil - moment;
  if (at.donnedAt === null) {
    return (
      <Step title={words.don()} say={words.don_say()}>
        <Big kind="main" first onPress={() => put({ kind: "donned", by_wearer: true })}>
          {words.donned()}
        </Big>
      </Step>
    );
  }
  return (
    <>
      {left > 0 && (
        <p class="run-timer" role="timer" aria-label={words.wear()}>
          <span>{words.wear()}</span>
          <span class="run-clock">{minutesAndSeconds(left)}</span>
        </p>
      )}
      <Inner {...props} left={left} />
      <div class="row">
        <button type="button" class="button button-quiet" onClick={() => put({ kind: "doffed" })}>
          {words.off()}
        </button>
      </div>
    </>
  );
}

function Inner({ run, at, put, left }: PhaseProps & { left: number }) {
  const { doses } = run.plan;
  if (at.seal === "leaking") {
    return (
      <Step title={words.redon()}>
        <Big kind="main" first onPress={() => put({ kind: "doffed" })}>
          {words.off()}
        </Big>
      </Step>
    );
  }
  if (at.seal === "unchecked") {
    return (
      <Step title={words.seal()} say={words.seal_say()}>
        <div class="run-pair">
          <Big onPress={() => put({ kind: "seal_checked", result: "failed" })}>{words.seal_leak()}</Big>
          <Big onPress={() => put({ kind: "seal_checked", result: "ok" })}>{words.seal_ok()}</Big>
        </div>
      </Step>
    );
  }
  if (left > 0) return <Step title={words.wear()} say={words.wear_say()} />;
  if (!doses) return null;
  if (!at.hooded) {
    return (
      <Step title={words.hood()} say={words.hood_say()}>
        <Big kind="main" first onPress={() => put({ kind: "hooded", taste_gone: true })}>
          {words.taste_gone()}
        </Big>
      </Step>
    );
  }
  return (
    <Step title={words.first_dose()}>
      <p class="run-number">{doses.first_dose}</p>
      <p class="run-unit">
        {words.squeezes({ n: doses.first_dose })} {words.with({ solution: station.solution_test() })}
      </p>
      <Big kind="main" first onPress={() => put({ kind: "dose_given", squeezes: doses.first_dose })}>
        {words.dose_given({ n: doses.first_dose })}
      </Big>
    </Step>
  );
}
