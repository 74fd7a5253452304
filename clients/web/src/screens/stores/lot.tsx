import "./stores.css";
import { useRoute } from "preact-iso";
import { all, api } from "../../api/client";
import { to } from "../../app/screens";
import { may } from "../../app/session";
import { useResource } from "../../app/use-resource";
import { Tag } from "../../kit/answer";
import { Notice } from "../../kit/notice";
import { Facts, Page, Panel } from "../../kit/page";
import { Empty, Loaded } from "../../kit/states";
import { Table } from "../../kit/table";
import { date, dayAndClock, millilitres } from "../../words/format";
import { preparationWords } from "../../words/preparations";
import { shell } from "../../words/shell";
import { stores as words } from "../../words/stores";
import { AddBottles } from "./add-bottles";
import { LotCounts } from "./lot-counts";
import { LotStop } from "./lot-stop";
import { useLots, usePlaces, useRespirators } from "./lists";
import { bottleWord, kindOf, type Lot, stateOf } from "./names";
import { PieceActions } from "./piece-actions";
import { PieceLedger } from "./piece-ledger";

/** One lot: what it is, where everything of it went, and what to do with it. */
export default function OneLot() {
  const { id = "" } = useRoute().params;
  const lots = useLots();
  const respirators = useRespirators().data ?? [];
  return (
    <Loaded resource={lots}>
      {found => {
        const lot = found.find(one => one.id === id);
        if (!lot) return <Page title={shell.not_found()} narrow />;
        return (
          <Page title={words.lot({ number: lot.lot_number })} intro={kindOf(lot, respirators)}>
            <About lot={lot} />
            <div class="columns">
              <Balance lot={lot} />
              <LotStop lot={lot} />
            </div>
            {lot.solution ? <Bottles lot={lot} /> : <PieceActions lot={lot} />}
            {!lot.solution && may("read_lot_ledger") && <PieceLedger lot={lot} />}
            <LotCounts lot={lot} />
          </Page>
        );
      }}
    </Loaded>
  );
}

function About({ lot }: { lot: Lot }) {
  const { tone, word } = stateOf(lot);
  return (
    <Panel>
      <div class="row">
        <Tag tone={tone}>{word}</Tag>
      </div>
      {lot.stopped && (
        <Notice tone="stop">
          <p>{words.caution_stop()}</p>
        </Notice>
      )}
      <Facts
        facts={[
          [words.maker(), lot.maker],
          [words.expiry(), lot.printed_expiry],
          [words.expiry_read(), lot.expires_on && date(lot.expires_on)],
          [words.opened_life(), lot.opened_life_days],
          [words.box_lot(), lot.box_lot_number],
          [words.box_count(), lot.box_count],
          [words.received(), dayAndClock(lot.happened_at)],
          [preparationWords.made_by(), lot.prepared?.made_by],
        ]}
      />
    </Panel>
  );
}

const NOUNS = ["bottles", "bottle_movements", "fills", "fill_emptyings", "piece_movements", "placements"];

function Balance({ lot }: { lot: Lot }) {
  const places = usePlaces().data ?? [];
  const balances = useResource(
    "balances",
    () => all(cursor => api.GET("/api/v1/balances", { params: { query: { cursor, limit: 500 } } })),
    { nouns: NOUNS },
  );
  return (
    <Panel title={words.balance()}>
      <Loaded resource={balances}>
        {rows => {
          const balance = rows.find(one => one.lot.id === lot.id);
          const volumes = balance?.volumes;
          if (volumes) {
            return (
              <Facts
                facts={[
                  [words.received(), millilitres(volumes.received_ul)],
                  [words.in_bottles(), millilitres(volumes.in_bottles_ul)],
                  [words.in_nebulizers(), millilitres(volumes.in_nebulizers_ul)],
                  [words.used(), millilitres(volumes.used_ul)],
                  [words.discarded(), millilitres(volumes.discarded_ul)],
                  [words.spilled(), millilitres(volumes.spilled_ul)],
                  [words.prepared(), millilitres(volumes.prepared_ul)],
                  [words.difference(), millilitres(volumes.difference_ul)],
                  [words.astray(), volumes.astray_ul === 0 ? null : millilitres(volumes.astray_ul)],
                ]}
              />
            );
          }
          const pieces = balance?.pieces ?? [];
          if (pieces.length === 0) return <Empty title={words.pieces_none()} />;
          return (
            <Table
              caption={words.pieces()}
              rows={pieces}
              keyOf={one => one.place_id}
              columns={[
                {
                  title: words.place(),
                  cell: one => places.find(place => place.id === one.place_id)?.name ?? words.nobody_said(),
                },
                { title: words.pieces(), cell: one => one.on_hand, number: true },
              ]}
            />
          );
        }}
      </Loaded>
    </Panel>
  );
}

function Bottles({ lot }: { lot: Lot }) {
  const bottles = useResource(
    `bottles ${lot.id}`,
    () =>
      all(cursor =>
        api.GET("/api/v1/bottles", { params: { query: { lot_id: lot.id, cursor, limit: 500 } } }),
      ),
    { nouns: [...NOUNS, "bottle_openings", "lot_stops", "stops", "stop_releases"] },
  );
  return (
    <Panel title={words.bottles()}>
      <Loaded resource={bottles}>
        {rows =>
          rows.length === 0 ? (
            <Empty title={words.bottles_none()} />
          ) : (
            <Table
              caption={words.bottles()}
              rows={rows}
              keyOf={one => one.id}
              columns={[
                {
                  title: words.label(),
                  cell: one => <a href={to(`/stores/bottles/${one.id}`)}>{one.label}</a>,
                },
                { title: words.place(), cell: one => one.place?.name ?? words.nobody_said() },
                {
                  title: words.state(),
                  cell: one => <Tag tone={one.usable ? "go" : "stop"}>{bottleWord(one)}</Tag>,
                },
                { title: words.on_hand(), cell: one => millilitres(one.on_hand_ul), number: true },
              ]}
            />
          )
        }
      </Loaded>
      {may("create_bottle") && <AddBottles lot={lot} onAdded={bottles.reload} />}
    </Panel>
  );
}
