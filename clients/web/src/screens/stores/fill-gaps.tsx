import { useState } from "preact/hooks";
import { all, api, need, newId, nowText, type Wire } from "../../api/client";
import { may } from "../../app/session";
import { missing, useForm } from "../../app/use-form";
import { useResource } from "../../app/use-resource";
import { Button } from "../../kit/button";
import { Dialog } from "../../kit/dialog";
import { SelectField, TextField } from "../../kit/field";
import { FieldRow, FormBody } from "../../kit/form";
import { Panel } from "../../kit/page";
import { Empty, Loaded } from "../../kit/states";
import { Table } from "../../kit/table";
import { dayAndClock } from "../../words/format";
import { momentTyped } from "../../words/site-time";
import { stationFills as words } from "../../words/station-fills";
import { solutionName } from "./names";

type Gap = Wire<"FillGapView">;

/** The times for which nobody knows what a station sprayed: what makes a look-back say "possibly". */
export function FillGaps({ stationId }: { stationId: string }) {
  const gaps = useResource(
    `gaps ${stationId}`,
    () =>
      all(cursor =>
        api.GET("/api/v1/fill_gaps", { params: { query: { station_id: stationId, cursor, limit: 500 } } }),
      ),
    { nouns: ["fill_gaps"] },
  );
  const [adding, setAdding] = useState(false);
  return (
    <Panel
      title={words.gaps()}
      actions={may("create_fill_gap") && <Button onClick={() => setAdding(true)}>{words.gap_new()}</Button>}
    >
      <p class="soft">{words.gaps_more()}</p>
      <Loaded resource={gaps}>
        {rows =>
          rows.length === 0 ? (
            <Empty title={words.gaps_none()} />
          ) : (
            <Table
              caption={words.gaps()}
              rows={rows}
              keyOf={one => one.id}
              columns={[
                {
                  title: words.when(),
                  cell: one => words.between({ from: dayAndClock(one.from), until: dayAndClock(one.until) }),
                },
                { title: words.gap_about(), cell: about },
                { title: words.reason(), cell: one => one.reason },
              ]}
            />
          )
        }
      </Loaded>
      {adding && (
        <Dialog title={words.gap_new()} onClose={() => setAdding(false)}>
          <GapForm
            stationId={stationId}
            onCancel={() => setAdding(false)}
            onStored={() => {
              setAdding(false);
              gaps.reload();
            }}
          />
        </Dialog>
      )}
    </Panel>
  );
}

const about = ({ agent, solution }: Pick<Gap, "agent" | "solution">): string =>
  agent && solution ? solutionName(solution, agent) : words.gap_any();

const SPRAYED: readonly { agent: Wire<"Agent">; solution: Wire<"Solution"> }[] = [
  { agent: "saccharin", solution: "screening" },
  { agent: "saccharin", solution: "test" },
  { agent: "denatonium_benzoate", solution: "screening" },
  { agent: "denatonium_benzoate", solution: "test" },
];

const ANY = "any";

function GapForm(props: { stationId: string; onStored: () => void; onCancel: () => void }) {
  const [id] = useState(newId);
  const form = useForm(
    { from: "", until: "", about: ANY, reason: "" },
    {
      check: typed => ({
        ...missing(typed, "from", "until", "reason"),
        ...(typed.from !== "" && typed.until !== "" && typed.until <= typed.from
          ? { until: words.gap_order() }
          : {}),
      }),
      refusals: { from: words.gap_order, until: words.gap_order },
      save: async typed => {
        const [from, until] = [momentTyped(typed.from), momentTyped(typed.until)];
        if (!from || !until) return;
        const what = typed.about === ANY ? {} : SPRAYED[Number(typed.about)];
        const reason = typed.reason.trim();
        const body = {
          id,
          station_id: props.stationId,
          from,
          until,
          ...what,
          reason,
          happened_at: nowText(),
        };
        await need(api.POST("/api/v1/fill_gaps", { body }));
        props.onStored();
      },
    },
  );
  return (
    <FormBody form={form} submit={words.gap_new()} onCancel={props.onCancel}>
      <FieldRow>
        <TextField label={words.gap_from()} type="datetime-local" {...form.field("from")} />
        <TextField label={words.gap_until()} type="datetime-local" {...form.field("until")} />
      </FieldRow>
      <SelectField
        label={words.gap_about()}
        options={[
          { value: ANY, label: words.gap_any() },
          ...SPRAYED.map((one, n) => ({ value: String(n), label: solutionName(one.solution, one.agent) })),
        ]}
        {...form.field("about")}
      />
      <TextField label={words.reason()} maxLength={500} {...form.field("reason")} />
    </FormBody>
  );
}
