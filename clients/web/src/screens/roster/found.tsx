import type { ComponentChildren } from "preact";
import { Notice } from "../../kit/notice";
import { Facts, Panel } from "../../kit/page";
import { Table } from "../../kit/table";
import { number } from "../../words/format";
import { roster as words } from "../../words/roster";
import type { Preview } from "./file";

/** What the server found in the file; what takes it stands below, where nothing is in the way. */
export function Found({ found, children }: { found: Preview; children: ComponentChildren }) {
  const clean = found.problem_count === 0 && found.row_count > 0;
  return (
    <Panel title={words.preview()}>
      <Facts
        facts={[
          [words.rows(), number(found.row_count)],
          [words.added(), number(found.added_count)],
          [words.changed(), number(found.changed_count)],
          [words.unchanged(), number(found.unchanged_count)],
          [words.missing(), number(found.missing_count)],
        ]}
      />
      {found.row_count === 0 && <Notice tone="stop" title={words.empty()} />}
      {found.missing_count > 0 && (
        <Notice tone="wait" title={words.missing_more({ n: found.missing_count })} />
      )}
      {found.names_to_check.length > 0 && (
        <Notice tone="plain" title={words.names()}>
          <p>{words.names_more()}</p>
          <ul>
            {found.names_to_check.map(name => (
              <li key={name} class="strong">
                {name}
              </li>
            ))}
          </ul>
        </Notice>
      )}
      {found.problem_count > 0 && <Problems found={found} />}
      {clean && <Notice tone="go" title={words.ready()} />}
      {clean && children}
    </Panel>
  );
}

function Problems({ found }: { found: Preview }) {
  return (
    <>
      <Notice tone="stop" title={words.problems({ n: found.problem_count })}>
        <p>{words.problems_more()}</p>
        {found.problem_count > found.problems.length && (
          <p>{words.problems_first({ n: found.problems.length })}</p>
        )}
      </Notice>
      <Table
        caption={words.problems({ n: found.problem_count })}
        rows={found.problems.map((problem, n) => ({ ...problem, n }))}
        keyOf={one => String(one.n)}
        columns={[
          { title: words.line(), cell: one => number(one.line) },
          { title: words.column(), cell: one => one.column ?? "–" },
          { title: words.mistake(), cell: one => words[`line_${one.code}`]() },
        ]}
      />
    </>
  );
}
