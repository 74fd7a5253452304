import { api, need, type Wire } from "../../api/client";
import { useResource } from "../../app/use-resource";
import { Panel } from "../../kit/page";
import { Empty, Loaded } from "../../kit/states";
import { Table } from "../../kit/table";
import { dayAndClock, number } from "../../words/format";
import { stores as words } from "../../words/stores";
import { usePlaces } from "./lists";
import type { Lot } from "./names";

type Entry = Wire<"PieceEntryView">;
const KNOWN = ["receive", "issue", "hand_over", "move", "return", "use", "discard", "count"] as const;

const nameOf = (entry: Entry): string => {
  const known = KNOWN.find(one => one === entry.movement);
  return known ? words[`movement_${known}`]() : entry.movement;
};

/** Everything that happened to the pieces of a lot, newest first; a count that disagreed shows by how much. */
export function PieceLedger({ lot }: { lot: Lot }) {
  const places = usePlaces().data ?? [];
  const ledger = useResource(
    `ledger ${lot.id}`,
    () => need(api.GET("/api/v1/lots/{lot_id}/ledger", { params: { path: { lot_id: lot.id } } })),
    { nouns: ["piece_movements", "attempts"] },
  );
  const more = (entry: Entry) =>
    [
      entry.handed_to,
      entry.reason,
      entry.difference ? words.differs({ amount: number(entry.difference) }) : "",
    ]
      .filter(Boolean)
      .join(" · ");
  return (
    <Panel title={words.ledger()}>
      <Loaded resource={ledger}>
        {entries =>
          entries.length === 0 ? (
            <Empty title={words.pieces_none()} />
          ) : (
            <Table
              caption={words.ledger()}
              rows={[...entries].reverse()}
              keyOf={one => `${one.id} ${one.place_id}`}
              columns={[
                { title: words.entry(), cell: nameOf },
                { title: words.when(), cell: one => dayAndClock(one.happened_at) },
                {
                  title: words.place(),
                  cell: one => places.find(place => place.id === one.place_id)?.name ?? "–",
                },
                {
                  title: words.change(),
                  cell: one => number(one.movement === "count" ? (one.counted ?? 0) : one.change),
                  number: true,
                },
                { title: words.after(), cell: one => number(one.on_hand), number: true },
                { title: words.by(), cell: one => one.by ?? "–" },
                { title: words.reason(), cell: more },
              ]}
            />
          )
        }
      </Loaded>
    </Panel>
  );
}
