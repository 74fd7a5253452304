import type { ComponentChildren } from "preact";
import { useState } from "preact/hooks";
import { useResource } from "../../app/use-resource";
import { Button } from "../../kit/button";
import { Page, Panel } from "../../kit/page";
import { Empty, Loaded } from "../../kit/states";
import { figures as words } from "../../words/figures";
import { type Days, daysFault, lastDays } from "./days";
import { DaysFields } from "./days-fields";

interface Props<Row> {
  title: string;
  /** What is said where there is nothing to count. */
  none: string;
  daysAtFirst: number;
  read: (days: Days) => Promise<Row[]>;
  nouns: readonly string[];
  /** Read again after this long, where no news tells of it. */
  everyMs?: number;
  /** What stands under the figures, whatever they are. */
  after?: ComponentChildren;
  children: (rows: Row[]) => ComponentChildren;
}

/** Figures of some days that somebody chooses: numbers, and no person. */
export function FiguresPage<Row>({
  title,
  none,
  daysAtFirst,
  read,
  nouns,
  after,
  children,
  ...rest
}: Props<Row>) {
  const [days, setDays] = useState<Days>(() => lastDays(daysAtFirst));
  const counted = useResource(daysFault(days) ? null : `${title} ${days.from} ${days.to}`, () => read(days), {
    nouns,
    ...rest,
  });
  return (
    <Page
      title={title}
      intro={words.no_person()}
      actions={<Button onClick={() => print()}>{words.print()}</Button>}
    >
      <DaysFields days={days} onDays={setDays} />
      {!daysFault(days) && (
        <Loaded resource={counted}>
          {rows =>
            rows.length === 0 ? (
              <Panel>
                <Empty title={none} />
              </Panel>
            ) : (
              children(rows)
            )
          }
        </Loaded>
      )}
      {after}
    </Page>
  );
}
