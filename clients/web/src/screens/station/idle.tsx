import { useState } from "preact/hooks";
import { api, need } from "../../api/client";
import { day, station as here } from "../../app/place";
import { useAction } from "../../app/use-action";
import { useResource } from "../../app/use-resource";
import { Tag } from "../../kit/answer";
import { Button } from "../../kit/button";
import { Notice, ProblemNotice } from "../../kit/notice";
import { Page, Panel } from "../../kit/page";
import { clock, span } from "../../words/format";
import { meaning } from "../../words/problems";
import { station as words } from "../../words/station";
import { Big } from "./big";
import type { Chair } from "./chair";
import { FillDialog } from "./fill";
import { currentFill, type Fill, stateOf } from "./fills";
import { type Agent, ageOf, type Pack } from "./pack";
import { difference, measureClock, now, wrong } from "./time";

const STEPS = ["screening", "testing", "measuring"] as const;

/** Nobody in the chair: who is next, and whether the station is ready for them. */
export function Idle({ chair, pack }: { chair: Chair; pack: Pack }) {
  const parts = here.value?.parts ?? [];
  const steps = STEPS.filter(step => parts.includes(step));
  const queue = useResource(
    `queue ${day.value?.id}`,
    () => need(api.GET("/api/v1/days/{day_id}/queue", { params: { path: { day_id: day.value!.id } } })),
    { nouns: ["visits", "calls", "visit_answers"], everyMs: 30_000 },
  );
  const call = useAction(async (step: (typeof STEPS)[number]) => {
    await measureClock().catch(() => undefined);
    await chair.call(step);
  });
  const over = useAction((visit_id: string) => chair.takeOver(visit_id));
  const { code, facts } = call.problem ?? {};
  const held = code === "still_in_use" && typeof facts?.["visit_id"] === "string" ? facts : undefined;
  const readyAt = facts?.["next_ready_at"];
  const closedAt = here.value?.closed_at;
  const waits = (step: string) =>
    queue.data?.items.filter(one => one.step === step && one.verdict === "ready" && !one.held_by_station_id);
  return (
    <Page title={words.title()}>
      {closedAt ? (
        <Notice tone="wait" title={words.closed({ time: clock(closedAt) })}>
          <p>{words.closed_more()}</p>
        </Notice>
      ) : (
        <div class="station-calls">
          {steps.map((step, index) => (
            <div class="stack stack-close" key={step}>
              <Big kind={index === 0 ? "main" : "plain"} onPress={() => void call.run(step)}>
                {words[`call_${step}`]()}
              </Big>
              <p class="soft">{queue.data && words.waiting({ n: waits(step)?.length ?? 0 })}</p>
            </div>
          ))}
        </div>
      )}
      <ProblemNotice problem={held ? undefined : call.problem} />
      {typeof readyAt === "string" && <p>{words.next_ready({ time: clock(readyAt) })}</p>}
      {held && (
        <Notice tone="wait" title={words.still_here({ ticket: String(held["ticket"]) })} urgent>
          <div class="row">
            <Button
              busy={over.busy}
              onClick={() => void over.run(String(held["visit_id"])).then(done => done && call.clear())}
            >
              {words.take_over({ ticket: String(held["ticket"]) })}
            </Button>
          </div>
        </Notice>
      )}
      <ProblemNotice problem={over.problem} />
      <Ready pack={pack} />
    </Page>
  );
}

/** What the next test would be made with, and the clock it would be timed by. */
function Ready({ pack }: { pack: Pack }) {
  const [filling, setFilling] = useState(false);
  const parts = here.value?.parts ?? [];
  const solutions = (["screening", "test"] as const).filter(solution =>
    parts.includes(solution === "screening" ? "screening" : "testing"),
  );
  const agents = pack.plans.screening.agents.filter(
    agent => agent === "saccharin" || agent === "denatonium_benzoate",
  );
  return (
    <Panel
      title={words.ready_with()}
      actions={solutions.length > 0 && <Button onClick={() => setFilling(true)}>{words.fill()}</Button>}
    >
      <ul class="rows">
        {agents.flatMap(agent =>
          solutions.map(solution => (
            <InNebulizer
              key={`${agent} ${solution}`}
              agent={agent}
              solution={solution}
              fill={currentFill(pack.fills, agent, solution)}
            />
          )),
        )}
      </ul>
      <Clock />
      {filling && <FillDialog onClose={() => setFilling(false)} />}
    </Panel>
  );
}

interface InNebulizerProps {
  agent: Agent;
  solution: "screening" | "test";
  fill: Fill | undefined;
}

/** What is there of one solution, how old it is, and whether it may be used. */
function InNebulizer({ agent, solution, fill }: InNebulizerProps) {
  const state = fill && stateOf(fill, now());
  return (
    <li class="station-fill">
      <span class={`station-band station-band-${solution}`} aria-hidden="true" />
      <span>
        <span class="strong">{words[`solution_${solution}`]()}</span>, {words[`agent_${agent}`]()}
        <br />
        <span class="soft">
          {fill &&
            words.fill_age({
              span: span(ageOf(fill)),
              bottle: fill.bottle_label,
              nebulizer: fill.nebulizer,
            })}
        </span>
      </span>
      {!state && <Tag tone="unknown">{words.no_fill()}</Tag>}
      {state?.may === true && <Tag tone="go">{words.fill_until({ time: clock(state.until) })}</Tag>}
      {state?.may === false && <Tag tone="stop">{meaning(state.why)}</Tag>}
    </li>
  );
}

function Clock() {
  if (!difference.value) return <Tag tone="unknown">{words.clock_unknown()}</Tag>;
  if (wrong.value === 0) return <Tag tone="go">{words.clock_right()}</Tag>;
  const text = { span: span(Math.abs(wrong.value)) };
  return <Tag tone="wait">{wrong.value > 0 ? words.clock_fast(text) : words.clock_slow(text)}</Tag>;
}
