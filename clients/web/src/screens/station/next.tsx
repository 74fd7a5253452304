// What comes next with the person in the chair, and everything it needs before it may begin.
import { useEffect, useState } from "preact/hooks";
import type { Wire } from "../../api/client";
import { station as here } from "../../app/place";
import { useAction } from "../../app/use-action";
import { Countdown } from "../../kit/countdown";
import { SelectField, TextField } from "../../kit/field";
import { Notice, ProblemNotice } from "../../kit/notice";
import { Facts, Page, Panel } from "../../kit/page";
import { clock } from "../../words/format";
import { station as words } from "../../words/station";
import { Big } from "./big";
import { type Case, type Chair, type NextStep, verdictOf } from "./chair";
import { nameOf } from "./confirm";
import { type Agent, type Equipment, type Pack, readyPlan } from "./pack";
import { Respirators } from "./respirators";
import { screened } from "./standing";
import { now } from "./time";

interface Props {
  chair: Chair;
  pack: Pack;
  one: Case;
}

/** The server's answer to what comes next; while it is away, an attempt may still follow the level just found. */
export function nextOf(one: Case, pack: Pack): NextStep | null {
  const run = one.runs.at(-1);
  if (!run) return one.next;
  if (run.answer && verdictOf(run)) return run.answer.next_step;
  if (run.kind !== "screening") return null;
  const found = screened(pack.plans.screening, run.events);
  const ready = found.ended === "tasted" ? readyPlan(pack, run.agent, found.sets, null) : undefined;
  if (!ready) return null;
  const tried = one.runs.flatMap(other => (other.kind === "attempt" ? [other.respirator_id] : []));
  return {
    step: "attempt",
    screening: run.id,
    agent: run.agent,
    level: ready.level,
    excluded_respirators: tried,
    not_before: null,
  };
}

/** Whether this station can do the step, so that the person need not queue again. */
export function canFollow(next: NextStep | null): boolean {
  const parts: readonly string[] = here.value?.parts ?? [];
  if (next?.step === "screen") return parts.includes("screening");
  if (next?.step === "attempt") return parts.includes("testing");
  return next?.step === "measure" && parts.includes("measuring");
}

/** Who has just passed may try another model at once, on the same screening. */
function another(one: Case): NextStep | null {
  const screening = one.runs.findLast(run => run.kind === "screening");
  const level = screening?.answer?.state.verdict?.level;
  if (!screening || level == null) return null;
  const excluded_respirators = one.runs.flatMap(run => (run.kind === "attempt" ? [run.respirator_id] : []));
  return { step: "attempt", screening: screening.id, agent: screening.agent, level, excluded_respirators };
}

export function Next(props: Props) {
  const after = nextOf(props.one, props.pack);
  const next = after?.step === "done" ? another(props.one) : after;
  const title =
    next?.step === "screen"
      ? words.to_screen({ agent: words[`agent_${next.agent}`]() })
      : next?.step === "measure"
        ? words.to_measure()
        : words.to_attempt();
  if (!next || !canFollow(next)) return <Elsewhere {...props} next={next} />;
  return (
    <Page title={title} intro={nameOf(props.one)}>
      <Who one={props.one} />
      {next.step === "screen" && <BeginScreening {...props} agent={next.agent} notBefore={next.not_before} />}
      {next.step === "attempt" && <BeginAttempt {...props} next={next} />}
      {next.step === "measure" && <BeginMeasuring {...props} next={next} />}
    </Page>
  );
}

function Who({ one }: { one: Case }) {
  return (
    <Facts
      facts={[
        [words.ticket(), one.ticket],
        [words.unit(), one.person.unit],
        [words.gear(), one.gear],
        [words.needs(), one.needs],
      ]}
    />
  );
}

/** Nothing to do here: another station, another person, or a decision. */
function Elsewhere({ chair, one, next }: Props & { next: NextStep | null }) {
  const back = useAction(() => chair.giveBack("other", 0));
  return (
    <Page title={nameOf(one)}>
      <p class="station-say">{next ? inWords(next) : words.result_kept_more()}</p>
      <Big kind="main" first onPress={() => void (one.runs.length > 0 ? chair.leave() : back.run())}>
        {one.runs.length > 0 ? words.next_person() : words.another()}
      </Big>
      <ProblemNotice problem={back.problem} />
    </Page>
  );
}

export function inWords(next: NextStep): string {
  switch (next.step) {
    case "screen":
      return words.next_screen({ agent: words[`agent_${next.agent}`]() });
    case "attempt":
    case "finish_attempt":
      return words.next_attempt();
    case "finish_screening":
      return words.next_attempt();
    default:
      return words[`next_${next.step}`]();
  }
}

