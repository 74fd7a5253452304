import { to } from "../../app/screens";
import { may } from "../../app/session";
import { type Column, Table } from "../../kit/table";
import { dayAndClock } from "../../words/format";
import { records as words } from "../../words/records";
import type { Person } from "../people/person";
import { fullName } from "../people/person";
import type { Names } from "./names";
import { EndingTag, endingOf, type Item, Remarks } from "./outcome";

interface Props {
  caption: string;
  items: readonly Item[];
  respirators: Names;
  /** Who was tested; left out where it is one person's list. */
  people?: ReadonlyMap<string, Person>;
}

/** Attempts in a list, each leading to its whole path. */
export function AttemptTable({ caption, items, respirators, people }: Props) {
  const when = (item: Item) =>
    may("read_attempt") ? (
      <a href={to(`/records/attempts/${item.id}`)}>{dayAndClock(item.happened_at)}</a>
    ) : (
      dayAndClock(item.happened_at)
    );
  const who: Column<Item>[] = people
    ? [
        { title: words.person(), cell: item => <Who person={people.get(item.person_id)} /> },
        { title: words.number(), cell: item => people.get(item.person_id)?.staff_number },
      ]
    : [];
  return (
    <Table
      caption={caption}
      rows={items}
      keyOf={item => item.id}
      columns={[
        { title: words.when(), cell: when },
        ...who,
        { title: words.respirator(), cell: item => respirators.get(item.respirator_id) ?? "…" },
        { title: words.method(), cell: item => words[`method_${item.method}`]() },
        { title: words.outcome(), cell: item => <EndingTag ending={endingOf(item)} /> },
        { title: words.remarks(), cell: item => <Remarks item={item} /> },
      ]}
    />
  );
}

function Who({ person }: { person: Person | undefined }) {
  if (!person) return <>…</>;
  return <a href={to(`/people/${person.id}`)}>{fullName(person)}</a>;
}
