import { useState } from "preact/hooks";
import { api, need, newId, nowText, type Wire } from "../../api/client";
import { useAction } from "../../app/use-action";
import { Button } from "../../kit/button";
import { SelectField } from "../../kit/field";
import { ProblemNotice } from "../../kit/notice";
import { Panel } from "../../kit/page";
import { badges as words } from "../../words/badges";
import { dayAndClock } from "../../words/format";
import { MisprintField } from "./misprint-field";

type Badge = Wire<"BadgeView">;
type Reason = Wire<"ReprintReason">;
type Cause = Wire<"MisprintCause">;
type HoldReason = Wire<"HoldReason">;
type ReleaseReason = Wire<"HoldReleaseReason">;

const REASONS = ["damaged", "misprint", "name_changed", "lost"] as const satisfies Reason[];
const HOLDS = [
  "under_review",
  "lost_reported",
  "found_reported",
  "change_since_printing",
  "other",
] as const satisfies HoldReason[];
const RELEASES = ["back_with_person", "checked", "mistake", "other"] as const satisfies ReleaseReason[];

/** A new badge in the place of this one, with the reason. */
export function Reprint({ badge, onMade }: { badge: Badge; onMade: (badge: Badge) => void }) {
  const [id] = useState(newId);
  const [reason, setReason] = useState<Reason | "">("");
  const [misprint, setMisprint] = useState<Cause | "">("");
  const ready = reason !== "" && (reason !== "misprint" || misprint !== "");
  const make = useAction(async () => {
    if (!reason) return;
    const body = {
      id,
      reason,
      happened_at: nowText(),
      ...(reason === "misprint" && misprint ? { misprint } : {}),
    };
    const params = { path: { badge_id: badge.id } };
    onMade(await need(api.POST("/api/v1/badges/{badge_id}/reprints", { params, body })));
  });
  return (
    <Panel title={words.reprint()}>
      <p class="soft">{words.reprint_hint()}</p>
      <div class="badges-form">
        <SelectField
          label={words.reprint_reason()}
          value={reason}
          options={REASONS.map(value => ({ value, label: words[`reprint_${value}`]() }))}
          onValue={setReason}
        />
        {reason === "misprint" && <MisprintField value={misprint} onValue={setMisprint} />}
      </div>
      <ProblemNotice problem={make.problem} />
      <div>
        <Button disabled={!ready} busy={make.busy} onClick={() => void make.run()}>
          {words.reprint_do()}
        </Button>
      </div>
    </Panel>
  );
}

/** While something is looked into, a badge opens no gate; every hold is released by itself. */
export function Hold({ badge, onChanged }: { badge: Badge; onChanged: () => void }) {
  const [id, setId] = useState(newId);
  const [reason, setReason] = useState<HoldReason | "">("");
  const hold = useAction(async () => {
    if (!reason) return;
    const params = { path: { badge_id: badge.id } };
    const body = { id, reason, happened_at: nowText() };
    await need(api.POST("/api/v1/badges/{badge_id}/holds", { params, body }));
    setId(newId());
    setReason("");
    onChanged();
  });
  return (
    <Panel title={words.hold()}>
      {badge.holds.map(one => (
        <Release key={one.id} hold={one} onChanged={onChanged} />
      ))}
      <SelectField
        label={words.hold_reason()}
        value={reason}
        options={HOLDS.map(value => ({ value, label: words[`hold_${value}`]() }))}
        onValue={setReason}
      />
      <ProblemNotice problem={hold.problem} />
      <div>
        <Button disabled={!reason} busy={hold.busy} onClick={() => void hold.run()}>
          {words.hold_do()}
        </Button>
      </div>
    </Panel>
  );
}

function Release({ hold, onChanged }: { hold: Wire<"BadgeHoldView">; onChanged: () => void }) {
  const [id] = useState(newId);
  const [reason, setReason] = useState<ReleaseReason | "">("");
  const release = useAction(async () => {
    if (!reason) return;
    const params = { path: { badge_hold_id: hold.id } };
    const body = { id, reason, happened_at: nowText() };
    await need(api.POST("/api/v1/badge_holds/{badge_hold_id}/releases", { params, body }));
    onChanged();
  });
  return (
    <div class="stack stack-close">
      <p class="strong">
        {words.holds()}:{" "}
        {words.held_since({ reason: words[`hold_${hold.reason}`](), time: dayAndClock(hold.happened_at) })}
      </p>
      <SelectField
        label={words.release_reason()}
        value={reason}
        options={RELEASES.map(value => ({ value, label: words[`release_${value}`]() }))}
        onValue={setReason}
      />
      <ProblemNotice problem={release.problem} />
      <div>
        <Button disabled={!reason} busy={release.busy} onClick={() => void release.run()}>
          {words.release_do()}
        </Button>
      </div>
    </div>
  );
}
