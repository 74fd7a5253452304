import type { Wire } from "../../api/client";
import { Facts, Panel } from "../../kit/page";
import { attempt as words } from "../../words/attempt";
import { minutesAndSeconds, span } from "../../words/format";
import { exerciseName } from "../../words/exercise";

/** The plan as the server handed it out: nobody at a station worked anything out. */
export function Plan({ plan }: { plan: Wire<"Plan"> }) {
  const { doses, measuring } = plan;
  return (
    <Panel title={words.plan()}>
      <Facts
        facts={[
          [words.plan_wear(), span(plan.wear_seconds * 1000)],
          [words.plan_first(), doses && words.plan_squeezes({ n: doses.first_dose })],
          [
            words.plan_redose(),
            doses &&
              words.plan_redose_every({ n: doses.redose, span: span(doses.redose_interval_seconds * 1000) }),
          ],
          [
            words.plan_tolerance(),
            doses &&
              words.plan_tolerance_of({
                early: span(doses.dose_early_tolerance_seconds * 1000),
                late: span(doses.dose_late_tolerance_seconds * 1000),
              }),
          ],
          [words.plan_level(), measuring?.pass_level],
        ]}
      />
      <h3>{words.plan_exercises()}</h3>
      <ol class="rows">
        {plan.exercises.map(one => (
          <li key={one.number} class="row row-apart records-line">
            <span>
              {one.number}. {exerciseName(one)}
            </span>
            <span class="soft number">{minutesAndSeconds(one.seconds * 1000)}</span>
          </li>
        ))}
      </ol>
    </Panel>
  );
}
