import type { Wire } from "../../api/client";
import { list } from "../../words/format";
import { outlook as words } from "../../words/outlook";
import type { Names } from "../records/names";

/** More than anybody offers to one person. */
const OFFERED_MAX = 3;

/** What would open the door: a clinician's decision first, then a test; in the server's own order. */
export function Help({ outlook, respirators }: { outlook: Wire<"Outlook">; respirators: Names }) {
  const names = (ids: readonly string[]) =>
    list(ids.slice(0, OFFERED_MAX).map(id => respirators.get(id) ?? "…"));
  const { needs_permission, retest_on, cleared_for } = outlook;
  return (
    <ul class="stack stack-close">
      {needs_permission && <li>{words.help_permission()}</li>}
      <li>{retest_on.length > 0 ? words.help_retest({ names: names(retest_on) }) : words.help_none()}</li>
      {cleared_for.length > 0 && <li class="soft small">{words.elsewhere({ names: names(cleared_for) })}</li>}
    </ul>
  );
}
