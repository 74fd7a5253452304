import { useAction } from "../../app/use-action";
import { ProblemNotice } from "../../kit/notice";
import { Facts, Page } from "../../kit/page";
import { monthDay } from "../../words/format";
import { station as words } from "../../words/station";
import { Big } from "./big";
import type { Case, Chair } from "./chair";

/** Two facts before anything begins: the screen must not be about somebody else. */
export function Confirm({ chair, one }: { chair: Chair; one: Case }) {
  const yes = useAction(() => chair.confirm());
  const back = useAction((reason: "not_there" | "other", wait: number) => chair.giveBack(reason, wait));
  const { person } = one;
  return (
    <Page title={words.is_it()} intro={words.ask_born()}>
      <p class="station-name">{nameOf(one)}</p>
      <Facts
        facts={[
          [words.ticket(), one.ticket],
          [words.born(), person.birth_month_day ? monthDay(person.birth_month_day) : null],
          [words.unit(), person.unit],
          [words.number(), person.staff_number],
          [words.gear(), one.gear],
          [words.needs(), one.needs],
        ]}
      />
      <div class="station-calls">
        <Big kind="main" first onPress={() => void yes.run()}>
          {words.it_is()}
        </Big>
        <Big onPress={() => void back.run("not_there", 300)}>{words.not_there()}</Big>
        <Big onPress={() => void back.run("other", 0)}>{words.another()}</Big>
      </div>
      <ProblemNotice problem={back.problem ?? yes.problem} />
      <p class="soft small">{words.permission()}</p>
    </Page>
  );
}

export const nameOf = ({ person }: Case): string => `${person.given_name} ${person.family_name}`;
