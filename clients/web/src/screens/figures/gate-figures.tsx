import { api, need, type Wire } from "../../api/client";
import { Notice } from "../../kit/notice";
import { Panel } from "../../kit/page";
import { Table } from "../../kit/table";
import { figures as words } from "../../words/figures";
import { number } from "../../words/format";
import { gate, gateAnswers } from "../../words/gate";
import { readGates } from "../gates/lists";
import { type Days, momentsOf } from "./days";
import { FiguresPage } from "./figures-page";
import { type GateFigures, type Said, saidBy } from "./sums";

const ANSWERS = ["enter", "not_cleared", "cannot_confirm", "not_valid"] as const satisfies Wire<"Answer">[];
const DAYS_AT_FIRST = 1;
/** Readings are no news, because so many come: they are counted anew this often. */
const AGAIN_MS = 60_000;

interface Row {
  key: string;
  name: string;
  said: Said;
}

/** How often each gate said what: numbers, and no person. */
export default function GatesFigures() {
  return (
    <FiguresPage
      title={words.gates_title()}
      none={words.gates_none()}
      daysAtFirst={DAYS_AT_FIRST}
      read={rowsOf}
      nouns={["gates"]}
      everyMs={AGAIN_MS}
      after={
        <Notice tone="plain">
          <p>{gate.caution()}</p>
        </Notice>
      }
    >
      {rows => (
        <Panel>
          <Figures rows={rows} />
        </Panel>
      )}
    </FiguresPage>
  );
}

const figuresOf = (gate_id: string, days: Days): Promise<GateFigures> =>
  need(api.GET("/api/v1/gates/{gate_id}/figures", { params: { path: { gate_id }, query: momentsOf(days) } }));

/** A row for each gate by its name, and one for all of them. */
async function rowsOf(days: Days): Promise<Row[]> {
  const gates = (await readGates()).sort((one, other) => one.name.localeCompare(other.name));
  const found = await Promise.all(gates.map(({ id }) => figuresOf(id, days)));
  const rows = gates.map(({ id, name }, n) => ({
    key: id,
    name,
    said: saidBy(found.slice(n, n + 1)),
  }));
  return rows.length > 1 ? [...rows, { key: "all", name: words.all_gates(), said: saidBy(found) }] : rows;
}

function Figures({ rows }: { rows: readonly Row[] }) {
  return (
    <>
      <Table
        caption={words.gates_title()}
        rows={rows}
        keyOf={row => row.key}
        columns={[
          { title: words.gate(), cell: row => row.name },
          ...ANSWERS.map(answer => ({
            title: gateAnswers[answer](),
            cell: (row: Row) => number(row.said.answers[answer]),
            number: true,
          })),
          { title: words.all_answers(), cell: row => number(row.said.all), number: true },
          { title: words.repeats(), cell: row => number(row.said.repeats), number: true },
        ]}
      />
      <p class="small soft">{words.gates_more()}</p>
    </>
  );
}
