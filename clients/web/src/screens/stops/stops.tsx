import { useState } from "preact/hooks";
import { all, api, need, newId, nowText, type Wire } from "../../api/client";
import { may } from "../../app/session";
import { missing, useForm } from "../../app/use-form";
import { useResource } from "../../app/use-resource";
import { Tag } from "../../kit/answer";
import { Button } from "../../kit/button";
import { Dialog } from "../../kit/dialog";
import { TextField } from "../../kit/field";
import { FormBody } from "../../kit/form";
import { Notice } from "../../kit/notice";
import { Page, Panel } from "../../kit/page";
import { Empty, Loaded } from "../../kit/states";
import { Table } from "../../kit/table";
import { dayAndClock } from "../../words/format";
import { stopWords as words } from "../../words/stops";
import { stores } from "../../words/stores";
import { useBottles, useEquipment, usePlaces, useTesters } from "../stores/lists";

type Stop = Wire<"StopView">;

/** What is stopped, by whom and why; and what was released. */
export default function Stops() {
  const stops = useResource(
    "stops",
    () => all(cursor => api.GET("/api/v1/stops", { params: { query: { cursor, limit: 500 } } })),
    { nouns: ["stops", "stop_releases"] },
  );
  const nameOf = useStopNames();
  const [releasing, setReleasing] = useState<Stop | null>(null);
  return (
    <Page title={words.title()} intro={words.intro()}>
      <Notice tone="plain">
        <p>{words.caution()}</p>
      </Notice>
      <Panel>
        <Loaded resource={stops}>
          {rows =>
            rows.length === 0 ? (
              <Empty title={words.none()} />
            ) : (
              <StopTable rows={rows} nameOf={nameOf} onRelease={setReleasing} />
            )
          }
        </Loaded>
      </Panel>
      {releasing && (
        <Dialog title={words.release_title({ name: nameOf(releasing) })} onClose={() => setReleasing(null)}>
          <ReleaseForm
            stop={releasing}
            onCancel={() => setReleasing(null)}
            onStored={() => {
              setReleasing(null);
              stops.reload();
            }}
          />
        </Dialog>
      )}
    </Page>
  );
}

/** What a stop is about, in words. */
function useStopNames(): (stop: Stop) => string {
  const bottles = useBottles().data ?? [];
  const equipment = useEquipment().data ?? [];
  const places = usePlaces().data ?? [];
  const testers = useTesters().data ?? [];
  return stop => {
    if (stop.bottle_id) {
      return words.thing_bottle({ name: bottles.find(one => one.id === stop.bottle_id)?.label ?? "…" });
    }
    if (stop.equipment_id) {
      const found = equipment.find(one => one.id === stop.equipment_id);
      return found ? `${stores[`kind_${found.kind}`]()} ${found.label}` : "…";
    }
    if (stop.tester_id) {
      return words.thing_tester({
        name: testers.find(one => one.id === stop.tester_id)?.display_name ?? "…",
      });
    }
    if (stop.station_id) {
      return words.thing_station({ name: places.find(one => one.id === stop.station_id)?.name ?? "…" });
    }
    return words.thing_fill();
  };
}

/** What is in force stands first, and of both the latest. */
const byForce = (one: Stop, other: Stop) =>
  Number(Boolean(one.release)) - Number(Boolean(other.release)) ||
  other.happened_at.localeCompare(one.happened_at);

interface TableProps {
  rows: Stop[];
  nameOf: (stop: Stop) => string;
  onRelease: (stop: Stop) => void;
}

function StopTable({ rows, nameOf, onRelease }: TableProps) {
  return (
    <Table
      caption={words.title()}
      rows={[...rows].sort(byForce)}
      keyOf={one => one.id}
      columns={[
        { title: words.what(), cell: one => <What stop={one} name={nameOf(one)} /> },
        { title: words.since(), cell: one => dayAndClock(one.happened_at) },
        { title: words.why(), cell: one => one.reason },
        { title: words.by(), cell: one => one.by ?? words.nobody() },
        { title: words.state(), cell: one => <State stop={one} /> },
        ...(may("create_stop_release")
          ? [
              {
                title: words.release(),
                action: true,
                cell: (one: Stop) =>
                  one.release ? (
                    "–"
                  ) : (
                    <Button
                      kind="quiet"
                      label={words.release_of({ name: nameOf(one) })}
                      onClick={() => onRelease(one)}
                    >
                      {words.release()}
                    </Button>
                  ),
              },
            ]
          : []),
      ]}
    />
  );
}

/** Which time of its use is in doubt, where not all of it is. */
function timeOf(stop: Stop): string | undefined {
  const from = stop.from && dayAndClock(stop.from);
  const until = stop.until && dayAndClock(stop.until);
  if (from && until) return words.time_between({ from, until });
  if (from) return words.time_from({ from });
  return until ? words.time_until({ until }) : undefined;
}

function What({ stop, name }: { stop: Stop; name: string }) {
  const time = timeOf(stop);
  if (!time) return <>{name}</>;
  return (
    <>
      {name}
      <br />
      <span class="small soft">{time}</span>
    </>
  );
}

function State({ stop }: { stop: Stop }) {
  if (!stop.release) return <Tag tone="stop">{words.in_force()}</Tag>;
  const { happened_at, by, reason } = stop.release;
  return (
    <>
      <Tag tone="plain">{words.released()}</Tag>
      <br />
      <span class="small soft">
        {words.released_line({ when: dayAndClock(happened_at), name: by ?? words.nobody(), reason })}
      </span>
    </>
  );
}

function ReleaseForm(props: { stop: Stop; onStored: () => void; onCancel: () => void }) {
  const [id] = useState(newId);
  const form = useForm(
    { reason: "" },
    {
      check: typed => missing(typed, "reason"),
      save: async ({ reason }) => {
        const params = { path: { stop_id: props.stop.id } };
        const body = { id, reason: reason.trim(), happened_at: nowText() };
        await need(api.POST("/api/v1/stops/{stop_id}/releases", { params, body }));
        props.onStored();
      },
    },
  );
  return (
    <FormBody form={form} submit={words.release()} onCancel={props.onCancel}>
      <p>{words.release_more()}</p>
      <TextField label={words.reason()} maxLength={500} {...form.field("reason")} />
    </FormBody>
  );
}
