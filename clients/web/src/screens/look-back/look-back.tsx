import "./look-back.css";
import { useLocation, useRoute } from "preact-iso";
import { useState } from "preact/hooks";
import { api, need, type Wire } from "../../api/client";
import { useAction } from "../../app/use-action";
import { useResource } from "../../app/use-resource";
import { Button } from "../../kit/button";
import { Notice, ProblemNotice } from "../../kit/notice";
import { Page, Panel } from "../../kit/page";
import { saveFile } from "../../kit/save-file";
import { Empty, Loaded } from "../../kit/states";
import { Tabs } from "../../kit/tabs";
import { number } from "../../words/format";
import { lookBack as words } from "../../words/look-back";
import { shell } from "../../words/shell";
import { type Asked, isThing, queryOf, useName } from "./asked";
import { useGates } from "../gates/lists";
import { StopThing } from "../stops/stop-thing";
import { PersonRow } from "./person-row";

const GROUPS = ["surely", "possibly", "not_affected"] as const;
type Group = (typeof GROUPS)[number];

const NOUNS = [
  "attempts",
  "attempt_corrections",
  "fills",
  "fill_emptyings",
  "fill_gaps",
  "lot_stops",
  "permissions",
  "screenings",
  "stops",
  "stop_releases",
];

/** Who stands on it: in three honest groups, with the reason for each person, and the fewest retests. */
export default function LookBack() {
  const { params } = useRoute();
  const { query } = useLocation();
  const thing = params["what"] ?? "";
  if (!isThing(thing)) return <Page title={shell.not_found()} narrow />;
  return <Shown asked={{ thing, id: params["id"] ?? "", from: query["from"], until: query["until"] }} />;
}

function Shown({ asked }: { asked: Asked }) {
  const name = useName(asked);
  const [group, setGroup] = useState<Group>("surely");
  const people = useResource(`look-back ${JSON.stringify(asked)} ${group}`, () => everyPage(asked, group), {
    nouns: NOUNS,
  });
  const gates = useGateNames();
  const save = useAction(async () => {
    const file = await need(
      api.GET("/api/v1/look_backs/export", { params: { query: queryOf(asked) }, parseAs: "blob" }),
    );
    saveFile(file as unknown as Blob, "look-back.csv");
  });
  return (
    <Page
      title={words.title()}
      intro={name}
      actions={
        <>
          <Button onClick={() => print()}>{words.print()}</Button>
          <Button busy={save.busy} onClick={() => void save.run()}>
            {words.export()}
          </Button>
          {asked.thing !== "lot" && (
            <StopThing {...asked} thing={asked.thing} name={name} onStopped={people.reload} />
          )}
        </>
      }
    >
      <ProblemNotice problem={save.problem} />
      <Notice tone="plain">
        <p>{words.caution_stop()}</p>
        <p>{words.caution()}</p>
      </Notice>
      <Tabs
        label={words.title()}
        value={group}
        tabs={GROUPS.map(value => ({ value, label: words[value]() }))}
        onValue={setGroup}
      >
        <Loaded resource={people}>
          {({ totals, items }) => (
            <>
              <Totals totals={totals} />
              <Panel title={words[group]()}>
                <p class="soft">{words[`${group}_more`]()}</p>
                {items.length === 0 && <Empty title={words.none()} />}
                <ul class="rows">
                  {items.map(one => (
                    <li key={one.person_id}>
                      <PersonRow person={one} gates={gates} />
                    </li>
                  ))}
                </ul>
              </Panel>
            </>
          )}
        </Loaded>
      </Tabs>
    </Page>
  );
}

/** What each gate is called, for retests that open it. */
function useGateNames(): ReadonlyMap<string, string> {
  const gates = useGates();
  return new Map(gates.data?.map(one => [one.id, one.name]));
}

function Totals({ totals }: { totals: Wire<"AllTotals"> }) {
  return (
    <Panel>
      <ul class="look-back-totals">
        {GROUPS.map(group => (
          <li key={group} class="look-back-total">
            <span class="strong">{words[group]()}</span>
            <span class="number">{number(totals[group].people)}</span>
            <span class="soft small">{words.runs(totals[group])}</span>
          </li>
        ))}
      </ul>
    </Panel>
  );
}

/** A list is read whole: whoever prints it must not miss the last page. */
async function everyPage(asked: Asked, certainty: Group): Promise<Wire<"LookBackView">> {
  const items: Wire<"LookBackPerson">[] = [];
  let cursor: string | null | undefined;
  for (;;) {
    const query = { ...queryOf(asked), certainty, limit: 200, ...(cursor ? { cursor } : {}) };
    const page: Wire<"LookBackView"> = await need(api.GET("/api/v1/look_backs", { params: { query } }));
    items.push(...page.items);
    cursor = page.next;
    if (!cursor) return { totals: page.totals, items };
  }
}
