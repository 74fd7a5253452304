import { useEffect } from "preact/hooks";
import { answeredAt, pulse, unreachableSince } from "../api/reach";
import { useOutbox } from "../outbox/use-outbox";
import { Button } from "../kit/button";
import { Tag } from "../kit/answer";
import { Notice } from "../kit/notice";
import { clock, span } from "../words/format";
import { shell } from "../words/shell";
import { live } from "./live";
import { newer, partsGone, takeUpdate } from "./update";
import { useNow } from "./use-now";

/** A page whose server says nothing for so long asks whether it is there. */
const QUIET_MS = 20_000;

/** Whether the server answers, in words, and how long it has not. */
export function Connection() {
  const now = useNow(5_000);
  const since = unreachableSince.value;
  useEffect(() => {
    if (since !== null || now - (answeredAt.value ?? 0) > QUIET_MS) void pulse();
  }, [now]);
  if (since !== null) {
    return <Tag tone="wait">{shell.away({ time: clock(since), span: span(Math.max(0, now - since)) })}</Tag>;
  }
  return <Tag tone="go">{live.value ? shell.live() : shell.connected()}</Tag>;
}

/** What still waits to be sent from this device. Shows nothing when nothing does. */
export function Waiting() {
  const box = useOutbox();
  if (!box) return null;
  const [waiting, refused] = [box.waiting.value, box.refused.value.length];
  return (
    <>
      {waiting > 0 && <Tag tone="wait">{shell.waiting({ n: waiting })}</Tag>}
      {refused > 0 && <Tag tone="stop">{shell.refused({ n: refused })}</Tag>}
    </>
  );
}

/** A newer build of the screens is there. The person chooses the moment. */
export function NewerVersion() {
  if (!newer.value) return null;
  return (
    <Notice
      tone={partsGone.value ? "wait" : "plain"}
      title={partsGone.value ? shell.newer_gone() : shell.newer()}
    >
      <div class="row">
        <Button onClick={() => void takeUpdate()}>{shell.newer_take()}</Button>
      </div>
    </Notice>
  );
}
