import { useState } from "preact/hooks";
import { api, need, newId, nowText, type Wire } from "../../api/client";
import { missing, useForm } from "../../app/use-form";
import { Button } from "../../kit/button";
import { Dialog } from "../../kit/dialog";
import { SelectField } from "../../kit/field";
import { FormBody } from "../../kit/form";
import { Panel } from "../../kit/page";
import { badgeSteps as words } from "../../words/badge-steps";
import { MisprintField } from "./misprint-field";

type Badge = Wire<"BadgeView">;
type Reason = Wire<"EndingReason">;

const REASONS = ["withdrawn", "left", "lost", "damaged", "misprint"] as const satisfies Reason[];

interface Props {
  badge: Badge;
  onEnded: (badge: Badge) => void;
}

/** The end of a badge with nothing in its place. It is asked about first, because nobody can take it back. */
export function EndBadge({ badge, onEnded }: Props) {
  const [asking, setAsking] = useState(false);
  const close = () => setAsking(false);
  return (
    <Panel title={words.end()}>
      <p class="soft">{words.end_hint()}</p>
      <div>
        <Button kind="stop" onClick={() => setAsking(true)}>
          {words.end()}
        </Button>
      </div>
      {asking && (
        <Dialog title={words.end_ask({ name: badge.name })} onClose={close}>
          <EndForm badge={badge} onEnded={onEnded} onCancel={close} />
        </Dialog>
      )}
    </Panel>
  );
}

function EndForm({ badge, onEnded, onCancel }: Props & { onCancel: () => void }) {
  const [id] = useState(newId);
  const form = useForm(
    { reason: "" as Reason | "", misprint: "" as Wire<"MisprintCause"> | "" },
    {
      check: typed => missing(typed, "reason", ...(typed.reason === "misprint" ? ["misprint" as const] : [])),
      save: async ({ reason, misprint }) => {
        if (!reason) return;
        const params = { path: { badge_id: badge.id } };
        const how = reason === "misprint" && misprint ? { misprint } : {};
        const body = { id, reason, happened_at: nowText(), ...how };
        onEnded(await need(api.POST("/api/v1/badges/{badge_id}/endings", { params, body })));
      },
    },
  );
  return (
    <FormBody form={form} submit={words.end_do()} kind="stop" onCancel={onCancel}>
      <p>{words.end_more()}</p>
      <SelectField
        label={words.end_reason()}
        options={REASONS.map(value => ({ value, label: words[`end_${value}`]() }))}
        {...form.field("reason")}
      />
      {form.typed.reason === "misprint" && <MisprintField {...form.field("misprint")} />}
    </FormBody>
  );
}
