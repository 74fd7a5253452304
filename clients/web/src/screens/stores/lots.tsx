import { useState } from "preact/hooks";
import { to } from "../../app/screens";
import { may } from "../../app/session";
import { Tag } from "../../kit/answer";
import { Button } from "../../kit/button";
import { TextField } from "../../kit/field";
import { holds } from "../../kit/filter";
import { Page, Panel } from "../../kit/page";
import { Empty, Loaded } from "../../kit/states";
import { Table } from "../../kit/table";
import { date } from "../../words/format";
import { preparationWords } from "../../words/preparations";
import { stores as words } from "../../words/stores";
import { useLots, useRespirators } from "./lists";
import { kindOf, type Lot, stateOf } from "./names";

/** Which lots are there? What ends first stands first, because it is issued first. */
export default function Lots() {
  const lots = useLots();
  const respirators = useRespirators().data ?? [];
  const [filter, setFilter] = useState("");
  const called = (lot: Lot) => respirators.find(one => one.id === lot.respirator_id)?.other_names ?? [];
  const fits = (lot: Lot) =>
    holds(filter, lot.lot_number, lot.box_lot_number, lot.maker, kindOf(lot, respirators), ...called(lot));
  return (
    <Page
      title={words.lots_title()}
      actions={
        <>
          {may("create_preparation") && (
            <Button href={to("/stores/prepare")}>{preparationWords.nav()}</Button>
          )}
          {may("create_lot") && <Button href={to("/stores/receive")}>{words.nav_receive()}</Button>}
        </>
      }
    >
      <Panel>
        <Loaded resource={lots}>
          {found =>
            found.length === 0 ? (
              <Empty title={words.lots_empty()}>
                <p>{words.lots_empty_todo()}</p>
              </Empty>
            ) : (
              <>
                <TextField label={words.filter()} type="search" value={filter} onValue={setFilter} />
                <LotTable lots={found.filter(fits)} name={lot => kindOf(lot, respirators)} />
              </>
            )
          }
        </Loaded>
      </Panel>
    </Page>
  );
}

const LAST = "9999";
const byEnd = (one: Lot, other: Lot) => (one.expires_on ?? LAST).localeCompare(other.expires_on ?? LAST);

function LotTable({ lots, name }: { lots: Lot[]; name: (lot: Lot) => string }) {
  if (lots.length === 0) return <Empty title={words.lots_none()} />;
  return (
    <Table
      caption={words.lots_title()}
      rows={lots.sort(byEnd)}
      keyOf={one => one.id}
      columns={[
        {
          title: words.lot_number(),
          cell: one => <a href={to(`/stores/lots/${one.id}`)}>{one.lot_number}</a>,
        },
        { title: words.what(), cell: name },
        { title: words.maker(), cell: one => one.maker ?? "–" },
        { title: words.expiry_read(), cell: one => (one.expires_on ? date(one.expires_on) : "–") },
        {
          title: words.state(),
          cell: one => {
            const { tone, word } = stateOf(one);
            return <Tag tone={tone}>{word}</Tag>;
          },
        },
      ]}
    />
  );
}
