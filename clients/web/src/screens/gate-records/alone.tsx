import { api, type Wire } from "../../api/client";
import { usePages } from "../../app/use-pages";
import { Tag } from "../../kit/answer";
import { More } from "../../kit/more";
import { Panel } from "../../kit/page";
import type { Tone } from "../../kit/shape";
import { Empty, Loaded } from "../../kit/states";
import { Table } from "../../kit/table";
import { dayAndClock, span } from "../../words/format";
import { gateRecords as words } from "../../words/gate-records";
import { AnswerTag } from "./answer-tag";
import { BadgeName, useBadges } from "./badge-name";

const TONES: Record<Wire<"ComparisonMark">, Tone> = {
  same: "go",
  not_known_at_gate: "unknown",
  learned_since: "plain",
};

/** What the gate answered without the network, and whether it could have known better. */
export function Alone({ gateId }: { gateId: string }) {
  const { resource, more } = usePages(`alone ${gateId}`, (cursor, limit) =>
    api.GET("/api/v1/gates/{gate_id}/scan_comparisons", {
      params: { path: { gate_id: gateId }, query: { cursor, limit } },
    }),
  );
  const badges = useBadges(resource.data?.items.map(one => one.badge_id) ?? []);
  return (
    <Panel title={words.tab_alone()}>
      <p class="soft">{words.alone_intro()}</p>
      <Loaded resource={resource}>
        {({ items, rest }) =>
          items.length === 0 ? (
            <Empty title={words.alone_none()} />
          ) : (
            <>
              <Table
                caption={words.tab_alone()}
                rows={items}
                keyOf={one => one.scan_id}
                columns={[
                  { title: words.time(), cell: one => dayAndClock(one.happened_at) },
                  { title: words.badge(), cell: one => <BadgeName id={one.badge_id} badges={badges} /> },
                  { title: words.given(), cell: one => <AnswerTag answer={one.given} /> },
                  {
                    title: words.age(),
                    cell: one =>
                      one.knowledge_age_seconds == null ? "–" : span(one.knowledge_age_seconds * 1000),
                  },
                  { title: words.server_then(), cell: one => <Said said={one.then} /> },
                  { title: words.server_now(), cell: one => <Said said={one.now} /> },
                  {
                    title: words.mark(),
                    cell: one => <Tag tone={TONES[one.mark]}>{words[`mark_${one.mark}`]()}</Tag>,
                  },
                ]}
              />
              <More rest={rest} busy={resource.loading} onMore={more} />
            </>
          )
        }
      </Loaded>
    </Panel>
  );
}

function Said({ said }: { said: Wire<"SaidView"> }) {
  return (
    <>
      <AnswerTag answer={said.answer} /> <span class="soft small">{words[`reason_${said.reason}`]()}</span>
    </>
  );
}
