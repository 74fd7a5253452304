import { useState } from "preact/hooks";
import { Notice } from "../../kit/notice";
import { Page, Panel } from "../../kit/page";
import { Tabs } from "../../kit/tabs";
import { gateRecords as words } from "../../words/gate-records";
import { GateField } from "../gates/gate-field";
import { Alone } from "./alone";
import { Cleared } from "./cleared";
import { Scans } from "./scans";

const TABS = ["cleared", "scans", "alone"] as const;

/** Who was cleared at that gate at that moment, what it answered, and whether it could know better. */
export default function GateRecords() {
  const [gate, setGate] = useState("");
  const [tab, setTab] = useState<(typeof TABS)[number]>("cleared");
  return (
    <Page title={words.title()}>
      <Notice tone="plain">
        <p>{words.caution()}</p>
      </Notice>
      <Panel>
        <GateField label={words.gate()} value={gate} onValue={setGate} />
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
