import "./badges.css";
import { useState } from "preact/hooks";
import { all, api, need, newId, nowText } from "../../api/client";
import { to } from "../../app/screens";
import { useAction } from "../../app/use-action";
import { useResource } from "../../app/use-resource";
import { lineOf } from "../../badge/read";
import { Button } from "../../kit/button";
import { TextField } from "../../kit/field";
import { Notice, ProblemNotice } from "../../kit/notice";
import { Page, Panel } from "../../kit/page";
import { Empty, Loaded } from "../../kit/states";
import { badges as words } from "../../words/badges";
import { dayAndClock } from "../../words/format";
import { FindPerson } from "../people/find-person";
import { fullName, type Person } from "../people/person";

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
            <FoundBadge />
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

function FoundBadge() {
  const [id, setId] = useState(newId);
  const [text, setText] = useState("");
  const [place, setPlace] = useState("");
  const [kept, setKept] = useState(false);
  const keep = useAction(async () => {
    const body = { id, text: lineOf(text).text, place: place.trim(), happened_at: nowText() };
    await need(api.POST("/api/v1/badge_finds", { body }));
    setId(newId());
    setText("");
    setPlace("");
    setKept(true);
  });
  return (
    <form
      class="stack"
      onSubmit={event => {
        event.preventDefault();
        setKept(false);
        void keep.run();
      }}
    >
      <p class="soft">{words.found_hint()}</p>
      <TextField
        label={words.found_read()}
        value={text}
        onValue={setText}
        autocomplete="off"
        maxLength={800}
        required
      />
      <TextField label={words.found_place()} value={place} onValue={setPlace} maxLength={200} required />
      <ProblemNotice problem={keep.problem} />
      {kept && <Notice tone="go" title={words.found_kept()} urgent />}
      <div>
        <Button type="submit" busy={keep.busy}>
          {words.found_keep()}
        </Button>
      </div>
    </form>
  );
}

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
