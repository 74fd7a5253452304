import { useState } from "preact/hooks";
import type { Wire } from "../../api/client";
import { Button } from "../../kit/button";
import { SelectField, TextField } from "../../kit/field";
import { Panel } from "../../kit/page";
import { Table } from "../../kit/table";
import { stores as words } from "../../words/stores";

type Agent = "saccharin" | "denatonium_benzoate";

/** What a person told the forecast; what is left out is the server's own. */
export interface Asked {
  heads?: number;
  main_agent?: Agent;
  assumptions?: Record<string, number>;
}

const AGENTS: readonly Agent[] = ["saccharin", "denatonium_benzoate"];

/** Each number behind the forecast, with its source, to be replaced where somebody knows better. */
export function AssumptionsPanel({
  forecast,
  asked,
  onAsk,
}: {
  forecast: Wire<"Forecast">;
  asked: Asked;
  onAsk: (asked: Asked) => void;
}) {
  const [heads, setHeads] = useState(asked.heads === undefined ? "" : String(asked.heads));
  const [agent, setAgent] = useState<Agent>(asked.main_agent ?? "saccharin");
  const [typed, setTyped] = useState<Record<string, string>>({});
  const ask = () => {
    const next = { ...asked.assumptions };
    for (const [name, text] of Object.entries(typed)) {
      const value = Number(text.replace(",", "."));
      if (text.trim() !== "" && Number.isFinite(value)) next[name] = value;
    }
    const told: Asked = { main_agent: agent, assumptions: next };
    if (heads.trim() !== "") told.heads = Number(heads);
    onAsk(told);
  };
  return (
    <Panel title={words.assumptions()}>
      <p class="soft">{words.estimate()}</p>
      <div class="stores-form">
        <TextField
          label={words.heads()}
          hint={words.heads_hint()}
          type="number"
          inputMode="numeric"
          min="0"
          value={heads}
          onValue={setHeads}
        />
        <SelectField
          label={words.main_agent()}
          value={agent}
          options={AGENTS.map(value => ({ value, label: words[`agent_${value}`]() }))}
          onValue={setAgent}
        />
      </div>
      <details>
        <summary>{words.assumptions_show()}</summary>
        <Table
          caption={words.assumptions()}
          rows={forecast.assumptions}
          keyOf={one => one.name}
          columns={[
            { title: words.assumption(), cell: one => one.name.replaceAll("_", " ") },
            {
              title: words.value(),
              cell: one => (
                <TextField
                  label={`${one.name.replaceAll("_", " ")} (${one.unit})`}
                  type="text"
                  inputMode="decimal"
                  value={typed[one.name] ?? String(one.value)}
                  onValue={value => setTyped({ ...typed, [one.name]: value })}
                />
              ),
            },
            { title: words.source(), cell: one => `${words[`trust_${one.trust}`]()} · ${one.source}` },
          ]}
        />
      </details>
      <div class="row">
        <Button onClick={ask}>{words.work_again()}</Button>
        <Button kind="quiet" onClick={() => onAsk({})}>
          {words.as_before()}
        </Button>
      </div>
    </Panel>
  );
}
