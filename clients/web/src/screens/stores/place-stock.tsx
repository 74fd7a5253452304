import { useRoute } from "preact-iso";
import { useState } from "preact/hooks";
import { api, need } from "../../api/client";
import { to } from "../../app/screens";
import { may } from "../../app/session";
import { useResource } from "../../app/use-resource";
import { Tag } from "../../kit/answer";
import { Button } from "../../kit/button";
import { Dialog } from "../../kit/dialog";
import { Edited } from "../../kit/form";
import { Page, Panel } from "../../kit/page";
import { Empty, Loaded } from "../../kit/states";
import { Table } from "../../kit/table";
import { millilitres } from "../../words/format";
import { kit } from "../../words/kit";
import { stores as words } from "../../words/stores";
import { EditStoreroom } from "./edit-storeroom";
import { EquipmentTable } from "./equipment-table";
import { FillGaps } from "./fill-gaps";
import { useRespirators } from "./lists";
import { StationFills } from "./station-fills";
import { bottleWord, kindOf, placeKind, solutionName } from "./names";

const NOUNS = [
  "bottles",
  "bottle_movements",
  "equipment",
  "equipment_checks",
  "fills",
  "piece_movements",
  "placements",
  "places",
];

/** What is at one place, by the books. */
export default function PlaceStock() {
  const { id = "" } = useRoute().params;
  const respirators = useRespirators().data ?? [];
  const stock = useResource(
    `stock ${id}`,
    () => need(api.GET("/api/v1/places/{place_id}/stock", { params: { path: { place_id: id } } })),
    { nouns: NOUNS },
  );
  const [changing, setChanging] = useState(false);
  const close = () => setChanging(false);
  const stored = () => {
    close();
    stock.reload();
  };
  return (
    <Loaded resource={stock}>
      {({ place, bottles, equipment, pieces }) => (
        <Page
          title={place.name}
          intro={placeKind(place)}
          actions={
            !place.station_id &&
            may("update_place") && <Button onClick={() => setChanging(true)}>{kit.change()}</Button>
          }
        >
          {bottles.length + equipment.length + pieces.length === 0 && <Empty title={words.here_none()} />}
          {bottles.length > 0 && (
            <Panel title={words.bottles()}>
              <Table
                caption={words.bottles()}
                rows={bottles}
                keyOf={one => one.id}
                columns={[
                  {
                    title: words.label(),
                    cell: one => <a href={to(`/stores/bottles/${one.id}`)}>{one.label}</a>,
                  },
                  { title: words.what(), cell: one => solutionName(one.solution, one.agent) },
                  {
                    title: words.state(),
                    cell: one => <Tag tone={one.usable ? "go" : "stop"}>{bottleWord(one)}</Tag>,
                  },
                  { title: words.on_hand(), cell: one => millilitres(one.on_hand_ul), number: true },
                ]}
              />
            </Panel>
          )}
          {equipment.length > 0 && (
            <Panel title={words.nav_equipment()}>
              <EquipmentTable caption={words.nav_equipment()} rows={equipment} />
            </Panel>
          )}
          {pieces.length > 0 && (
            <Panel title={words.pieces()}>
              <Table
                caption={words.pieces()}
                rows={pieces}
                keyOf={one => one.lot.id}
                columns={[
                  {
                    title: words.lot_number(),
                    cell: one => <a href={to(`/stores/lots/${one.lot.id}`)}>{one.lot.lot_number}</a>,
                  },
                  { title: words.what(), cell: one => kindOf(one.lot, respirators) },
                  { title: words.on_hand(), cell: one => one.on_hand, number: true },
                ]}
              />
            </Panel>
          )}
          {changing && (
            <Dialog title={kit.change_of({ name: place.name })} onClose={close}>
              <Edited row={place}>
                {row => <EditStoreroom row={row} onStored={stored} onCancel={close} onStale={stock.reload} />}
              </Edited>
            </Dialog>
          )}
          {place.station_id && <StationFills stationId={place.station_id} />}
          {place.station_id && may("list_fill_gaps") && <FillGaps stationId={place.station_id} />}
        </Page>
      )}
    </Loaded>
  );
}
