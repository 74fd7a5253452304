import type { Wire } from "../../api/client";
import { Panel } from "../../kit/page";
import { Empty } from "../../kit/states";
import { Table } from "../../kit/table";
import { attempt as words } from "../../words/attempt";
import { clockWithSeconds, minutesAndSeconds } from "../../words/format";
import type { Attempt } from "./attempt";

export type Event = Wire<"AttemptEvent">;

/** What happened, in order, with the time between: the verdict follows from these and from nothing else. */
export function Events({ attempt: { events, late_events: late = [] } }: { attempt: Attempt }) {
  return (
    <>
      <Panel title={words.events()}>
        {events.length === 0 ? <Empty title={words.events_none()} /> : <InOrder events={events} />}
      </Panel>
      {late.length > 0 && (
        <Panel title={words.late_events()}>
          <p class="soft">{words.late_events_more()}</p>
          <InOrder events={late} />
        </Panel>
      )}
    </>
  );
}

function InOrder({ events }: { events: readonly Event[] }) {
  const since = (event: Event) => {
    const before = events[events.indexOf(event) - 1];
    return before ? minutesAndSeconds(Date.parse(event.happened_at) - Date.parse(before.happened_at)) : "–";
  };
  return (
    <Table
      caption={words.events()}
      rows={events}
      keyOf={event => String(event.seq)}
      columns={[
        { title: words.event(), cell: event => `${event.seq}. ${said(event)}` },
        { title: words.event_time(), cell: event => clockWithSeconds(event.happened_at) },
        { title: words.event_since(), cell: since },
      ]}
    />
  );
}

/** One event in words. */
export function said(event: Event): string {
  switch (event.kind) {
    case "donned":
      if (!event.by_wearer) return words.e_donned_helped();
      return event.fresh && event.seq > 1 ? words.e_donned_fresh() : words.e_donned();
    case "seal_checked":
      return words[`e_seal_${event.result}`]();
    case "hooded":
      return event.taste_gone ? words.e_hooded() : words.e_hooded_not();
    case "dose_given":
      return words.e_dose_given({ n: event.squeezes });
    case "exercise_started":
    case "exercise_ended":
    case "perimeter_passed":
      return words[`e_${event.kind}`]({ n: event.number });
    case "measured":
      return words.e_measured({ n: event.exercise, reading: reading(event.reading) });
    case "asked_again":
      if (event.tasted) return words.e_asked_tasted();
      return event.comfortable ? words.e_asked_no() : words.e_asked_uncomfortable();
    case "seal_broken":
      return event.noticed ? words.e_seal_broken() : words.e_seal_broken_not();
    case "sensitivity_checked":
      return event.noticed ? words.e_sensitivity_checked() : words.e_sensitivity_checked_not();
    case "nebulizer_checked":
      return event.clear ? words.e_nebulizer_clear() : words.e_nebulizer_clogged();
    default:
      return words[`e_${event.kind}`]();
  }
}

function reading(one: Wire<"Reading">): string {
  if (one.basis === "fit_factor") return String(one.fit_factor);
  return one.basis === "inside" ? words.reading_other() : words.reading_concentrations();
}
