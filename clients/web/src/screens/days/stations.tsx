import { useState } from "preact/hooks";
import { api, need, newId, type Wire } from "../../api/client";
import { stationsOf } from "../../app/place";
import { may } from "../../app/session";
import { useAction } from "../../app/use-action";
import { missing, useForm } from "../../app/use-form";
import { useResource } from "../../app/use-resource";
import { announce } from "../../kit/announce";
import { Button } from "../../kit/button";
import { Dialog } from "../../kit/dialog";
import { CheckField, Checks, TextField } from "../../kit/field";
import { FormBody } from "../../kit/form";
import { ProblemNotice } from "../../kit/notice";
import { Panel } from "../../kit/page";
import { Empty, Loaded } from "../../kit/states";
import { Table } from "../../kit/table";
import { list, shortDay } from "../../words/format";
import { dayWords as words } from "../../words/days";
import { placeWords } from "../../words/place";
import type { Day } from "./lists";

type Part = Wire<"StationPart">;

const PARTS = ["check_in", "screening", "testing", "measuring", "badges"] as const satisfies readonly Part[];

/** The stations of a day, and what is done at each. */
export function Stations({ day, others }: { day: Day; others: Day[] }) {
  const stations = useResource(`stations ${day.id}`, () => stationsOf(day.id), { nouns: ["stations"] });
  const [adding, setAdding] = useState(false);
  return (
    <Panel
      title={words.stations()}
      actions={
        may("create_station") && (
          <Button kind="main" onClick={() => setAdding(true)}>
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
                  title: words.hood_short(),
                  cell: one => (one.hood_forbids_bending ? words.hood_short() : "–"),
                },
              ]}
            />
          )
        }
      </Loaded>
      {adding && (
        <Dialog title={words.add_station()} onClose={() => setAdding(false)}>
          <NewStation
            day={day}
            onCancel={() => setAdding(false)}
            onStored={() => {
              setAdding(false);
              stations.reload();
            }}
          />
        </Dialog>
      )}
    </Panel>
  );
}

function NewStation(props: { day: Day; onStored: () => void; onCancel: () => void }) {
  const [id] = useState(newId);
  const form = useForm(
    { name: "", parts: [] as Part[], hood_forbids_bending: false },
    {
      check: typed => ({
        ...missing(typed, "name"),
        parts: typed.parts.length === 0 && words.parts_none(),
      }),
      save: async typed => {
        const params = { path: { day_id: props.day.id } };
        await need(api.POST("/api/v1/days/{day_id}/stations", { params, body: { id, ...typed } }));
        props.onStored();
      },
    },
  );
  const tests = form.typed.parts.includes("testing");
  return (
    <FormBody form={form} submit={words.add_station()} onCancel={props.onCancel}>
      <TextField
        label={words.station_name()}
        hint={words.station_name_hint()}
        autocomplete="off"
        {...form.field("name")}
      />
      <Checks
        label={words.parts()}
        hint={words.parts_hint()}
        options={PARTS.map(value => ({ value, label: words[`part_${value}`]() }))}
        {...form.field("parts")}
      />
      {tests && (
        <CheckField
          label={words.hood()}
          checked={form.typed.hood_forbids_bending}
          onValue={hood_forbids_bending => form.set({ hood_forbids_bending })}
        />
      )}
    </FormBody>
  );
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
