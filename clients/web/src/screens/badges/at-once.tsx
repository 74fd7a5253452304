import "./badges.css";
import { useLocation, useRoute } from "preact-iso";
import { useState } from "preact/hooks";
import { all, api, need, newId, nowText, type Wire } from "../../api/client";
import { to } from "../../app/screens";
import { useAction } from "../../app/use-action";
import { useResource } from "../../app/use-resource";
import { Answer } from "../../kit/answer";
import { Button } from "../../kit/button";
import { Notice, ProblemNotice } from "../../kit/notice";
import { Page, Panel } from "../../kit/page";
import { Loaded } from "../../kit/states";
import { badgeSteps as words } from "../../words/badge-steps";
import { badges } from "../../words/badges";
import { date } from "../../words/format";
import { ClearanceTable, useClearances } from "../people/clearances";
import { FindPerson } from "../people/find-person";
import { apart, fullName, type Person, readPerson } from "../people/person";
import { useRespiratorNames } from "../records/names";
import { PrintForm } from "./print-form";
import { sheetOf } from "./sheet";

type Badge = Wire<"BadgeView">;

/** One badge for somebody who cannot wait for the batch: found, looked at, made and printed. */
export default function AtOnce() {
  const { id } = useRoute().params;
  const { route } = useLocation();
  // Nothing of the person before stays: another person is another page.
  if (id) return <One key={id} id={id} />;
  return (
    <Page title={words.once_title()} narrow>
      <Panel>
        <FindPerson onFound={found => route(to(`/badges/at-once/${found.id}`))} />
      </Panel>
    </Page>
  );
}

function One({ id }: { id: string }) {
  const person = useResource(`person ${id}`, () => readPerson(id), { nouns: ["people"] });
  const [made, setMade] = useState<Badge | null>(null);
  return (
    <Page
      title={words.once_one_title()}
      actions={<Button href={to("/badges/at-once")}>{words.once_another()}</Button>}
    >
      <Loaded resource={person}>
        {found => (made ? <Made badge={made} /> : <Asked person={found} onMade={setMade} />)}
      </Loaded>
    </Page>
  );
}

interface AskedProps {
  person: Person;
  onMade: (badge: Badge) => void;
}

/** What the badge would say; the server asks the clearances once more when it makes it. */
function Asked({ person, onMade }: AskedProps) {
  const clearances = useClearances(person.id, null);
  const respirators = useRespiratorNames();
  return (
    <Panel title={fullName(person)}>
      <p class="soft">{apart(person)}</p>
      <Loaded resource={clearances}>
        {({ items }) => {
          const cleared = items.some(one => one.state === "cleared");
          return (
            <>
              <Answer
                tone={cleared ? "go" : "stop"}
                word={cleared ? words.once_cleared() : words.once_not_cleared()}
              >
                {!cleared && <p>{words.once_not_cleared_more()}</p>}
              </Answer>
              {items.length > 0 && <ClearanceTable items={items} respirators={respirators} />}
              {cleared && <Make person={person} onMade={onMade} />}
            </>
          );
        }}
      </Loaded>
    </Panel>
  );
}

function Make({ person, onMade }: AskedProps) {
  // One id for each press that may be repeated: the same badge twice is one badge.
  const [id] = useState(newId);
  const query = { person_id: person.id, limit: 500 };
  const before = useResource(
    `badges of ${person.id}`,
    () => all(cursor => api.GET("/api/v1/badges", { params: { query: { ...query, cursor } } })),
    { nouns: ["badges", "badge_endings", "badge_holds", "badge_hold_releases"] },
  );
  const make = useAction(async () => {
    const body = { id, person_id: person.id, happened_at: nowText() };
    onMade(await need(api.POST("/api/v1/badges", { body })));
  });
  return (
    <Loaded resource={before}>
      {found => (
        <>
          <Before badge={found.find(one => one.status === "valid" || one.status === "held")} />
          <p class="small soft">{words.once_four()}</p>
          <ProblemNotice problem={make.problem} />
          <Button kind="main" size="large" wide busy={make.busy} onClick={() => void make.run()}>
            {words.once_make()}
          </Button>
        </>
      )}
    </Loaded>
  );
}

/** What becomes of the badge that the person has. */
function Before({ badge }: { badge: Badge | undefined }) {
  if (!badge) return <p class="soft">{words.once_none_before()}</p>;
  const { serial } = badge;
  return (
    <Notice tone="wait">
      <p>{badge.status === "held" ? words.once_held({ serial }) : words.once_before({ serial })}</p>
      <p>
        <a href={to(`/badges/one/${badge.id}`)}>{badges.look_at()}</a>
      </p>
    </Notice>
  );
}

function Made({ badge }: { badge: Badge }) {
  return (
    <>
      <Notice tone="go" title={words.once_made()} urgent>
        <p>
          <b>{badge.name}</b> · <span class="number">{badges.serial({ serial: badge.serial })}</span>
        </p>
        <ul>
          {badge.respirators.map(({ respirator_id, name, size, due_on }) => (
            <li key={respirator_id}>{badges.respirator({ name, size, date: date(due_on) })}</li>
          ))}
        </ul>
        <p>{words.once_give()}</p>
      </Notice>
      <PrintForm name="badge.pdf" onPrint={settings => sheetOf(badge.id, settings)} />
      <div class="row">
        <Button href={to("/badges")}>{words.once_to_desk()}</Button>
        <Button href={to(`/badges/one/${badge.id}`)}>{badges.look_at()}</Button>
      </div>
    </>
  );
}
