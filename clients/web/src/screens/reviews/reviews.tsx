import { useState } from "preact/hooks";
import { may } from "../../app/session";
import { useResource } from "../../app/use-resource";
import { Tag } from "../../kit/answer";
import { Button } from "../../kit/button";
import { Page, Panel } from "../../kit/page";
import { Empty, Loaded } from "../../kit/states";
import { Tabs } from "../../kit/tabs";
import { board } from "../../words/board";
import { dayAndClock } from "../../words/format";
import { reviews as words } from "../../words/reviews";
import { REVIEW_NOUNS, SignOff, told, toReview, type ToReview } from "./review";

const TABS = ["waiting", "done"] as const;

/** What happened at the gates that somebody has to look at, and what those who looked have found. */
export default function Reviews() {
  const [tab, setTab] = useState<(typeof TABS)[number]>("waiting");
  const [chosen, setChosen] = useState<ToReview | null>(null);
  const found = useResource(`reviews ${tab}`, () => toReview(tab === "done"), { nouns: REVIEW_NOUNS });
  return (
    <Page title={words.title()} intro={words.intro()}>
      <Tabs
        label={words.title()}
        value={tab}
        tabs={TABS.map(value => ({ value, label: words[value]() }))}
        onValue={setTab}
      >
        <Panel>
          <Loaded resource={found}>
            {list =>
              list.length === 0 ? (
                <Empty title={tab === "waiting" ? words.waiting_none() : words.done_none()}>
                  {tab === "waiting" && <p>{words.waiting_none_more()}</p>}
                </Empty>
              ) : (
                <ul class="rows">
                  {list.map(one => (
                    <li key={one.id} class="entry">
                      <Entry one={one} onLook={() => setChosen(one)} />
                    </li>
                  ))}
                </ul>
              )
            }
          </Loaded>
        </Panel>
      </Tabs>
      {chosen && (
        <SignOff
          one={chosen}
          onClose={() => setChosen(null)}
          onDone={() => {
            setChosen(null);
            found.reload();
          }}
        />
      )}
    </Page>
  );
}

function Entry({ one, onLook }: { one: ToReview; onLook: () => void }) {
  const mayLook =
    one.kind === "lead_entries" ? may("create_lead_entry_review") : may("create_twin_notice_review");
  return (
    <>
      <div class="row row-apart">
        <Tag tone={one.review ? "go" : "wait"}>{board[one.kind]()}</Tag>
        {!one.review && mayLook && <Button onClick={onLook}>{board.sign_off()}</Button>}
      </div>
      <p>{told(one)}</p>
      {one.review && (
        <p>
          <span class="strong">{one.review.note}</span>{" "}
          <span class="soft small">
            {words.by({ name: one.review.reviewer, at: dayAndClock(one.review.happened_at) })}
          </span>
        </p>
      )}
    </>
  );
}
