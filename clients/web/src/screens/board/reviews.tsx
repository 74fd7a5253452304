import { useState } from "preact/hooks";
import { all, api, need, newId, nowText, type Wire } from "../../api/client";
import { may } from "../../app/session";
import { useAction } from "../../app/use-action";
import { useResource } from "../../app/use-resource";
import { Tag } from "../../kit/answer";
import { Button } from "../../kit/button";
import { Dialog } from "../../kit/dialog";
import { TextField } from "../../kit/field";
import { ProblemNotice } from "../../kit/notice";
import { Panel } from "../../kit/page";
import { board as words } from "../../words/board";
import { clockWithSeconds, date, dayAndClock } from "../../words/format";
import { kit } from "../../words/kit";

interface Waiting {
  id: string;
  kind: "lead_entries" | "twin_notices";
  at: string;
  about: string[];
}

const entry = (one: Wire<"LeadEntryView">): Waiting => ({
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
});

const pair = (one: Wire<"TwinNoticeView">): Waiting => ({
  id: one.id,
  kind: "twin_notices",
  at: one.second.at,
  about: [
    `${one.given_name} ${one.family_name}, ${one.serial}`,
    words.seen({ gate: one.first.gate, time: clockWithSeconds(one.first.at) }),
    words.seen({ gate: one.second.gate, time: clockWithSeconds(one.second.at) }),
  ],
});

/** Entries under a lead's name, and pairs of readings, at which nobody has looked yet: oldest first. */
async function unread(): Promise<Waiting[]> {
  const query = { reviewed: false, limit: 500 };
  const [entries, pairs] = await Promise.all([
    all(cursor => api.GET("/api/v1/lead_entries", { params: { query: { ...query, cursor } } })),
    all(cursor => api.GET("/api/v1/twin_notices", { params: { query: { ...query, cursor } } })),
  ]);
  return [...entries.map(entry), ...pairs.map(pair)].sort((one, other) => one.at.localeCompare(other.at));
}

/** What happened at gates and waits for somebody who looks at it under their name. */
export function Reviews() {
  const mayRead = may("list_lead_entries") && may("list_twin_notices");
  const waiting = useResource(mayRead ? "reviews" : null, unread, {
    nouns: ["lead_entries", "lead_entry_reviews", "twin_notices", "twin_notice_reviews"],
  });
  const [chosen, setChosen] = useState<Waiting | null>(null);
  if (!waiting.data?.length) return null;
  return (
    <Panel title={words.reviews()}>
      <ul class="rows">
        {waiting.data.map(one => (
          <li key={one.id} class="board-alarm">
            <div class="stack stack-close">
              <Tag tone="wait">{words[one.kind]()}</Tag>
              <p>{[dayAndClock(one.at), ...one.about].filter(Boolean).join(" · ")}</p>
            </div>
            {may("create_lead_entry_review") && (
              <Button onClick={() => setChosen(one)}>{words.sign_off()}</Button>
            )}
          </li>
        ))}
      </ul>
      {chosen && (
        <SignOff
          one={chosen}
          onClose={() => setChosen(null)}
          onDone={() => {
            setChosen(null);
            waiting.reload();
          }}
        />
      )}
    </Panel>
  );
}

/** What was found, in words; the name is that of whoever is signed in. */
function SignOff({ one, onClose, onDone }: { one: Waiting; onClose: () => void; onDone: () => void }) {
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
      <p>{[dayAndClock(one.at), ...one.about].filter(Boolean).join(" · ")}</p>
      <TextField
        label={words.found()}
        hint={words.found_hint()}
        value={note}
        onValue={setNote}
        maxLength={500}
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
