import { useState } from "preact/hooks";
import { may } from "../../app/session";
import { announce } from "../../kit/announce";
import { Button } from "../../kit/button";
import { FileField } from "../../kit/field";
import { Notice } from "../../kit/notice";
import { Page, Panel } from "../../kit/page";
import { Empty, Loaded } from "../../kit/states";
import { Table } from "../../kit/table";
import { dayAndClock } from "../../words/format";
import { readings as words } from "../../words/readings";
import type { Exercise } from "./draft";
import { useMappings } from "./lists";
import { type Stored } from "./mapping";
import { NewMapping } from "./new-mapping";

/** As many as any protocol has; which they are is for each method to say. */
const EXERCISES_MAX = 12;

/** How are an instrument's files read? */
export default function Mappings() {
  const mappings = useMappings();
  const [making, setMaking] = useState(false);
  const [kept, setKept] = useState(false);
  return (
    <Page
      title={words.title()}
      intro={words.intro()}
      actions={
        may("create_reading_mapping") &&
        !making && (
          <Button
            kind="main"
            onClick={() => {
              setKept(false);
              setMaking(true);
            }}
          >
            {words.make()}
          </Button>
        )
      }
    >
      {kept && <Notice tone="go" title={words.kept()} />}
      {making && (
        <Make
          onCancel={() => setMaking(false)}
          onStored={() => {
            setMaking(false);
            setKept(true);
            announce(words.kept());
            mappings.reload();
          }}
        />
      )}
      <Panel title={words.mappings()}>
        <Loaded resource={mappings}>
          {rows =>
            rows.length === 0 ? (
              <Empty title={words.none()}>
                <p>{words.none_more()}</p>
              </Empty>
            ) : (
              <Kept rows={rows} />
            )
          }
        </Loaded>
        <p class="soft small">{words.replaced()}</p>
      </Panel>
    </Page>
  );
}

function Make({ onStored, onCancel }: { onStored: () => void; onCancel: () => void }) {
  const [text, setText] = useState<string | null>(null);
  const exercises: Exercise[] = Array.from({ length: EXERCISES_MAX }, (_, index) => ({
    number: index + 1,
    name: words.exercise_n({ n: index + 1 }),
  }));
  return (
    <Panel title={words.make()}>
      <FileField
        label={words.sample()}
        hint={words.sample_hint()}
        accept=".csv,.txt,text/csv"
        onFile={file => void file.text().then(setText)}
      />
      {text !== null && (
        <NewMapping key={text} text={text} exercises={exercises} onStored={onStored} onCancel={onCancel} />
      )}
    </Panel>
  );
}

function Kept({ rows }: { rows: readonly Stored[] }) {
  return (
    <Table
      caption={words.mappings()}
      rows={rows}
      keyOf={one => one.id}
      columns={[
        { title: words.name(), cell: one => one.name },
        { title: words.holds(), cell: ({ mapping }) => holds(mapping.layout) },
        { title: words.delimiter(), cell: ({ mapping }) => delimiterOf(mapping) },
        {
          title: words.decimal(),
          cell: ({ mapping }) => words[`decimal_${mapping.decimal_mark ?? "point"}`](),
        },
        { title: words.since(), cell: one => dayAndClock(one.recorded_at) },
      ]}
    />
  );
}

function holds(layout: Stored["mapping"]["layout"]): string {
  const columns = layout.rows === "row_per_test" ? layout.measurements[0]?.columns : layout.columns;
  const rows = `${words.rows()} ${words[`rows_${layout.rows}`]()}`;
  return columns ? `${rows}: ${words[`basis_${columns.basis}`]()}` : rows;
}

function delimiterOf({ delimiter = "from_file" }: Stored["mapping"]): string {
  return delimiter === "from_file" ? words.delimiter_from_file() : words[`delimiter_${delimiter}`]();
}
