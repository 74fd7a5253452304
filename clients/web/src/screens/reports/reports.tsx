import "./reports.css";
import { useState } from "preact/hooks";
import { api, need, type Wire } from "../../api/client";
import { useResource } from "../../app/use-resource";
import { Button } from "../../kit/button";
import { SelectField, TextField } from "../../kit/field";
import { Notice } from "../../kit/notice";
import { Page, Panel } from "../../kit/page";
import { Empty, Loaded } from "../../kit/states";
import { clock, shortDay } from "../../words/format";
import { reports as words } from "../../words/reports";
import { readDays } from "../days/lists";
import { FlowChart } from "./flow-chart";
import { Levels } from "./levels";
import { Passes } from "./passes";
import { Table } from "../../kit/table";

const ALL = "all";

/** What failed, where, on which model: shares with their uncertainty, drawn and as tables. */
export default function Reports() {
  const [from, setFrom] = useState("");
  const [until, setUntil] = useState("");
  const [dayId, setDayId] = useState(ALL);
  const days = useResource("days", readDays);
  const query = {
    ...(from ? { from } : {}),
    ...(until ? { until } : {}),
    ...(dayId !== ALL ? { day_id: dayId } : {}),
  };
  const report = useResource(
    `report ${JSON.stringify(query)}`,
    () => need(api.GET("/api/v1/reports", { params: { query } })),
    { nouns: ["attempts", "attempt_corrections", "screenings", "visits"] },
  );
  return (
    <Page title={words.title()} actions={<Button onClick={() => print()}>{words.print()}</Button>}>
      <Panel>
        <div class="reports-query">
          <SelectField
            label={words.day()}
            value={dayId}
            options={[
              { value: ALL, label: words.all_days() },
              ...(days.data ?? []).map(one => ({
                value: one.id,
                label: `${shortDay(one.opens_at)}, ${one.place}`,
              })),
            ]}
            onValue={setDayId}
          />
          <TextField label={words.from()} type="date" value={from} onValue={setFrom} />
          <TextField label={words.until()} type="date" value={until} onValue={setUntil} />
        </div>
      </Panel>
      <Loaded resource={report}>
        {found => (
          <>
            <Passes report={found} />
            <Levels report={found} />
            <Flow flow={found.flow} />
            <Notice tone="plain">
              <p>{words.small_groups({ n: found.smallest_group })}</p>
              <p>{words.caution()}</p>
            </Notice>
          </>
        )}
      </Loaded>
    </Page>
  );
}

function Flow({ flow }: { flow: Wire<"ReportView">["flow"] }) {
  return (
    <Panel title={words.flow()}>
      {!flow ? (
        <Empty title={words.flow_choose()} />
      ) : flow.length === 0 ? (
        <Empty title={words.none()} />
      ) : (
        <>
          <p class="soft">{words.flow_more()}</p>
          <FlowChart flow={flow} />
          <Table
            caption={words.flow()}
            rows={flow}
            keyOf={one => one.from}
            columns={[
              { title: words.half_hour(), cell: one => clock(one.from) },
              { title: words.arrivals(), cell: one => one.arrivals, number: true },
              { title: words.tests(), cell: one => one.tests, number: true },
              { title: words.passed(), cell: one => one.passes, number: true },
            ]}
          />
        </>
      )}
    </Panel>
  );
}
