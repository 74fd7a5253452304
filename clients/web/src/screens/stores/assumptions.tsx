import { useState } from "preact/hooks";
import type { Wire } from "../../api/client";
import { Button } from "../../kit/button";
import { SelectField, TextField } from "../../kit/field";
import { Panel } from "../../kit/page";
import { Table } from "../../kit/table";
import { forecastWords } from "../../words/forecast";
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
    <Panel title={forecastWords.assumptions()}>
      <p class="soft">{forecastWords.estimate()}</p>
      <div class="stores-form">
        <TextField
          label={forecastWords.heads()}
          hint={forecastWords.heads_hint()}
          type="number"
          inputMode="numeric"
          min="0"
          value={heads}
          onValue={setHeads}
        />
        <SelectField
          label={forecastWords.main_agent()}
          value={agent}
          options={AGENTS.map(value => ({ value, label: words[`agent_${value}`]() }))}
          onValue={setAgent}
        />
      </div>
      <details>
        <summary>{forecastWords.assumptions_show()}</summary>
        <Table
          caption={forecastWords.assumptions()}
          rows={forecast.assumptions}
          keyOf={one => one.name}
          columns={[
            { title: forecastWords.assumption(), cell: one => one.name.replaceAll("_", " ") },
            {
              title: forecastWords.value(),
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
            {
              title: forecastWords.source(),
              cell: one => `${forecastWords[`trust_${one.trust}`]()} · ${one.source}`,
            },
          ]}
        />
      </details>
      <div class="row">
        <Button onClick={ask}>{forecastWords.work_again()}</Button>
        <Button kind="quiet" onClick={() => onAsk({})}>
          {forecastWords.as_before()}
        </Button>
      </div>
    </Panel>
  );
}
