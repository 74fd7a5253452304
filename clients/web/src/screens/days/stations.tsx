import { useState } from "preact/hooks";
import { api, need, newId } from "../../api/client";
import { stationsOf } from "../../app/place";
import { may } from "../../app/session";
import { useAction } from "../../app/use-action";
import { useResource } from "../../app/use-resource";
import { announce } from "../../kit/announce";
import { Tag } from "../../kit/answer";
import { Button } from "../../kit/button";
import { Dialog } from "../../kit/dialog";
import { Edited } from "../../kit/form";
import { ProblemNotice } from "../../kit/notice";
import { Panel } from "../../kit/page";
import { Empty, Loaded } from "../../kit/states";
import { Table } from "../../kit/table";
import { clock, list, shortDay } from "../../words/format";
import { dayWords as words } from "../../words/days";
import { kit } from "../../words/kit";
import { placeWords } from "../../words/place";
import type { Day } from "./lists";
import { EditStation, NewStation, type Station } from "./station-form";

/** The stations of a day, and what is done at each. */
export function Stations({ day, others }: { day: Day; others: Day[] }) {
  const stations = useResource(`stations ${day.id}`, () => stationsOf(day.id), { nouns: ["stations"] });
  // The id of the station whose form is open, or a new one's.
  const [open, setOpen] = useState<string | "new" | null>(null);
  const close = () => setOpen(null);
  const stored = () => {
    close();
    stations.reload();
  };
  const edited = stations.data?.find(one => one.id === open);
  return (
    <Panel
      title={words.stations()}
      actions={
        may("create_station") && (
          <Button kind="main" onClick={() => setOpen("new")}>
            {words.add_station()}
          </Button>
        )
      }
    >
      <Loaded resource={stations}>
        {rows =>
          rows.length === 0 ? (
            <Empty title={words.stations_none()}>
              <p>{words.stations_none_todo()}</p>
              {may("create_station") && <SameAs day={day} others={others} onDone={stations.reload} />}
            </Empty>
          ) : (
            <StationTable rows={rows} onEdit={one => setOpen(one.id)} />
          )
        }
      </Loaded>
      {open === "new" && (
        <Dialog title={words.add_station()} onClose={close}>
          <NewStation day={day} onStored={stored} onCancel={close} />
        </Dialog>
      )}
      {edited && (
        <Dialog title={kit.change_of({ name: edited.name })} onClose={close}>
          <Edited row={edited}>
            {row => <EditStation row={row} onStored={stored} onCancel={close} onStale={stations.reload} />}
          </Edited>
        </Dialog>
      )}
    </Panel>
  );
}

function StationTable({ rows, onEdit }: { rows: Station[]; onEdit: (one: Station) => void }) {
  return (
    <Table
      caption={words.stations()}
      rows={rows}
      keyOf={one => one.id}
      columns={[
        { title: words.station(), cell: one => one.name },
        {
          title: words.parts(),
          cell: one => list(one.parts.map(part => placeWords[`part_${part}`]())),
        },
        {
          title: words.bending(),
          cell: one => (one.hood_forbids_bending ? words.jogging_instead() : words.bending_done()),
        },
        { title: words.state(), cell: one => <State one={one} /> },
        ...(may("update_station")
          ? [
              {
                title: kit.change(),
                action: true,
                cell: (one: Station) => (
                  <Button kind="quiet" label={kit.change_of({ name: one.name })} onClick={() => onEdit(one)}>
                    {kit.change()}
                  </Button>
                ),
              },
            ]
          : []),
      ]}
    />
  );
}

function State({ one }: { one: Station }) {
  if (!one.closed_at) return <Tag tone="go">{words.station_open()}</Tag>;
  return <Tag tone="plain">{words.station_closed_since({ time: clock(one.closed_at) })}</Tag>;
}

/** A second day in the same rooms: its stations are set up in one step. */
function SameAs({ day, others, onDone }: { day: Day; others: Day[]; onDone: () => void }) {
  const earlier = others
    .filter(one => one.opens_at < day.opens_at)
    .sort((one, other) => other.opens_at.localeCompare(one.opens_at))[0];
  const [ids] = useState(() => new Map<string, string>());
  const copy = useAction(async () => {
    if (!earlier) return;
    const stations = await stationsOf(earlier.id);
    for (const { id: from, name, parts, hood_forbids_bending } of stations) {
      // The same id on every try: what is set up already is not set up twice.
      const id = ids.get(from) ?? newId();
      ids.set(from, id);
      const params = { path: { day_id: day.id } };
      const body = { id, name, parts, hood_forbids_bending };
      await need(api.POST("/api/v1/days/{day_id}/stations", { params, body }));
    }
    announce(words.again_done({ n: stations.length }));
    onDone();
  });
  if (!earlier) return null;
  return (
    <>
      <Button busy={copy.busy} onClick={() => void copy.run()}>
        {words.again({ day: `${earlier.place}, ${shortDay(earlier.opens_at)}` })}
      </Button>
      <p class="small">{words.again_hint()}</p>
      <ProblemNotice problem={copy.problem} />
    </>
  );
}
