import { useNow } from "../../app/use-now";
import { unreachableSince } from "../../api/reach";
import { Facts as Named } from "../../kit/page";
import { comesTo, coming, type PolicyVersion } from "../../pack/policy";
import type { Pack } from "../../pack/pack";
import { clock, clockWithSeconds, list, shortDay, span } from "../../words/format";
import { gate as words } from "../../words/gate";
import { micros } from "../../pack/moments";
import type { Link } from "./link";

/** Younger than this it is not worth a number. */
const UP_TO_DATE_MS = 60_000;

/** The respirators used here, how old the knowledge is, and what time it is. */
export function Facts({ link }: { link: Link }) {
  const now = useNow(1_000);
  const held = link.held.value;
  const at = now * 1000;
  const pack = held?.pack;
  const next = pack && coming(pack.policies, at);
  return (
    <div class="gate-facts">
      <Named
        facts={[
          [words.used_here(), pack ? usedHere(pack, at) : words.used_unknown()],
          [
            words.known(),
            held ? age(now - held.knownAt * 1000, pack?.policy(at)?.ageMaxSeconds) : words.known_never(),
          ],
          [words.clock(), <span class="gate-clock number">{clockWithSeconds(now)}</span>],
        ]}
      />
      {next && pack && (
        <p class="small soft">
          {words.coming({
            when: `${shortDay(next.effective_from)}, ${clock(next.effective_from)}`,
            what: whatOf(pack, next, micros(next.effective_from)),
          })}
        </p>
      )}
    </div>
  );
}

function age(ageMs: number, limitSeconds: number | undefined): string {
  const young = ageMs < UP_TO_DATE_MS && unreachableSince.value === null;
  const known = young ? words.known_now() : words.known_age({ span: span(Math.max(0, ageMs)) });
  return limitSeconds === undefined
    ? known
    : `${known} (${words.known_limit({ span: span(limitSeconds * 1000) })})`;
}

function usedHere(pack: Pack, at: number): string {
  const policy = pack.policy(at);
  if (!policy) return words.used_nothing();
  if (policy.noneNeeded) return words.used_none();
  return list(policy.accepted.map(id => pack.nameOf(id) ?? id));
}

function whatOf(pack: Pack, version: PolicyVersion, at: number): string {
  const policy = comesTo(version, pack.respirators, at);
  if (!policy) return words.used_nothing();
  return policy.noneNeeded ? words.used_none() : list(policy.accepted.map(id => pack.nameOf(id) ?? id));
}
