import "./badges.css";
import { all, api } from "../../api/client";
import { to } from "../../app/screens";
import { useResource } from "../../app/use-resource";
import { Page, Panel } from "../../kit/page";
import { Empty, Loaded } from "../../kit/states";
import { badges as words } from "../../words/badges";
import { shortDay } from "../../words/format";

/** Badges that nobody came for. */
export default function Unclaimed() {
  const badges = useResource(
    "unclaimed badges",
    () => all(cursor => api.GET("/api/v1/unclaimed_badges", { params: { query: { cursor } } })),
    { nouns: ["badges", "badge_hand_overs", "badge_endings"], everyMs: 60_000 },
  );
  return (
    <Page title={words.unclaimed_title()}>
      <Panel>
        <Loaded resource={badges}>
          {found =>
            found.length === 0 ? (
              <Empty title={words.unclaimed_none()} />
            ) : (
              <ul class="rows">
                {found.map(one => (
                  <li key={one.badge_id}>
                    <a class="row-link" href={to(`/badges/one/${one.badge_id}`)}>
                      <span class="stack stack-close">
                        <b>{one.name}</b>
                        <span class="small soft">{[one.staff_number, one.unit].join(" · ")}</span>
                      </span>
                      <span class="soft">{words.since({ date: shortDay(one.unclaimed_since) })}</span>
                    </a>
                  </li>
                ))}
              </ul>
            )
          }
        </Loaded>
      </Panel>
    </Page>
  );
}
