import type { Wire } from "../../api/client";
import { Tag } from "../../kit/answer";
import { Facts } from "../../kit/page";
import type { Tone } from "../../kit/shape";
import { date, dayAndClock, list } from "../../words/format";
import { lookBack as words } from "../../words/look-back";

type Person = Wire<"LookBackPerson">;

const TONES: Record<Wire<"ClearanceState">, Tone> = { cleared: "go", held: "unknown", not_cleared: "stop" };

/** One person: why they are listed, what their clearances are without the doubtful attempts, and what mends it. */
export function PersonRow({ person, gates }: { person: Person; gates: ReadonlyMap<string, string> }) {
  return (
    <article class="look-back-person">
      <div class="row row-apart">
        <h3>
          {person.given_name} {person.family_name}
        </h3>
        <span class="soft number">{[person.staff_number, person.unit].filter(Boolean).join(" · ")}</span>
      </div>
      <Facts
        facts={[
          [words.reason(), <Reasons person={person} />],
          [
            words.clearances(),
            person.clearances.length > 0 && (
              <ul class="stack stack-close">
                {person.clearances.map(one => (
                  <li key={one.respirator_id}>
                    <Clearance one={one} />
                  </li>
                ))}
              </ul>
            ),
          ],
          [words.entries(), <Entries person={person} />],
          [words.retests(), <Retests person={person} gates={gates} />],
          [words.badges(), person.badges.map(one => one.serial).join(", ")],
        ]}
      />
    </article>
  );
}

/** Each reason once, with the moments of its runs. */
function Reasons({ person }: { person: Person }) {
  const moments = new Map<string, string[]>();
  for (const run of person.runs) {
    for (const reason of run.reasons) {
      const text = words[`reason_${reason}`]();
      moments.set(text, [...(moments.get(text) ?? []), dayAndClock(run.happened_at)]);
    }
  }
  return (
    <ul class="stack stack-close">
      {[...moments].map(([reason, times]) => (
        <li key={reason}>
          {reason} <span class="soft small">({[...new Set(times)].join("; ")})</span>
        </li>
      ))}
    </ul>
  );
}

function Clearance({ one }: { one: Wire<"ClearanceDoubtView"> }) {
  const state = one.without_possible.state;
  const due = one.without_possible.due_on;
  return (
    <>
      <Tag tone={TONES[one.now.state]}>
        {words.respirator_line({ respirator: one.respirator, state: words[`state_${one.now.state}`]() })}
      </Tag>{" "}
      <span class="soft small">
        {words.without()}: {words[`state_${state}`]()}
        {due ? `, ${date(due)}` : ""}
      </span>
    </>
  );
}

function Entries({ person }: { person: Person }) {
  if (person.entries.length === 0) return <>{words.no_entries()}</>;
  return (
    <ul>
      {person.entries.map(one => (
        <li key={one.gate_id}>
          {words.entries_at({ gate: one.gate, n: one.count, last: dayAndClock(one.last_at) })}
        </li>
      ))}
    </ul>
  );
}

/** Respirators and gates come by their ids. */
function Retests({ person, gates: names }: { person: Person; gates: ReadonlyMap<string, string> }) {
  const respirator = (id: string) =>
    person.clearances.find(one => one.respirator_id === id)?.respirator ?? "…";
  const gates = (ids: readonly string[]) => list(ids.map(id => names.get(id) ?? "…"));
  const lost = person.gates_without_retest;
  if (person.retests.length === 0 && lost.length === 0) return <>{words.no_retest()}</>;
  return (
    <ul>
      {person.retests.map(one => (
        <li key={one.respirator}>
          {one.gates.length > 0
            ? words.retest_for({ respirator: respirator(one.respirator), gates: gates(one.gates) })
            : words.retest_alone({ respirator: respirator(one.respirator) })}
        </li>
      ))}
      {lost.length > 0 && <li>{words.without_retest({ gates: gates(lost) })}</li>}
    </ul>
  );
}
