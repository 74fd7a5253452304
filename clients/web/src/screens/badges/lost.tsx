import "./badges.css";
import { useState } from "preact/hooks";
import { all, api, need, newId, nowText, type Wire } from "../../api/client";
import { to } from "../../app/screens";
import { useAction } from "../../app/use-action";
import { useResource } from "../../app/use-resource";
import { Button } from "../../kit/button";
import { Notice, ProblemNotice } from "../../kit/notice";
import { Page, Panel } from "../../kit/page";
import { Empty, Loaded } from "../../kit/states";
import { badges as words } from "../../words/badges";
import { dayAndClock } from "../../words/format";
import { FindPerson } from "../people/find-person";
import { fullName, type Person } from "../people/person";
import { FindForm } from "./find-form";

/** A badge is missed, or one was found somewhere. */
export default function Lost() {
  return (
    <Page title={words.lost_title()}>
      <div class="columns">
        <Panel title={words.lost()}>
          <LostBadge />
        </Panel>
        <div class="stack">
          <Panel title={words.found()}>
            <FindForm keep={keep} kept={words.found_kept()} />
          </Panel>
          <Finds />
        </div>
      </div>
    </Page>
  );
}

/** One touch ends it at every gate; accusing nobody. */
function LostBadge() {
  const [person, setPerson] = useState<Person | null>(null);
  const [ended, setEnded] = useState<{ name: string; badge: string } | null>(null);
  const end = useAction(async (whose: Person) => {
    const params = { path: { person_id: whose.id } };
    const body = { id: newId(), happened_at: nowText() };
    const badge = await need(api.POST("/api/v1/people/{person_id}/lost_badges", { params, body }));
    setEnded({ name: badge.name, badge: badge.id });
    setPerson(null);
  });
  return (
    <>
      <FindPerson
        onFound={found => {
          setEnded(null);
          setPerson(found);
        }}
      />
      {person && (
        <Button kind="stop" size="large" wide busy={end.busy} onClick={() => void end.run(person)}>
          {words.lost_end({ name: fullName(person) })}
        </Button>
      )}
      <ProblemNotice problem={end.problem} />
      {ended && <Notice tone="go" title={words.lost_ended({ name: ended.name })} urgent />}
    </>
  );
}

const keep = (body: Wire<"NewBadgeFind">) => need(api.POST("/api/v1/badge_finds", { body }));

function Finds() {
  const finds = useResource(
    "badge finds",
    () => all(cursor => api.GET("/api/v1/badge_finds", { params: { query: { cursor } } })),
    { nouns: ["badge_finds", "badge_holds"] },
  );
  return (
    <Panel title={words.finds()}>
      <Loaded resource={finds}>
        {found =>
          found.length === 0 ? (
            <Empty title={words.finds_none()} />
          ) : (
            <ul class="rows">
              {[...found].reverse().map(one => (
                <li key={one.id}>
                  <a class="row-link" href={to(`/badges/one/${one.badge.id}`)}>
                    <span class="stack stack-close">
                      <b>{one.badge.name}</b>
                      <span class="small soft">{[one.gate, one.place].filter(Boolean).join(" · ")}</span>
                    </span>
                    <span class="soft">{dayAndClock(one.happened_at)}</span>
                  </a>
                </li>
              ))}
            </ul>
          )
        }
      </Loaded>
    </Panel>
  );
}
