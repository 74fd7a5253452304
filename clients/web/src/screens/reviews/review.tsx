// What happened at gates and waits for somebody who looks at it: entries under a lead's name, and pairs of readings.
import { useState } from "preact/hooks";
import { all, api, need, newId, nowText, type Wire } from "../../api/client";
import { useAction } from "../../app/use-action";
import { faultAt } from "../../app/use-form";
import { Button } from "../../kit/button";
import { Dialog } from "../../kit/dialog";
import { TextField } from "../../kit/field";
import { ProblemNotice } from "../../kit/notice";
import { board as words } from "../../words/board";
import { clockWithSeconds, date, dayAndClock } from "../../words/format";
import { kit } from "../../words/kit";

export interface ToReview {
  id: string;
  kind: "lead_entries" | "twin_notices";
  at: string;
  about: string[];
  /** What was found, once somebody has looked. */
  review: Wire<"ReviewView"> | null;
}

/** The nouns of the live stream on whose news they are read again. */
export const REVIEW_NOUNS = ["lead_entries", "lead_entry_reviews", "twin_notices", "twin_notice_reviews"];

const entry = (one: Wire<"LeadEntryView">): ToReview => ({
  id: one.id,
  kind: "lead_entries",
  at: one.happened_at,
  about: [
    one.gate,
    words.lead({ name: one.lead }),
    words[`lead_${one.reason}`](),
    one.standing === "provided" ? "" : words[`standing_${one.standing}`](),
    words.review_by({ date: date(one.review_due_on) }),
  ],
  review: one.review ?? null,
});

const pair = (one: Wire<"TwinNoticeView">): ToReview => ({
  id: one.id,
  kind: "twin_notices",
  at: one.second.at,
  about: [
    `${one.given_name} ${one.family_name}, ${one.serial}`,
    words.seen({ gate: one.first.gate, time: clockWithSeconds(one.first.at) }),
    words.seen({ gate: one.second.gate, time: clockWithSeconds(one.second.at) }),
  ],
  review: one.review ?? null,
});

/** Those that wait, or those that somebody has looked at: oldest first. */
export async function toReview(reviewed: boolean): Promise<ToReview[]> {
  const query = { reviewed, limit: 500 };
  const [entries, pairs] = await Promise.all([
    all(cursor => api.GET("/api/v1/lead_entries", { params: { query: { ...query, cursor } } })),
    all(cursor => api.GET("/api/v1/twin_notices", { params: { query: { ...query, cursor } } })),
  ]);
  return [...entries.map(entry), ...pairs.map(pair)].sort((one, other) => one.at.localeCompare(other.at));
}

/** One of them in a line. */
export const told = (one: ToReview): string =>
  [dayAndClock(one.at), ...one.about].filter(Boolean).join(" · ");

interface Props {
  one: ToReview;
  onClose: () => void;
  onDone: () => void;
}

/** What was found, in words; the name is that of whoever is signed in. */
export function SignOff({ one, onClose, onDone }: Props) {
  const [id] = useState(newId);
  const [note, setNote] = useState("");
  const sign = useAction(async () => {
    const body = { id, note: note.trim(), happened_at: nowText() };
    if (one.kind === "lead_entries") {
      const params = { path: { lead_entry_id: one.id } };
      await need(api.POST("/api/v1/lead_entries/{lead_entry_id}/reviews", { params, body }));
    } else {
      const params = { path: { twin_notice_id: one.id } };
      await need(api.POST("/api/v1/twin_notices/{twin_notice_id}/reviews", { params, body }));
    }
    onDone();
  });
  return (
    <Dialog title={words[one.kind]()} onClose={onClose}>
      <p>{told(one)}</p>
      <TextField
        label={words.found()}
        hint={words.found_hint()}
        value={note}
        onValue={setNote}
        maxLength={500}
        problem={faultAt(sign.problem, "note")}
      />
      <ProblemNotice problem={sign.problem} />
      <div class="row">
        <Button kind="main" busy={sign.busy} disabled={note.trim() === ""} onClick={() => void sign.run()}>
          {words.sign_off()}
        </Button>
        <Button onClick={onClose}>{kit.cancel()}</Button>
      </div>
    </Dialog>
  );
}
