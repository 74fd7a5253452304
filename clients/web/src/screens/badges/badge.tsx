import "./badges.css";
import { useRoute } from "preact-iso";
import { useState } from "preact/hooks";
import { api, need, type Wire } from "../../api/client";
import { may } from "../../app/session";
import { type Resource, useResource } from "../../app/use-resource";
import { Notice } from "../../kit/notice";
import { Facts, Page, Panel } from "../../kit/page";
import { Loaded } from "../../kit/states";
import { badgeSteps } from "../../words/badge-steps";
import { badges as words } from "../../words/badges";
import { date, dayAndClock } from "../../words/format";
import { Hold, Reprint } from "./badge-actions";
import { EndBadge } from "./end-badge";
import { PrintForm } from "./print-form";
import { sheetOf } from "./sheet";

type Badge = Wire<"BadgeView">;

/** One badge: what it says, where it stands, and what may be done with it. */
export default function OneBadge() {
  const badge_id = useRoute().params["id"] ?? "";
  const badge = useResource(
    `badge ${badge_id}`,
    () => need(api.GET("/api/v1/badges/{badge_id}", { params: { path: { badge_id } } })),
    { nouns: ["badges", "badge_endings", "badge_holds", "badge_hand_overs"] },
  );
  return (
    <Page title={words.badge_title()} narrow>
      <Loaded resource={badge}>{found => <Badge key={badge_id} badge={found} resource={badge} />}</Loaded>
    </Page>
  );
}

function Badge({ badge, resource }: { badge: Badge; resource: Resource<Badge> }) {
  const [made, setMade] = useState<Badge | null>(null);
  const [ended, setEnded] = useState(false);
  const counts = !ended && (badge.status === "valid" || badge.status === "held");
  return (
    <>
      <Panel title={badge.name}>
        <Facts
          facts={[
            [words.col_serial(), <span class="number">{badge.serial}</span>],
            [words.state(), words[`state_${badge.status}`]()],
            [words.made_at(), dayAndClock(badge.happened_at)],
            [words.given_at(), badge.handed_over_at ? dayAndClock(badge.handed_over_at) : words.not_given()],
            [words.reprints(), words.times({ n: badge.reprints })],
          ]}
        />
        <p class="soft">{words.respirators()}</p>
        <ul>
          {badge.respirators.map(({ respirator_id, name, size, due_on }) => (
            <li key={respirator_id}>{words.respirator({ name, size, date: date(due_on) })}</li>
          ))}
        </ul>
      </Panel>
      {ended && <Notice tone="go" title={badgeSteps.ended({ name: badge.name })} urgent />}
      {made && (
        <Notice tone="go" title={words.reprinted()} urgent>
          <p>
            <b>{made.name}</b> · <span class="number">{words.serial({ serial: made.serial })}</span>
          </p>
        </Notice>
      )}
      {(made ?? (counts && badge.status === "valid" && badge)) && (
        <PrintForm name="badge.pdf" onPrint={settings => sheetOf((made ?? badge).id, settings)} />
      )}
      {counts && !made && (
        <>
          <Reprint badge={badge} onMade={setMade} />
          <Hold badge={badge} onChanged={resource.reload} />
          {may("end_badge") && (
            <EndBadge
              badge={badge}
              onEnded={() => {
                setEnded(true);
                resource.reload();
              }}
            />
          )}
        </>
      )}
    </>
  );
}
