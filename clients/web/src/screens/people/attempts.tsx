import { all, api } from "../../api/client";
import { useResource } from "../../app/use-resource";
import { Panel } from "../../kit/page";
import { Empty, Loaded } from "../../kit/states";
import { person as words } from "../../words/person";
import { AttemptTable } from "../records/attempt-table";
import { useRespiratorNames } from "../records/names";

/** Every attempt of one person, newest first; what failed and what does not count among them. */
export function Attempts({ personId }: { personId: string }) {
  const respirators = useRespiratorNames();
  const attempts = useResource(
    `attempts of ${personId}`,
    () =>
      all(cursor =>
        api.GET("/api/v1/attempts", { params: { query: { person_id: personId, cursor, limit: 500 } } }),
      ),
    { nouns: ["attempts", "attempt_corrections"] },
  );
  return (
    <Panel title={words.attempts()}>
      <Loaded resource={attempts}>
        {found =>
          found.length === 0 ? (
            <Empty title={words.attempts_none()} />
          ) : (
            <AttemptTable
              caption={words.attempts()}
              items={found.toSorted((one, other) => other.happened_at.localeCompare(one.happened_at))}
              respirators={respirators}
            />
          )
        }
      </Loaded>
    </Panel>
  );
}
