import { api, need, type Wire } from "../../api/client";
import { to } from "../../app/screens";
import { useResource } from "../../app/use-resource";
import { gateRecords as words } from "../../words/gate-records";

export type Badges = ReadonlyMap<string, Wire<"BadgeView">>;

/** The badges behind these ids, each asked for once however often it was read. */
export function useBadges(ids: readonly (string | null | undefined)[]): Badges {
  const wanted = [...new Set(ids.filter((id): id is string => typeof id === "string"))].sort();
  const read = (badge_id: string) =>
    need(api.GET("/api/v1/badges/{badge_id}", { params: { path: { badge_id } } }));
  const found = useResource(
    wanted.length > 0 ? `badges ${wanted.join()}` : null,
    async () => new Map((await Promise.all(wanted.map(read))).map(one => [one.id, one])),
  );
  return found.data ?? new Map();
}

/** The name on the badge, leading to the person. */
export function BadgeName({ id, badges }: { id: string | null | undefined; badges: Badges }) {
  if (!id) return <span class="soft">{words.badge_not_ours()}</span>;
  const badge = badges.get(id);
  if (!badge) return <>…</>;
  return (
    <>
      <a href={to(`/people/${badge.person_id}`)}>{badge.name}</a>{" "}
      <span class="soft small number">{badge.serial}</span>
    </>
  );
}
