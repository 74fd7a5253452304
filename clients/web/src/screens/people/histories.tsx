import { all, api, need, type Wire } from "../../api/client";
import { to } from "../../app/screens";
import { may } from "../../app/session";
import { useResource } from "../../app/use-resource";
import { Tag } from "../../kit/answer";
import { Facts, Panel } from "../../kit/page";
import type { Tone } from "../../kit/shape";
import { Empty, Loaded } from "../../kit/states";
import { date, dateAtSite, dayAndClock, list } from "../../words/format";
import { person as words } from "../../words/person";
import { useDays } from "../days/lists";
import { Refer } from "./refer";
import { useVisits } from "./visits";

interface Props {
  personId: string;
}

/** The visits of one person, and what was said at the last check-in that helps them. */
export function Visits({ personId }: Props) {
  const visits = useVisits(personId);
  const days = useDays().data ?? [];
  return (
    <Panel title={words.visits()}>
      <Loaded resource={visits}>
        {newest => {
          if (newest.length === 0) return <Empty title={words.visits_none()} />;
          return (
            <>
              {newest[0] && <Needs visitId={newest[0].id} />}
              <ul class="rows">
                {newest.map(one => (
                  <li key={one.id} class="entry">
                    <div class="row">
                      <span class="strong">{dayAndClock(one.happened_at)}</span>
                      {one.walk_in && <span class="soft small">{words.visit_walk_in()}</span>}
                    </div>
                    <Facts
                      facts={[
                        [words.visit_day(), days.find(day => day.id === one.day_id)?.place],
                        [words.visit_ticket(), one.ticket],
                        [words.visit_step(), words[`step_${one.step}`]()],
                      ]}
                    />
                  </li>
                ))}
              </ul>
            </>
          );
        }}
      </Loaded>
    </Panel>
  );
}

/** What would help during the test, as it was said at the desk. */
function Needs({ visitId }: { visitId: string }) {
  const visit = useResource(
    may("read_visit") ? `visit ${visitId}` : null,
    () => need(api.GET("/api/v1/visits/{visit_id}", { params: { path: { visit_id: visitId } } })),
    { nouns: ["visits", "visit_answers"] },
  );
  const answers = visit.data?.answers;
  if (!answers) return null;
  return (
    <Facts
      facts={[
        [words.needs(), answers.needs || words.needs_none()],
        [words.gear(), answers.gear_worn],
      ]}
    />
  );
}

const BADGE_TONES: Record<Wire<"BadgeState">, Tone> = {
  valid: "go",
  held: "unknown",
  expired: "stop",
  replaced: "plain",
  ended: "stop",
};

/** The badges of one person, newest first, each with what it is worth now. */
export function Badges({ personId }: Props) {
  const badges = useResource(
    `badges of ${personId}`,
    () =>
      all(cursor =>
        api.GET("/api/v1/badges", { params: { query: { person_id: personId, cursor, limit: 500 } } }),
      ),
    { nouns: ["badges", "badge_endings", "badge_holds", "badge_hold_releases"] },
  );
  return (
    <Panel title={words.badges()}>
      <Loaded resource={badges}>
        {found =>
          found.length === 0 ? (
            <Empty title={words.badges_none()} />
          ) : (
            <ul class="rows">
              {found
                .toSorted((one, other) => other.happened_at.localeCompare(one.happened_at))
                .map(one => (
                  <li key={one.id} class="entry">
                    <div class="row">
                      {may("create_badge_reprint") ? (
                        <a class="strong number" href={to(`/badges/one/${one.id}`)}>
                          {one.serial}
                        </a>
                      ) : (
                        <span class="strong number">{one.serial}</span>
                      )}
                      <Tag tone={BADGE_TONES[one.status]}>{words[`badge_${one.status}`]()}</Tag>
                    </div>
                    <p class="soft small">
                      {list(one.respirators.map(of => `${of.name} ${of.size} (${date(of.due_on)})`))}
                    </p>
                    <p class="soft small">
                      {words.badge_until()} {date(dateAtSite(one.expires_at))}
                    </p>
                  </li>
                ))}
            </ul>
          )
        }
      </Loaded>
    </Panel>
  );
}

/** Where somebody was sent on to another kind of test, and why. */
export function Referrals({ personId }: Props) {
  const referrals = useResource(
    `referrals of ${personId}`,
    () =>
      all(cursor =>
        api.GET("/api/v1/referrals", { params: { query: { person_id: personId, cursor, limit: 500 } } }),
      ),
    { nouns: ["referrals"] },
  );
  return (
    <Panel
      title={words.referrals()}
      actions={may("create_referral") && <Refer personId={personId} onReferred={referrals.reload} />}
    >
      <Loaded resource={referrals}>
        {found =>
          found.length === 0 ? (
            <Empty title={words.referrals_none()} />
          ) : (
            <ul class="rows">
              {found.map(one => (
                <li key={one.id} class="entry">
                  <p class="strong">{words[`referral_${one.reason}`]()}</p>
                  <p class="soft small">{dayAndClock(one.happened_at)}</p>
                </li>
              ))}
            </ul>
          )
        }
      </Loaded>
    </Panel>
  );
}
