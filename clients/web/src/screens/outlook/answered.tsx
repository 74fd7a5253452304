import type { Wire } from "../../api/client";
import { to } from "../../app/screens";
import { Answer, Tag } from "../../kit/answer";
import { Notice } from "../../kit/notice";
import { Facts, Panel } from "../../kit/page";
import { Table } from "../../kit/table";
import { dayAndClock, list, number } from "../../words/format";
import { outlook as words } from "../../words/outlook";
import { useRespiratorNames } from "../records/names";
import { Help } from "./help";

export type Outlook = Wire<"OutlookCountsView"> & Partial<Wire<"OutlookView">>;

/** How many, and by name where the reader plans the retests. */
export function Answered({ found }: { found: Outlook }) {
  const { counts, items, unknown_units = [] } = found;
  const out = counts.asked - counts.enter_then;
  return (
    <>
      <Panel>
        <Answer
          tone={out === 0 ? "go" : "stop"}
          word={out === 0 ? words.everybody_enters() : words.some({ n: out })}
        >
          <p>{dayAndClock(found.at)}</p>
        </Answer>
        {!found.policy_id && <Notice tone="wait" title={words.no_policy()} />}
        {unknown_units.length > 0 ? (
          <Notice tone="wait" title={words.unknown_units({ names: list(unknown_units) })} />
        ) : (
          counts.unknown > 0 && <Notice tone="wait" title={words.unknown({ n: counts.unknown })} />
        )}
        <Facts
          facts={[
            [words.asked(), number(counts.asked)],
            [words.enter_now(), number(counts.enter_now)],
            [words.enter_then(), number(counts.enter_then)],
            [words.turned_away(), number(counts.turned_away)],
          ]}
        />
        <p class="soft small">{words.caution()}</p>
      </Panel>
      {items && items.length > 0 && <Named items={items} />}
    </>
  );
}

function Named({ items }: { items: readonly Wire<"PersonOutlookView">[] }) {
  const respirators = useRespiratorNames();
  return (
    <Panel title={words.names()}>
      <Table
        caption={words.names()}
        // Who loses the door stands before who never had it.
        rows={items.toSorted((one, other) => Number(other.enters_now) - Number(one.enters_now))}
        keyOf={one => one.person_id}
        columns={[
          {
            title: words.person(),
            cell: one => (
              <a href={to(`/people/${one.person_id}`)}>
                {one.given_name} {one.family_name}
              </a>
            ),
          },
          { title: words.number(), cell: one => one.staff_number },
          { title: words.unit(), cell: one => one.unit || "–" },
          {
            title: words.now(),
            cell: one => (
              <Tag tone={one.enters_now ? "wait" : "stop"}>
                {one.enters_now ? words.now_enters() : words.now_not()}
              </Tag>
            ),
          },
          { title: words.help(), cell: one => <Help outlook={one} respirators={respirators} /> },
        ]}
      />
    </Panel>
  );
}
