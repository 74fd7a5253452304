import { api, type Wire } from "../../api/client";
import { usePages } from "../../app/use-pages";
import { More } from "../../kit/more";
import { Panel } from "../../kit/page";
import { Empty, Loaded } from "../../kit/states";
import { Table } from "../../kit/table";
import { clockWithSeconds, date, dateAtSite, span } from "../../words/format";
import { gateRecords as words } from "../../words/gate-records";
import { useRespiratorNames } from "../records/names";
import { lateBy } from "../records/outcome";
import { AnswerTag } from "./answer-tag";
import { BadgeName, useBadges } from "./badge-name";

type Scan = Wire<"ScanView">;

/** Every reading at one gate with its reason, which the gate itself never showed. */
export function Scans({ gateId }: { gateId: string }) {
  const respirators = useRespiratorNames();
  const { resource, more } = usePages(`scans ${gateId}`, (cursor, limit) =>
    api.GET("/api/v1/gates/{gate_id}/scans", {
      params: { path: { gate_id: gateId }, query: { cursor, limit } },
    }),
  );
  const badges = useBadges(resource.data?.items.map(scan => scan.badge_id) ?? []);
  return (
    <Panel title={words.tab_scans()}>
      <Loaded resource={resource}>
        {({ items, rest }) =>
          items.length === 0 ? (
            <Empty title={words.scans_none()} />
          ) : (
            <>
              <p class="soft small">{words.scans_order()}</p>
              <Table
                caption={words.tab_scans()}
                rows={items}
                keyOf={scan => scan.id}
                columns={[
                  {
                    title: words.time(),
                    cell: scan =>
                      `${date(dateAtSite(scan.happened_at))}, ${clockWithSeconds(scan.happened_at)}`,
                  },
                  { title: words.answer(), cell: scan => <AnswerTag answer={scan.answer} /> },
                  { title: words.why(), cell: scan => words[`reason_${scan.reason}`]() },
                  { title: words.badge(), cell: scan => <BadgeName id={scan.badge_id} badges={badges} /> },
                  {
                    title: words.respirator(),
                    cell: scan => (scan.respirator_id ? (respirators.get(scan.respirator_id) ?? "…") : "–"),
                  },
                  { title: words.remarks(), cell: scan => remarks(scan).join("; ") || "–" },
                ]}
              />
              <More rest={rest} busy={resource.loading} onMore={more} />
            </>
          )
        }
      </Loaded>
    </Panel>
  );
}

function remarks(scan: Scan): string[] {
  const late = lateBy(scan);
  return [
    scan.typed && words.typed(),
    scan.repeats_at && words.repeat(),
    scan.twin_gate_id && words.twin(),
    late > 0 && words.late({ span: span(late) }),
  ].filter((one): one is string => typeof one === "string");
}
