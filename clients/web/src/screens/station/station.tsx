// The station: one person in the chair, and what to do in the next thirty seconds.
import { useEffect, useState } from "preact/hooks";
import { unreachableSince } from "../../api/reach";
import { station as here } from "../../app/place";
import { Notice } from "../../kit/notice";
import { Loaded, Loading } from "../../kit/states";
import { clock, span } from "../../words/format";
import { station as words } from "../../words/station";
import { AttemptScreen } from "./attempt";
import { Chair, LANE, lane, type Run, verdictOf } from "./chair";
import { Confirm } from "./confirm";
import { Idle } from "./idle";
import { MeasuringScreen } from "./measuring";
import { Next } from "./next";
import { Outcome } from "./outcome";
import { type Pack, usePack } from "./pack";
import { Refusal } from "./refusal";
import { Resumed } from "./resumed";
import { ScreeningScreen } from "./screening";
import { screened, standing } from "./standing";
import { measureClock, moved, now, watchClock } from "./time";
import "./station.css";

export default function Station() {
  // The screen is shown at a station only: it is asked for before.
  const place = here.value!;
  const chair = useChair(place.id);
  const pack = usePack(place);
  if (!chair) return <Loading />;
  return (
    <div class="station">
      {unreachableSince.value !== null && pack.data && (
        <Notice tone="wait" title={words.as_of({ time: clock(pack.data.asOf) })} />
      )}
      {moved.value !== 0 && (
        <Notice tone="wait" title={words.clock_moved({ span: span(Math.abs(moved.value)) })} />
      )}
      <Loaded resource={pack}>{found => <Seat chair={chair} pack={found} />}</Loaded>
    </div>
  );
}

/** The chair of this station, and the clock of this device, once both were looked at. */
function useChair(stationId: string): Chair | undefined {
  const [chair, setChair] = useState<Chair>();
  useEffect(() => {
    let stop: (() => void) | undefined;
    const begin = async () => {
      void navigator.storage?.persist?.();
      const opened = await Chair.open(stationId);
      // Within a run the clock is not touched: its times have to follow each other.
      if (!opened.current.value?.runs.length) await measureClock().catch(() => undefined);
      stop = opened.listen();
      setChair(opened);
      void opened.refresh().catch(() => undefined);
    };
    void begin();
    const watch = setInterval(watchClock, 1000);
    return () => {
      stop?.();
      clearInterval(watch);
    };
  }, []);
  return chair;
}

function Seat({ chair, pack }: { chair: Chair; pack: Pack }) {
  // The run whose result was read, so that the next step follows it.
  const [read, setRead] = useState<string | null>(null);
  const one = chair.current.value;
  // What was refused after its person had left the chair waits here for a person too.
  const refused = chair.box.refused.value.find(entry =>
    one ? entry.lane === lane(one) : entry.lane.startsWith(LANE),
  );
  const run = one?.runs.at(-1);
  const part = { chair, pack };
  if (refused) return <Refusal chair={chair} entry={refused} />;
  if (!one) return <Idle {...part} />;
  if (!one.confirmed && !run) return <Confirm chair={chair} one={one} />;
  if (!run || read === run.id) return <Next key={run?.id} {...part} one={one} />;
  if (isOver(run, pack)) return <Outcome {...part} one={one} run={run} onRead={() => setRead(run.id)} />;
  if (chair.gone.value !== null) return <Resumed {...part} one={one} run={run} />;
  if (run.kind === "screening") return <ScreeningScreen {...part} one={one} run={run} />;
  const Screen = run.plan.measuring ? MeasuringScreen : AttemptScreen;
  return <Screen {...part} one={one} run={run} />;
}

/** Whether nothing more can happen in a run: the server says so, or what was recorded leaves nothing to do. */
function isOver(run: Run, pack: Pack): boolean {
  if (verdictOf(run)) return true;
  if (run.kind === "screening") return screened(pack.plans.screening, run.events).ended !== null;
  return standing(run.plan, run.events, now()).phase === "ended";
}
