import { api, need, type Wire } from "../../api/client";
import { to } from "../../app/screens";
import { may } from "../../app/session";
import { useAction } from "../../app/use-action";
import { useResource } from "../../app/use-resource";
import { Button } from "../../kit/button";
import { ProblemNotice } from "../../kit/notice";
import { Panel } from "../../kit/page";
import { Loaded } from "../../kit/states";
import { saveFile } from "../../kit/save-file";
import { Table } from "../../kit/table";
import { stores as words } from "../../words/stores";
import type { Lot } from "./names";

const GROUPS = ["surely", "possibly", "not_affected"] as const;
/** What a look-back follows from. */
const NOUNS = ["attempts", "fills", "fill_emptyings", "fill_gaps", "lot_stops", "placements", "screenings"];

/** How many stand on the lot, and where: numbers and no person, because the storekeeper sees none. */
export function LotCounts({ lot }: { lot: Lot }) {
  const counts = useResource(
    may("read_look_back_counts") ? `counts ${lot.id}` : null,
    () => need(api.GET("/api/v1/look_backs/counts", { params: { query: { lot_id: lot.id } } })),
    { nouns: NOUNS },
  );
  const walk = useAction(async () => {
    const query = { lot_id: lot.id };
    const file = await need(
      api.GET("/api/v1/look_backs/runner_list", { params: { query }, parseAs: "blob" }),
    );
    saveFile(file as unknown as Blob, `runner-list-${lot.lot_number}.pdf`);
  });
  if (!may("read_look_back_counts")) return null;
  return (
    <Panel
      title={words.counts()}
      actions={
        <div class="row">
          {may("read_runner_list") && (
            <Button busy={walk.busy} onClick={() => void walk.run()}>
              {words.runner_list()}
            </Button>
          )}
          {may("read_look_back") && <Button href={to(`/look-back/lot/${lot.id}`)}>{words.who()}</Button>}
        </div>
      }
    >
      <ProblemNotice problem={walk.problem} />
      <Loaded resource={counts}>{found => <Counts counts={found} />}</Loaded>
    </Panel>
  );
}

function Counts({ counts }: { counts: Wire<"CountsView"> }) {
  return (
    <>
      <Table
        caption={words.counts()}
        rows={GROUPS}
        keyOf={group => group}
        columns={[
          { title: words.state(), cell: group => words[group]() },
          { title: words.people_title(), cell: group => words.people({ n: counts.totals[group].people }) },
          { title: words.runs_title(), cell: group => words.runs(counts.totals[group]) },
        ]}
      />
      {counts.stations.length > 0 && (
        <Table
          caption={words.runs_where()}
          rows={counts.stations}
          keyOf={one => one.station_id}
          columns={[
            { title: words.runs_where(), cell: one => words.at_station(one) },
            { title: words.surely(), cell: one => one.surely, number: true },
            { title: words.possibly(), cell: one => one.possibly, number: true },
            { title: words.not_affected(), cell: one => one.not_affected, number: true },
          ]}
        />
      )}
    </>
  );
}
