import "./stores.css";
import { useRoute } from "preact-iso";
import { all, api, need, type Wire } from "../../api/client";
import { to } from "../../app/screens";
import { may } from "../../app/session";
import { useResource } from "../../app/use-resource";
import { Answer } from "../../kit/answer";
import { Facts, Page, Panel } from "../../kit/page";
import { Loaded } from "../../kit/states";
import { Table } from "../../kit/table";
import { dayAndClock, millilitres } from "../../words/format";
import { shell } from "../../words/shell";
import { stores as words } from "../../words/stores";
import { StopThing } from "../stops/stop-thing";
import { PrintLabels } from "./add-bottles";
import { BottleActions } from "./bottle-actions";
import { useLots } from "./lists";
import { type Bottle, bottleWord, solutionName } from "./names";

const NOUNS = [
  "bottle_movements",
  "bottle_openings",
  "fills",
  "fill_emptyings",
  "lot_stops",
  "placements",
  "stops",
  "stop_releases",
];

/** One bottle: may it be used, where is it, what is in it, and everything that happened to it. */
export default function OneBottle() {
  const { id = "" } = useRoute().params;
  const read = useResource(
    `bottle ${id}`,
    async () => {
      const ledger = await need(
        api.GET("/api/v1/bottles/{bottle_id}/ledger", { params: { path: { bottle_id: id } } }),
      );
      const query = { lot_id: ledger.lot_id, limit: 500 };
      const bottles = await all(cursor =>
        api.GET("/api/v1/bottles", { params: { query: { ...query, cursor } } }),
      );
      return { ledger, bottle: bottles.find(one => one.id === id) };
    },
    { nouns: NOUNS },
  );
  return (
    <Loaded resource={read}>
      {({ ledger, bottle }) =>
        bottle ? (
          <Page
            title={words.bottle({ label: bottle.label })}
            intro={solutionName(bottle.solution, bottle.agent)}
            actions={
              <StopThing
                thing="bottle"
                id={bottle.id}
                name={words.bottle({ label: bottle.label })}
                onStopped={read.reload}
              />
            }
          >
            <State bottle={bottle} />
            <BottleActions bottle={bottle} onDone={read.reload} />
            <Ledger entries={ledger.entries} />
            {may("create_label_sheet") && <PrintLabels bottleIds={[bottle.id]} />}
          </Page>
        ) : (
          <Page title={shell.not_found()} narrow />
        )
      }
    </Loaded>
  );
}

/** The end is the first moment that is too late; people read the last one that is not. */
const lastMinute = (end: string) => Date.parse(end) - 60_000;

function State({ bottle }: { bottle: Bottle }) {
  const lot = useLots().data?.find(one => one.id === bottle.lot_id);
  return (
    <>
      <Answer tone={bottle.usable ? "go" : "stop"} word={bottleWord(bottle)}>
        {bottle.usable_until && <p>{words.until({ date: dayAndClock(lastMinute(bottle.usable_until)) })}</p>}
      </Answer>
      <Panel>
        <Facts
          facts={[
            [words.place(), bottle.place?.name ?? words.nobody_said()],
            [words.on_hand(), <span class="number">{millilitres(bottle.on_hand_ul)}</span>],
            [words.opened(), bottle.opened_at ? dayAndClock(bottle.opened_at) : words.not_opened()],
            [
              words.lot_number(),
              <a href={to(`/stores/lots/${bottle.lot_id}`)}>{lot?.lot_number ?? words.nav_lots()}</a>,
            ],
          ]}
        />
      </Panel>
    </>
  );
}

type Entry = Wire<"BottleEntryView">;
const KNOWN = ["receive", "fill", "discard", "spill", "prepare", "count"] as const;

const nameOf = (entry: Entry): string => {
  const known = KNOWN.find(one => one === entry.movement);
  return known ? words[`movement_${known}`]() : entry.movement;
};

/** Newest first; a count that disagreed shows by how much, and a negative stays negative. */
function Ledger({ entries }: { entries: readonly Entry[] }) {
  const more = (entry: Entry) =>
    [
      entry.reason,
      entry.guessed && words.guess(),
      entry.difference_ul ? words.differs({ amount: millilitres(entry.difference_ul) }) : "",
    ]
      .filter(Boolean)
      .join(" · ");
  return (
    <Panel title={words.ledger()}>
      <Table
        caption={words.ledger()}
        rows={[...entries].reverse()}
        keyOf={one => one.id + one.movement}
        columns={[
          { title: words.entry(), cell: one => nameOf(one) },
          { title: words.when(), cell: one => dayAndClock(one.happened_at) },
          {
            title: words.change(),
            cell: one =>
              one.movement === "count" ? millilitres(one.counted_ul ?? 0) : millilitres(one.change_ul),
            number: true,
          },
          { title: words.after(), cell: one => millilitres(one.on_hand_ul), number: true },
          { title: words.by(), cell: one => one.by ?? "–" },
          { title: words.reason(), cell: more },
        ]}
      />
    </Panel>
  );
}
