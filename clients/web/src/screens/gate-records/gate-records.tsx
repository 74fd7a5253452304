import { useState } from "preact/hooks";
import { SelectField } from "../../kit/field";
import { Notice } from "../../kit/notice";
import { Page, Panel } from "../../kit/page";
import { Loaded } from "../../kit/states";
import { Tabs } from "../../kit/tabs";
import { gateRecords as words } from "../../words/gate-records";
import { useGates } from "../records/names";
import { Alone } from "./alone";
import { Cleared } from "./cleared";
import { Scans } from "./scans";

const TABS = ["cleared", "scans", "alone"] as const;

/** Who was cleared at that gate at that moment, what it answered, and whether it could know better. */
export default function GateRecords() {
  const gates = useGates();
  const [gate, setGate] = useState("");
  const [tab, setTab] = useState<(typeof TABS)[number]>("cleared");
  return (
    <Page title={words.title()}>
      <Notice tone="plain">
        <p>{words.caution()}</p>
      </Notice>
      <Panel>
        <Loaded resource={gates}>
          {list => (
            <SelectField
              label={words.gate()}
              value={gate}
              nothing=""
              options={list.map(one => ({ value: one.id, label: one.name }))}
              onValue={setGate}
            />
          )}
        </Loaded>
      </Panel>
      {gate && (
        <Tabs
          label={words.what()}
          value={tab}
          tabs={TABS.map(value => ({ value, label: words[`tab_${value}`]() }))}
          onValue={setTab}
        >
          {tab === "cleared" && <Cleared key={gate} gateId={gate} />}
          {tab === "scans" && <Scans key={gate} gateId={gate} />}
          {tab === "alone" && <Alone key={gate} gateId={gate} />}
        </Tabs>
      )}
    </Page>
  );
}
