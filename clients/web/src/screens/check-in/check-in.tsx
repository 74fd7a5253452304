import { useState } from "preact/hooks";
import { all, api } from "../../api/client";
import { day } from "../../app/place";
import { useResource } from "../../app/use-resource";
import { Tag } from "../../kit/answer";
import { Button } from "../../kit/button";
import { Page, Panel } from "../../kit/page";
import { PrivacyCover } from "../../kit/privacy-cover";
import { checkIn as words } from "../../words/check-in";
import { peopleWords } from "../../words/people";
import { FindPerson } from "../people/find-person";
import { NewPerson } from "../people/new-person";
import type { Person } from "../people/person";
import { Counts } from "./counts";
import { PersonAtDesk } from "./person-at-desk";

/** A desk that nobody works at for so long shows nothing to the queue in front of it. */
const COVER_MS = 60_000;

/** Who is this, and are they ready now? */
export default function CheckIn() {
  const dayId = day.value?.id ?? "";
  const [person, setPerson] = useState<Person | null>(null);
  const [adding, setAdding] = useState(false);
  const visits = useResource(
    `visits ${dayId}`,
    () =>
      all(cursor => api.GET("/api/v1/visits", { params: { query: { day_id: dayId, cursor, limit: 500 } } })),
    { nouns: ["visits", "visit_answers", "calls", "visit_returns"] },
  );
  const visitOf = (one: Person) => visits.data?.find(visit => visit.person_id === one.id);
  const choose = (next: Person | null) => {
    setAdding(false);
    setPerson(next);
  };
  return (
    <PrivacyCover afterMs={COVER_MS} title={words.hidden()} hint={words.hidden_more()}>
      <Page title={words.title()}>
        <div class="columns">
          {person ? (
            <PersonAtDesk
              key={person.id}
              person={person}
              visitId={visitOf(person)?.id}
              known={visits.data !== undefined}
              onNext={() => choose(null)}
            />
          ) : adding ? (
            <Panel title={peopleWords.new_title()}>
              <NewPerson onMade={choose} onCancel={() => choose(null)} />
            </Panel>
          ) : (
            <Panel>
              <FindPerson
                onFound={choose}
                beside={one => visitOf(one) && <Tag tone="plain">{words.already()}</Tag>}
                otherwise={
                  <div>
                    <Button onClick={() => setAdding(true)}>{peopleWords.not_on_list()}</Button>
                  </div>
                }
              />
            </Panel>
          )}
          <Counts dayId={dayId} />
        </div>
      </Page>
    </PrivacyCover>
  );
}
