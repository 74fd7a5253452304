import { all, api } from "../../api/client";
import { useResource } from "../../app/use-resource";
import { Facts, Panel } from "../../kit/page";
import { Empty, Loaded } from "../../kit/states";
import { dayAndClock, list, number } from "../../words/format";
import { roster as words } from "../../words/roster";

/** The files taken so far, newest first, each with its fingerprint: what HR sent is kept as it came. */
export function Before() {
  const files = useResource("roster imports", () =>
    all(cursor => api.GET("/api/v1/roster_imports", { params: { query: { cursor, limit: 500 } } })),
  );
  return (
    <Panel title={words.before()}>
      <Loaded resource={files}>
        {found =>
          found.length === 0 ? (
            <Empty title={words.before_none()} />
          ) : (
            <ul class="rows">
              {found
                .toSorted((one, other) => other.recorded_at.localeCompare(one.recorded_at))
                .map(one => (
                  <li key={one.id} class="entry">
                    <p class="strong">{dayAndClock(one.recorded_at)}</p>
                    <Facts
                      facts={[
                        [words.rows(), number(one.row_count)],
                        [words.added(), number(one.added_count)],
                        [words.changed(), number(one.changed_count)],
                        [words.unchanged(), number(one.unchanged_count)],
                        [words.missing(), number(one.missing_count)],
                        [words.columns_taken(), list(Object.values(one.columns as Record<string, string>))],
                      ]}
                    />
                    <p class="soft small whole-line">
                      {words.print()}: <span class="number">{one.file_sha256}</span>
                    </p>
                  </li>
                ))}
            </ul>
          )
        }
      </Loaded>
    </Panel>
  );
}
