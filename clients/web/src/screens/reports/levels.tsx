import type { Wire } from "../../api/client";
import { Panel } from "../../kit/page";
import { Empty } from "../../kit/states";
import { Table } from "../../kit/table";
import { reports as words } from "../../words/reports";
import { stores } from "../../words/stores";
import { rangeOf, shareOf } from "./passes";
import { type Bar, ShareChart } from "./share-chart";

type Row = Wire<"LevelsView">;

const nameOf = (row: Row) => `${row.lot_number}, ${stores[`agent_${row.agent}`]()}`;

/** Screening levels per lot of solution: a lot with which everybody tastes at once is worth a look. */
export function Levels({ report }: { report: Wire<"ReportView"> }) {
  const { levels, smallest_group } = report;
  const bars: Bar[] = levels.flatMap(row =>
    row.level_10 ? [{ key: `${row.lot_id} ${row.agent}`, name: nameOf(row), share: row.level_10 }] : [],
  );
  return (
    <Panel title={words.levels()}>
      {levels.length === 0 ? (
        <Empty title={words.none()} />
      ) : (
        <>
          <p class="soft">{words.levels_more()}</p>
          {bars.length > 0 && <ShareChart bars={bars} />}
          <Table
            caption={words.levels()}
            rows={levels}
            keyOf={row => `${row.lot_id} ${row.agent}`}
            columns={[
              { title: words.lot(), cell: nameOf },
              {
                title: words.people(),
                cell: row => row.people ?? words.hidden({ n: smallest_group }),
                number: true,
              },
              {
                title: words.level_10(),
                cell: row => (row.level_10 ? shareOf(row.level_10) : "–"),
                number: true,
              },
              {
                title: words.range(),
                cell: row => (row.level_10 ? rangeOf(row.level_10) : "–"),
                number: true,
              },
              { title: words.level_20(), cell: row => row.level_20?.count ?? "–", number: true },
              { title: words.level_30(), cell: row => row.level_30?.count ?? "–", number: true },
              { title: words.not_tasted(), cell: row => row.not_tasted?.count ?? "–", number: true },
            ]}
          />
        </>
      )}
    </Panel>
  );
}