function BeginScreening({
  chair,
  pack,
  agent,
  notBefore,
}: Props & { agent: Agent; notBefore?: string | null }) {
  const [hood, setHood] = useState("");
  const begin = useAction(() => chair.openScreening(agent, hood || null));
  const tasted = agent === "saccharin" || agent === "denatonium_benzoate";
  if (!tasted) return <Notice tone="unknown" title={words.not_here()} />;
  return (
    <>
      <Hoods hoods={pack.hoods} chosen={hood} onChoose={setHood} />
      <p class="soft">{words.allergy()}</p>
      <Begin notBefore={notBefore} onBegin={() => void begin.run()} />
      <ProblemNotice problem={begin.problem} />
    </>
  );
}

function BeginAttempt({ chair, pack, one, next }: Props & { next: Extract<NextStep, { step: "attempt" }> }) {
  const [respirator, setRespirator] = useState<string | null>(null);
  const [hood, setHood] = useState("");
  const chosen = pack.respirators.find(found => found.id === respirator);
  const ready = pack.plans.attempts.find(
    found =>
      found.plan.method === next.agent &&
      (found.level ?? null) === (next.level ?? null) &&
      found.full_facepiece === (chosen?.facepiece === "full_facepiece"),
  );
  const begin = useAction(async () => {
    if (!chosen || !ready) return;
    const opening = { respirator_id: chosen.id, screening_id: next.screening, hood_id: hood || null };
    await chair.openAttempt(opening, ready.plan);
  });
  return (
    <>
      <Respirators
        pack={pack}
        one={one}
        excluded={next.excluded_respirators}
        chosen={respirator}
        onChoose={setRespirator}
      />
      <Hoods hoods={pack.hoods} chosen={hood} onChoose={setHood} />
      <Begin notBefore={next.not_before} disabled={!chosen} onBegin={() => void begin.run()} />
      <ProblemNotice problem={begin.problem} />
    </>
  );
}

function BeginMeasuring({
  chair,
  pack,
  one,
  next,
}: Props & { next: Extract<NextStep, { step: "measure" }> }) {
  const [respirator, setRespirator] = useState<string | null>(null);
  const [method, setMethod] = useState<Wire<"Method"> | "">("");
  const [instrument, setInstrument] = useState("");
  const chosen = pack.respirators.find(found => found.id === respirator);
  const ready = pack.plans.attempts.find(
    found =>
      found.plan.method === method && found.full_facepiece === (chosen?.facepiece === "full_facepiece"),
  );
  const begin = useAction(async () => {
    if (!chosen || !ready || method === "") return;
    await chair.openAttempt({ respirator_id: chosen.id, method, instrument }, ready.plan);
  });
  return (
    <>
      <Respirators
        pack={pack}
        one={one}
        excluded={next.excluded_respirators}
        chosen={respirator}
        onChoose={setRespirator}
      />
      <Panel>
        <SelectField
          label={words.method()}
          value={method}
          options={next.methods.map(value => ({ value, label: value.replaceAll("_", " ") }))}
          onValue={setMethod}
        />
        <TextField label={words.instrument()} value={instrument} onValue={setInstrument} />
      </Panel>
      <Begin disabled={!ready || instrument.trim() === ""} onBegin={() => void begin.run()} />
      <ProblemNotice problem={begin.problem} />
    </>
  );
}

/** The button that begins, and the wait before it where there is one. */
function Begin({
  notBefore,
  disabled = false,
  onBegin,
}: {
  notBefore?: string | null | undefined;
  disabled?: boolean;
  onBegin: () => void;
}) {
  const until = notBefore ? Date.parse(notBefore) : 0;
  const [waits, setWaits] = useState(until > now());
  useEffect(() => {
    const timer = setInterval(() => setWaits(until > now()), 500);
    return () => clearInterval(timer);
  }, [until]);
  return (
    <>
      {waits && notBefore && (
        <Notice tone="wait" title={words.not_before({ time: clock(notBefore) })}>
          <p>{words.rest()}</p>
          <Countdown until={until} label={words.not_before({ time: clock(notBefore) })} />
        </Notice>
      )}
      <Big kind="main" first disabled={waits || disabled} onPress={onBegin}>
        {words.start()}
      </Big>
    </>
  );
}

/** Hoods by their labels; one that is not ready says when it will be. */
function Hoods({
  hoods,
  chosen,
  onChoose,
}: {
  hoods: readonly Equipment[];
  chosen: string;
  onChoose: (id: string) => void;
}) {
  const ready = hoods.filter(hood => hood.state === "ready");
  if (ready.length === 0) return null;
  const options = ready.map(hood => ({ value: hood.id, label: hood.label }));
  return (
    <SelectField
      label={words.hood()}
      value={chosen}
      nothing={words.hood_none()}
      options={options}
      onValue={onChoose}
    />
  );
}
