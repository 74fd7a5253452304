import { useState } from "preact/hooks";
import { api, need, newId, type Wire } from "../../api/client";
import { day } from "../../app/place";
import { useResource } from "../../app/use-resource";
import { Answer } from "../../kit/answer";
import { Button } from "../../kit/button";
import { Notice, ProblemNotice } from "../../kit/notice";
import { Panel } from "../../kit/page";
import { Loaded, Loading } from "../../kit/states";
import { useLane } from "../../outbox/use-lane";
import { checkIn as words } from "../../words/check-in";
import { monthDay } from "../../words/format";
import { apart, fullName, type Person } from "../people/person";
import { type Answered, Questions } from "./questions";
import { VisitVerdict } from "./visit-verdict";

type Visit = Wire<"VisitView">;

const ASK_MS = 10_000;

interface Props {
  person: Person;
  /** The person's visit of this day, when they were checked in before. */
  visitId: string | undefined;
  /** Whether the visits of the day are known: without, nobody can tell whether this is the first time. */
  known: boolean;
  onNext: () => void;
}

/** One person at the desk: who they are, the questions, and what they are told. */
export function PersonAtDesk({ person, visitId, known, onNext }: Props) {
  const [id] = useState(newId);
  const [asking, setAsking] = useState(false);
  const lane = useLane<Visit>(`check_in:${person.id}`);
  const visit = useResource(
    visitId ? `visit ${visitId}` : null,
    () => need(api.GET("/api/v1/visits/{visit_id}", { params: { path: { visit_id: visitId ?? "" } } })),
    // A desk hears nothing of a clinician's decision, only that it holds nobody back any more.
    { nouns: ["visits", "visit_answers", "calls", "visit_returns"], everyMs: ASK_MS },
  );

  // The answer to what was just sent stands there before the visit is read again.
  const shown = visit.data ?? lane.answer;

  const answer = async ({ answers, walkIn, at }: Answered) => {
    const happened_at = at.toISOString();
    if (visitId) {
      const body = { id: newId(), answers, happened_at };
      await lane.send({ what: "visit_answers", path: `/api/v1/visits/${visitId}/answers`, body });
    } else {
      const body = { id, day_id: day.value?.id, person_id: person.id, walk_in: walkIn, answers, happened_at };
      await lane.send({ what: "check_in", path: "/api/v1/visits", body });
    }
    setAsking(false);
  };

  return (
    <Panel
      title={fullName(person)}
      actions={
        <Button onClick={onNext}>
          {visitId || lane.answer ? words.next_person() : words.someone_else()}
        </Button>
      }
    >
      <p class="soft number">{apart(person)}</p>
      {lane.problem && (
        <>
          <Notice tone="stop" title={words.refused_kept({ name: fullName(person) })} />
          <ProblemNotice problem={lane.problem} />
          <div class="row">
            <Button onClick={lane.again}>{words.again()}</Button>
            <Button kind="quiet" onClick={lane.drop}>
              {words.drop()}
            </Button>
          </div>
        </>
      )}
      {lane.waiting ? (
        <Answer tone="wait" word={words.kept()}>
          <p>{words.kept_more()}</p>
        </Answer>
      ) : asking || (known && !visitId && !lane.answer && !lane.problem) ? (
        <>
          {!visitId && <Identity person={person} />}
          <Questions first={!visitId} busy={lane.waiting} onAnswered={answered => void answer(answered)} />
        </>
      ) : shown ? (
        <>
          <VisitVerdict visit={shown} onReady={visit.reload} />
          {visitId && shown.verdict && !shown.held_by_station_id && (
            <div>
              <Button onClick={() => setAsking(true)}>{words.settled()}</Button>
            </div>
          )}
        </>
      ) : visitId ? (
        <Loaded resource={visit}>{() => null}</Loaded>
      ) : (
        !lane.problem && <Loading />
      )}
    </Panel>
  );
}

/** The two facts to ask for: a name alone is not a person. */
function Identity({ person }: { person: Person }) {
  const number = words.number_ending({ ending: person.staff_number.slice(-4) });
  return (
    <Notice
      tone="plain"
      title={
        person.birth_month_day
          ? words.confirm({ number, birthday: monthDay(person.birth_month_day) })
          : words.confirm_number({ number })
      }
    />
  );
}
