import { api, need, type Wire } from "../../api/client";
import { may } from "../../app/session";
import { useResource } from "../../app/use-resource";
import { Panel } from "../../kit/page";
import { Empty, Loaded } from "../../kit/states";
import { Table } from "../../kit/table";
import { dayAndClock } from "../../words/format";
import { findingWords as words } from "../../words/findings";
import { equipmentWords } from "../../words/equipment";
import type { Equipment } from "./names";

const NOUNS = ["equipment_checks", "attempts", "screenings"];

/** Everything that was found on a nebulizer or hood, newest first. */
export function Findings({ one, others }: { one: Equipment; others: readonly Equipment[] }) {
  const params = { path: { equipment_id: one.id } };
  const found = useResource(
    may("list_equipment_checks") ? `findings ${one.id}` : null,
    () => need(api.GET("/api/v1/equipment/{equipment_id}/checks", { params })),
    { nouns: NOUNS },
  );
  const label = (id: string) => others.find(row => row.id === id)?.label ?? "…";
  const note = (check: Wire<"EquipmentCheckView">) =>
    [check.other_equipment_id && words.with({ label: label(check.other_equipment_id) }), check.note]
      .filter(Boolean)
      .join(" · ") || "–";
  return (
    <Panel title={words.title()}>
      <Loaded resource={found}>
        {rows =>
          rows.length === 0 ? (
            <Empty title={words.none()} />
          ) : (
            <Table
              caption={words.title()}
              rows={[...rows].sort((a, b) => b.happened_at.localeCompare(a.happened_at))}
              keyOf={check => check.id}
              columns={[
                { title: words.finding(), cell: check => equipmentWords[`find_${check.finding}`]() },
                { title: words.when(), cell: check => dayAndClock(check.happened_at) },
                { title: words.note(), cell: note },
              ]}
            />
          )
        }
      </Loaded>
    </Panel>
  );
}

const OUTCOMES = ["pass", "fail", "void", "stopped", "tasted", "not_tasted"] as const;

const outcome = (run: Wire<"ReviewedRunView">): string => {
  if (!run.outcome) return words.running();
  const known = OUTCOMES.find(one => one === run.outcome);
  return known ? words[`result_${known}`]() : run.outcome;
};

/** After a clog or a mix-up: every run that was made with it since it was last seen to spray. People stand in it. */
export function Review({ one }: { one: Equipment }) {
  const out = one.kind === "nebulizer" && (one.state === "clogged" || one.state === "mixed_up");
  const params = { path: { equipment_id: one.id } };
  const review = useResource(
    out && may("read_equipment_review") && may("read_person") ? `review ${one.id}` : null,
    async () => {
      const found = await need(api.GET("/api/v1/equipment/{equipment_id}/review", { params }));
      const ids = [...new Set(found.runs.map(run => run.person_id))];
      const people = await Promise.all(
        ids.map(person_id =>
          need(api.GET("/api/v1/people/{person_id}", { params: { path: { person_id } } })),
        ),
      );
      return { ...found, people: new Map(people.map(person => [person.id, person])) };
    },
    { nouns: NOUNS },
  );
  if (!review.data && !review.problem) return null;
  return (
    <Panel title={words.review()}>
      <Loaded resource={review}>
        {({ sprayed_at, runs, people }) => (
          <>
            <p class="soft">
              {sprayed_at ? words.review_since({ time: dayAndClock(sprayed_at) }) : words.review_never()}
            </p>
            {runs.length === 0 ? (
              <Empty title={words.review_none()} />
            ) : (
              <Table
                caption={words.review()}
                rows={runs}
                keyOf={run => run.id}
                columns={[
                  {
                    title: words.person(),
                    cell: run => {
                      const person = people.get(run.person_id);
                      return person
                        ? `${person.given_name} ${person.family_name} · ${person.staff_number}`
                        : "…";
                    },
                  },
                  {
                    title: words.run(),
                    cell: run => (run.run === "screening" ? words.run_screening() : words.run_attempt()),
                  },
                  { title: words.when(), cell: run => dayAndClock(run.happened_at) },
                  { title: words.outcome(), cell: outcome },
                ]}
              />
            )}
          </>
        )}
      </Loaded>
    </Panel>
  );
}
