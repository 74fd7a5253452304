import { useState } from "preact/hooks";
import { all, api } from "../../api/client";
import { day } from "../../app/place";
import { useResource } from "../../app/use-resource";
import { Button } from "../../kit/button";
import { SelectField, TextField } from "../../kit/field";
import { Facts, Page, Panel } from "../../kit/page";
import { Empty, Loaded } from "../../kit/states";
import { number, shortDay } from "../../words/format";
import { records as words } from "../../words/records";
import { fullName, type Person } from "../people/person";
import { AttemptTable } from "./attempt-table";
import { useDays } from "../days/lists";
import { peopleOf, useRespiratorNames } from "./names";
import { type Ending, endingOf, endingWord, type Item, lateBy } from "./outcome";

const ENDINGS: readonly Ending[] = ["pass", "fail", "void", "stopped", "open"];
const REMARKS = ["corrected", "late"] as const;
type Remark = (typeof REMARKS)[number];
/** What a person goes through without asking for more. */
const SHOWN_MAX = 100;

interface Found {
  items: Item[];
  people: ReadonlyMap<string, Person>;
}

/** Can this record be trusted? The attempts of one day, with what was corrected or came late shown first. */
export default function Records() {
  const days = useDays();
  const [chosen, setChosen] = useState("");
  // A day is asked about, not everybody: nobody sees more people than the question needs.
  const dayId = chosen || day.value?.id || (days.data?.at(-1)?.id ?? "");
  const found = useResource(dayId ? `records ${dayId}` : null, () => read(dayId), {
    nouns: ["attempts", "attempt_corrections"],
  });
  return (
    <Page title={words.title()} intro={words.intro()}>
      <Panel>
        <Loaded resource={days}>
          {list => (
            <SelectField
              label={words.day()}
              value={dayId}
              nothing=""
              options={list
                .toSorted((one, other) => other.opens_at.localeCompare(one.opens_at))
                .map(one => ({ value: one.id, label: `${shortDay(one.opens_at)} · ${one.place}` }))}
              onValue={setChosen}
            />
          )}
        </Loaded>
      </Panel>
      {dayId && <Loaded resource={found}>{answer => <OfDay key={dayId} {...answer} />}</Loaded>}
    </Page>
  );
}

async function read(day_id: string): Promise<Found> {
  const items = await all(cursor =>
    api.GET("/api/v1/attempts", { params: { query: { day_id, cursor, limit: 500 } } }),
  );
  const newest = items.toSorted((one, other) => other.happened_at.localeCompare(one.happened_at));
  return { items: newest, people: await peopleOf(items.map(one => one.person_id)) };
}

function OfDay({ items, people }: Found) {
  const respirators = useRespiratorNames();
  const [text, setText] = useState("");
  const [ending, setEnding] = useState<Ending | "any">("any");
  const [remark, setRemark] = useState<Remark | "any">("any");
  const [whole, setWhole] = useState(false);
  if (items.length === 0) {
    return (
      <Panel>
        <Empty title={words.none_day()} />
      </Panel>
    );
  }
  const fits = (item: Item) =>
    (ending === "any" || endingOf(item) === ending) &&
    (remark === "any" || (remark === "corrected" ? item.corrected_at != null : lateBy(item) > 0)) &&
    called(people.get(item.person_id), text);
  const fitting = items.filter(fits);
  const shown = whole ? fitting : fitting.slice(0, SHOWN_MAX);
  return (
    <>
      <Panel title={words.counts()}>
        <Counts items={items} />
      </Panel>
      <Panel>
        <div class="fields">
          <TextField label={words.filter_text()} type="search" value={text} onValue={setText} />
          <SelectField
            label={words.filter_outcome()}
            value={ending}
            options={[
              { value: "any", label: words.any() },
              ...ENDINGS.map(value => ({ value, label: endingWord(value) })),
            ]}
            onValue={setEnding}
          />
          <SelectField
            label={words.filter_remark()}
            value={remark}
            options={[
              { value: "any", label: words.any() },
              { value: "corrected", label: words.corrected() },
              { value: "late", label: words.late_short() },
            ]}
            onValue={setRemark}
          />
        </div>
        <p class="soft small" role="status">
          {shown.length < items.length
            ? words.shown_of({ n: shown.length, all: items.length })
            : words.shown({ n: items.length })}
        </p>
        {fitting.length === 0 ? (
          <Empty title={words.none()} />
        ) : (
          <AttemptTable caption={words.nav()} items={shown} respirators={respirators} people={people} />
        )}
        {shown.length < fitting.length && (
          <div class="row">
            <Button onClick={() => setWhole(true)}>{words.show_all({ n: fitting.length })}</Button>
          </div>
        )}
      </Panel>
    </>
  );
}

/** Whether somebody's name or number has what was typed in it. */
function called(person: Person | undefined, text: string): boolean {
  const wanted = text.trim().toLocaleLowerCase();
  if (wanted === "") return true;
  return person ? `${fullName(person)} ${person.staff_number}`.toLocaleLowerCase().includes(wanted) : false;
}

function Counts({ items }: { items: readonly Item[] }) {
  const count = (of: (item: Item) => boolean) => number(items.filter(of).length);
  return (
    <>
      <Facts
        facts={[
          ...ENDINGS.map(
            ending => [words[`count_${ending}`](), count(item => endingOf(item) === ending)] as const,
          ),
          [words.count_corrected(), count(item => item.corrected_at != null)],
          [words.count_late(), count(item => lateBy(item) > 0)],
        ]}
      />
      <p class="soft small">{words.late_hint()}</p>
    </>
  );
}
