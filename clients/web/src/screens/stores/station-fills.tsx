import { useState } from "preact/hooks";
import { all, api, need, newId, nowText } from "../../api/client";
import { to } from "../../app/screens";
import { may } from "../../app/session";
import { useForm } from "../../app/use-form";
import { useNow } from "../../app/use-now";
import { useResource } from "../../app/use-resource";
import { Tag } from "../../kit/answer";
import { Button } from "../../kit/button";
import { Dialog } from "../../kit/dialog";
import { CheckField, TextField } from "../../kit/field";
import { FormBody } from "../../kit/form";
import { Panel } from "../../kit/page";
import { Empty, Loaded } from "../../kit/states";
import { Table } from "../../kit/table";
import { clock, dayAndClock, millilitres } from "../../words/format";
import { meaning } from "../../words/problems";
import { stationFills as words } from "../../words/station-fills";
import { type Fill, held, stateOf } from "../station/fills";
import { microlitres } from "./microlitres";
import { solutionName } from "./names";

/** What was filled at a station, newest first, and what of it is still in its nebulizer. */
export function StationFills({ stationId }: { stationId: string }) {
  const fills = useResource(
    `fills ${stationId}`,
    () =>
      all(cursor =>
        api.GET("/api/v1/stations/{station_id}/fills", {
          params: { path: { station_id: stationId }, query: { cursor, limit: 500 } },
        }),
      ),
    { nouns: ["fills", "fill_emptyings"] },
  );
  const [emptying, setEmptying] = useState<Fill | null>(null);
  return (
    <Panel title={words.fills()}>
      <Loaded resource={fills}>
        {rows =>
          rows.length === 0 ? (
            <Empty title={words.fills_none()} />
          ) : (
            <FillTable rows={rows} onEmpty={setEmptying} />
          )
        }
      </Loaded>
      {emptying && (
        <Dialog title={words.empty_title({ name: emptying.nebulizer })} onClose={() => setEmptying(null)}>
          <EmptyForm
            fill={emptying}
            onCancel={() => setEmptying(null)}
            onStored={() => {
              setEmptying(null);
              fills.reload();
            }}
          />
        </Dialog>
      )}
    </Panel>
  );
}

function FillTable({ rows, onEmpty }: { rows: Fill[]; onEmpty: (fill: Fill) => void }) {
  const now = useNow(10_000);
  return (
    <Table
      caption={words.fills()}
      rows={[...rows].sort((one, other) => other.happened_at.localeCompare(one.happened_at))}
      keyOf={one => one.id}
      columns={[
        { title: words.nebulizer(), cell: one => one.nebulizer },
        { title: words.what(), cell: one => solutionName(one.solution, one.agent) },
        {
          title: words.from(),
          cell: one => <a href={to(`/stores/bottles/${one.bottle_id}`)}>{one.bottle_label}</a>,
        },
        { title: words.when(), cell: one => <When fill={one} /> },
        { title: words.volume(), cell: one => millilitres(one.volume_ul), number: true },
        { title: words.state(), cell: one => <State fill={one} now={now} /> },
        ...(may("create_fill_emptying")
          ? [
              {
                title: words.empty(),
                action: true,
                cell: (one: Fill) =>
                  held(one) && (
                    <Button
                      kind="quiet"
                      label={words.empty_of({ name: one.nebulizer })}
                      onClick={() => onEmpty(one)}
                    >
                      {words.empty()}
                    </Button>
                  ),
              },
            ]
          : []),
      ]}
    />
  );
}

function When({ fill }: { fill: Fill }) {
  const more = [
    fill.afterwards && words.afterwards(),
    fill.bottle_was_at && words.was_at({ place: fill.bottle_was_at.name }),
  ].filter(Boolean);
  return (
    <>
      {dayAndClock(fill.happened_at)}
      {more.length > 0 && (
        <span class="small soft">
          <br />
          {more.join(" · ")}
        </span>
      )}
    </>
  );
}

function State({ fill, now }: { fill: Fill; now: number }) {
  if (fill.emptied_at) return <Tag tone="plain">{words.emptied({ time: dayAndClock(fill.emptied_at) })}</Tag>;
  if (fill.refilled_at)
    return <Tag tone="plain">{words.refilled({ time: dayAndClock(fill.refilled_at) })}</Tag>;
  const state = stateOf(fill, now);
  if (!state.may) return <Tag tone="stop">{meaning(state.why)}</Tag>;
  return <Tag tone="go">{words.full_until({ time: clock(state.until) })}</Tag>;
}

function EmptyForm(props: { fill: Fill; onStored: () => void; onCancel: () => void }) {
  const [id] = useState(newId);
  const form = useForm(
    { rinsed: false, rest: "" },
    {
      check: typed => ({
        rest: typed.rest.trim() !== "" && microlitres(typed.rest) === undefined && words.rest_wrong(),
      }),
      save: async ({ rinsed, rest }) => {
        const params = { path: { fill_id: props.fill.id } };
        const body = { id, rinsed, discarded_ul: microlitres(rest) ?? null, happened_at: nowText() };
        await need(api.POST("/api/v1/fills/{fill_id}/emptyings", { params, body }));
        props.onStored();
      },
    },
  );
  return (
    <FormBody form={form} submit={words.empty()} onCancel={props.onCancel}>
      <CheckField
        label={words.rinsed()}
        checked={form.typed.rinsed}
        onValue={rinsed => form.set({ rinsed })}
      />
      <TextField
        label={words.rest()}
        hint={words.rest_hint()}
        inputMode="decimal"
        {...form.field("rest")}
        problem={form.fault("rest") ?? form.fault("discarded_ul")}
      />
    </FormBody>
  );
}
