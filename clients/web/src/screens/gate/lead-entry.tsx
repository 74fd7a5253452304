import { useEffect, useState } from "preact/hooks";
import { Button } from "../../kit/button";
import { SelectField, TextField } from "../../kit/field";
import { Panel } from "../../kit/page";
import { inForce } from "../../pack/policy";
import { gate as words } from "../../words/gate";
import type { Gate, Reason } from "./gate";

const REASONS = [
  "emergency_call",
  "cannot_confirm",
  "nobody_else",
  "urgent_repair",
  "other_urgent",
] as const satisfies Reason[];

/**
 * Somebody is let in under a lead's name. Beside an answer that is not "enter" the names stand ready, one touch away; it
 * asks nobody, waits for nothing, and is looked at the next day.
 */
export function LeadEntry({ gate }: { gate: Gate }) {
  const shown = gate.shown.value;
  const wanted = shown !== null && shown.word !== "enter";
  const [open, setOpen] = useState(false);
  const [reason, setReason] = useState<Reason>("emergency_call");
  useEffect(() => {
    setOpen(false);
    setReason(shown?.word === "cannot_confirm" ? "cannot_confirm" : "emergency_call");
  }, [shown]);
  const enter = (lead: string) => {
    setOpen(false);
    void gate.letInUnder(lead, reason);
  };
  if (!wanted && !open) {
    return (
      <Button size="station" wide onClick={() => setOpen(true)}>
        {words.lead()}
      </Button>
    );
  }
  const pack = gate.link.held.value?.pack;
  const leads = pack && inForce(pack.policies, Date.now() * 1000)?.leads;
  return (
    <Panel title={words.lead()}>
      <p class="soft">{leads ? words.lead_intro() : words.lead_none()}</p>
      <SelectField
        label={words.lead_reason()}
        value={reason}
        options={REASONS.map(value => ({ value, label: words[`lead_${value}`]() }))}
        onValue={setReason}
      />
      {leads?.map(lead => (
        <Button key={lead} size="station" wide onClick={() => enter(lead)}>
          {words.lead_under({ name: lead })}
        </Button>
      ))}
      <AnotherName onName={enter} asked={!leads?.length} />
    </Panel>
  );
}

function AnotherName({ onName, asked }: { onName: (name: string) => void; asked: boolean }) {
  const [open, setOpen] = useState(false);
  const [name, setName] = useState("");
  if (!asked && !open) {
    return (
      <div>
        <Button kind="quiet" onClick={() => setOpen(true)}>
          {words.lead_other()}
        </Button>
      </div>
    );
  }
  return (
    <form
      class="stack stack-close"
      onSubmit={event => {
        event.preventDefault();
        if (name.trim()) onName(name.trim());
      }}
    >
      <TextField
        label={words.lead_other_label()}
        value={name}
        onValue={setName}
        autocomplete="off"
        maxLength={200}
        required
        large
      />
      <Button type="submit" size="station" wide>
        {words.lead_other_keep()}
      </Button>
    </form>
  );
}
