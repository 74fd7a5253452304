import { useState } from "preact/hooks";
import { may } from "../../app/session";
import { useResource } from "../../app/use-resource";
import { Tag } from "../../kit/answer";
import { Button } from "../../kit/button";
import { Panel } from "../../kit/page";
import { board as words } from "../../words/board";
import { REVIEW_NOUNS, SignOff, told, toReview, type ToReview } from "../reviews/review";

/** What happened at gates and waits for somebody who looks at it under their name. */
export function Reviews() {
  const mayRead = may("list_lead_entries") && may("list_twin_notices");
  const waiting = useResource(mayRead ? "reviews" : null, () => toReview(false), { nouns: REVIEW_NOUNS });
  const [chosen, setChosen] = useState<ToReview | null>(null);
  if (!waiting.data?.length) return null;
  return (
    <Panel title={words.reviews()}>
      <ul class="rows">
        {waiting.data.map(one => (
          <li key={one.id} class="board-alarm">
            <div class="stack stack-close">
              <Tag tone="wait">{words[one.kind]()}</Tag>
              <p>{told(one)}</p>
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
