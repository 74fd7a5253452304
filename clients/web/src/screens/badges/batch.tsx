import "./badges.css";
import { useRoute } from "preact-iso";
import { useState } from "preact/hooks";
import { api, need, type Wire } from "../../api/client";
import { to } from "../../app/screens";
import { useResource } from "../../app/use-resource";
import { TextField } from "../../kit/field";
import { Page, Panel } from "../../kit/page";
import { Loaded } from "../../kit/states";
import { Table } from "../../kit/table";
import { badges as words } from "../../words/badges";
import { clock } from "../../words/format";
import { PrintForm, type Settings } from "./print-form";
import { Progress } from "./progress";

type Detail = Wire<"BadgeBatchDetailView">;
type Item = Wire<"BadgeBatchItemView">;

/** While a batch is made, its numbers are asked for this often where no news arrive. */
const RUNNING_MS = 2_000;

/** One batch: how far it has come, who was left out and why, and its sheets. */
export default function Batch() {
  const badge_batch_id = useRoute().params["id"] ?? "";
  const [running, setRunning] = useState(true);
  const batch = useResource(
    `badge batch ${badge_batch_id} ${running}`,
    async () => {
      const found = await need(
        api.GET("/api/v1/badge_batches/{badge_batch_id}", { params: { path: { badge_batch_id } } }),
      );
      setRunning(found.state === "running");
      return found;
    },
    { nouns: ["badge_batches", "badges", "badge_hand_overs"], everyMs: running ? RUNNING_MS : undefined },
  );
  return (
    <Page title={words.batch_title()}>
      <Loaded resource={batch}>{found => <Made batch={found} />}</Loaded>
    </Page>
  );
}

function Made({ batch }: { batch: Detail }) {
  const left = batch.items.filter(item => item.left_out);
  return (
    <>
      <Panel title={words.batch({ time: clock(batch.happened_at) })}>
        <progress
          class="badges-progress"
          max={batch.people}
          value={batch.made + batch.left_out}
          aria-label={words.batch_running({ made: batch.made + batch.left_out, people: batch.people })}
        />
        <div role="status">
          <Progress batch={batch} />
        </div>
      </Panel>
      {left.length > 0 && (
        <Panel title={words.left_out()}>
          <ul class="rows">
            {left.map(item => (
              <li key={item.person_id} class="badges-row">
                <b>{item.name}</b>
                <span>{item.left_out && words[`left_${item.left_out.reason}`]()}</span>
              </li>
            ))}
          </ul>
        </Panel>
      )}
      {batch.state === "done" && batch.made > 0 && <PrintBatch batch={batch} />}
      <Panel title={words.in_batch()}>
        <Table
          caption={words.in_batch()}
          rows={batch.items.filter(item => !item.left_out)}
          keyOf={item => item.person_id}
          columns={[
            { title: words.col_name(), cell: nameOf },
            { title: words.col_number(), cell: item => item.number, number: true },
            { title: words.col_serial(), cell: item => item.badge?.serial ?? "", number: true },
            { title: words.col_state(), cell: stateOf },
          ]}
        />
      </Panel>
    </>
  );
}

const nameOf = ({ badge, name }: Item) =>
  badge ? <a href={to(`/badges/one/${badge.badge_id}`)}>{name}</a> : name;

function stateOf({ badge }: Item): string {
  if (!badge) return words.state_waiting();
  return badge.handed_over_at ? words.given() : words[`state_${badge.status}`]();
}

/** The sheets of a batch, or a part of them after a paper jam. */
function PrintBatch({ batch }: { batch: Detail }) {
  const [from, setFrom] = useState("1");
  const [until, setUntil] = useState(String(batch.items.length));
  const print = async ({ layout, first_place, printer }: Settings) => {
    const path = { badge_batch_id: batch.id };
    const query = { layout, first_place, ...printer, from: Number(from), to: Number(until) };
    const sheet = api.GET("/api/v1/badge_batches/{badge_batch_id}/sheet", {
      params: { path, query },
      parseAs: "blob",
    });
    return (await need(sheet)) as unknown as Blob;
  };
  return (
    <PrintForm name="badges.pdf" onPrint={print}>
      <TextField
        label={words.from()}
        type="number"
        inputMode="numeric"
        min="1"
        value={from}
        onValue={setFrom}
      />
      <TextField
        label={words.to()}
        type="number"
        inputMode="numeric"
        min="1"
        value={until}
        onValue={setUntil}
      />
    </PrintForm>
  );
}
