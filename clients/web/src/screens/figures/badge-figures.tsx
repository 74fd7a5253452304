import { api, need } from "../../api/client";
import { Panel } from "../../kit/page";
import { Table } from "../../kit/table";
import { badges } from "../../words/badges";
import { figures as words } from "../../words/figures";
import { date, list, number } from "../../words/format";
import { FiguresPage } from "./figures-page";
import { type Counted, type DayFigures, misprintsOf, reprintsOf, total } from "./sums";

/** A fit-testing day and what came of it until its badges are all handed over. */
const DAYS_AT_FIRST = 30;

/** How many badges were made, and what went wrong with them: by day and by cause. */
export default function BadgeFigures() {
  return (
    <FiguresPage
      title={words.badges_title()}
      none={words.badges_none()}
      daysAtFirst={DAYS_AT_FIRST}
      read={async days => (await need(api.GET("/api/v1/badge_figures", { params: { query: days } }))).items}
      nouns={["badges", "badge_endings", "badge_hand_overs"]}
    >
      {found => <Counts days={found} />}
    </FiguresPage>
  );
}

function Counts({ days }: { days: readonly DayFigures[] }) {
  return (
    <>
      <Panel title={words.by_day()}>
        <ByDay days={days} />
      </Panel>
      <ByCause
        title={words.by_misprint()}
        name={words.how()}
        counted={misprintsOf(days)}
        said={cause => badges[`misprint_${cause}`]()}
      />
      <ByCause
        title={words.by_reprint()}
        name={words.why()}
        counted={reprintsOf(days)}
        said={reason => badges[`reprint_${reason}`]()}
      />
    </>
  );
}

interface Row {
  key: string;
  name: string;
  days: readonly DayFigures[];
}

const sum = (row: Row, of: "made" | "handed_over") => number(row.days.reduce((all, day) => all + day[of], 0));

/** A row for each day on which anything happened, and one for all of them. */
function ByDay({ days }: { days: readonly DayFigures[] }) {
  const rows: Row[] = days.map(day => ({ key: day.day, name: date(day.day), days: [day] }));
  if (rows.length > 1) rows.push({ key: "all", name: words.all_days(), days });
  return (
    <Table
      caption={words.by_day()}
      rows={rows}
      keyOf={row => row.key}
      columns={[
        { title: words.day(), cell: row => row.name },
        { title: words.made(), cell: row => sum(row, "made"), number: true },
        { title: words.handed_over(), cell: row => sum(row, "handed_over"), number: true },
        {
          title: words.misprints(),
          cell: row => causes(misprintsOf(row.days), cause => badges[`misprint_${cause}`]()),
        },
        {
          title: words.reprints(),
          cell: row => causes(reprintsOf(row.days), reason => badges[`reprint_${reason}`]()),
        },
      ]}
    />
  );
}

/** "3: 2 × smeared or pale and 1 × cut wrong" */
function causes<Name extends string>(
  counted: readonly Counted<Name>[],
  said: (name: Name) => string,
): string {
  if (counted.length === 0) return number(0);
  const each = counted.map(({ name, count }) => `${number(count)} × ${said(name)}`);
  return `${number(total(counted))}: ${list(each)}`;
}

interface ByCauseProps<Name extends string> {
  title: string;
  name: string;
  counted: readonly Counted<Name>[];
  said: (name: Name) => string;
}

function ByCause<Name extends string>({ title, name, counted, said }: ByCauseProps<Name>) {
  return (
    <Panel title={title}>
      {counted.length === 0 ? (
        <p class="soft">{words.none_of_it()}</p>
      ) : (
        <Table
          caption={title}
          rows={counted}
          keyOf={one => one.name}
          columns={[
            { title: name, cell: one => said(one.name) },
            { title: words.count(), cell: one => number(one.count), number: true },
          ]}
        />
      )}
    </Panel>
  );
}
