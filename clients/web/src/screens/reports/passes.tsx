import type { Wire } from "../../api/client";
import { Panel } from "../../kit/page";
import { Empty } from "../../kit/states";
import { Table } from "../../kit/table";
import { percent } from "../../words/format";
import { reports as words } from "../../words/reports";
import { type Bar, ShareChart } from "./share-chart";

type Row = Wire<"PassesView">;

const nameOf = (row: Row) => `${row.name}, ${row.size}`;

export const rangeOf = (share: Wire<"ShareView">) =>
  words.range_of({ low: percent(share.low), high: percent(share.high) });

/** "12 of 15 (80 %)" */
export const shareOf = (share: Wire<"ShareView">) =>
  `${words.of({ count: share.count, of: share.of })} (${percent(share.share)})`;

/** Passes per respirator: which ones fail many, and how sure that is. */
export function Passes({ report }: { report: Wire<"ReportView"> }) {
  const { passes, all_passes: together, smallest_group } = report;
  const bars: Bar[] = passes.flatMap(row =>
    row.passes ? [{ key: row.respirator_id, name: nameOf(row), share: row.passes }] : [],
  );
  if (together && bars.length > 1) bars.push({ key: "all", name: words.all(), share: together });
  return (
    <Panel title={words.passes()}>
      {passes.length === 0 ? (
        <Empty title={words.none()} />
      ) : (
        <>
          <p class="soft">{words.passes_more()}</p>
          {bars.length > 0 && <ShareChart bars={bars} />}
          <Table
            caption={words.passes()}
            rows={passes}
            keyOf={row => row.respirator_id}
            columns={[
              { title: words.respirator(), cell: nameOf },
              {
                title: words.people(),
                cell: row => row.people ?? words.hidden({ n: smallest_group }),
                number: true,
              },
              { title: words.share(), cell: row => (row.passes ? shareOf(row.passes) : "–"), number: true },
              { title: words.range(), cell: row => (row.passes ? rangeOf(row.passes) : "–"), number: true },
              { title: words.voids(), cell: row => row.voids ?? "–", number: true },
              { title: words.stops(), cell: row => row.stops ?? "–", number: true },
            ]}
          />
        </>
      )}
    </Panel>
  );
}
