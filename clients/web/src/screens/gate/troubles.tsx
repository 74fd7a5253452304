import { unreachableSince } from "../../api/reach";
import { ended, undisturbed } from "../../app/session";
import { useNow } from "../../app/use-now";
import { Button } from "../../kit/button";
import { Notice } from "../../kit/notice";
import { maySound, soundOn } from "../../kit/sound";
import { clock, span } from "../../words/format";
import { gate as words } from "../../words/gate";
import type { Doubt } from "./clock";
import type { Gate } from "./gate";

/** Everything that a guard has to know before the next badge, and what to do about it. */
export function Troubles({ gate }: { gate: Gate }) {
  const now = useNow(1_000);
  const { link } = gate;
  const trouble = link.trouble.value;
  return (
    <div class="stack stack-close">
      {!isSecureContext && <Notice tone="wait" title={words.no_subtle()} />}
      {trouble === "no_gate" && (
        <Notice tone="stop" title={words.not_a_gate()} urgent>
          <p>{words.not_a_gate_todo()}</p>
        </Notice>
      )}
      {trouble === "unreadable" && (
        <Notice tone="stop" title={words.unreadable_pack()} urgent>
          <p>{words.unreadable_pack_todo()}</p>
        </Notice>
      )}
      {trouble === "refused" && <Notice tone="wait" title={words.refused_pack()} />}
      {ended.value && (
        <Notice tone="wait" title={words.token_over()} urgent>
          <p>{words.token_over_todo()}</p>
          <div class="row">
            <Button onClick={() => (undisturbed.value = false)}>{words.token_new()}</Button>
          </div>
        </Notice>
      )}
      <Knowledge gate={gate} now={now} alone={unreachableSince.value !== null || ended.value} />
      {link.doubt.value && <ClockInDoubt gate={gate} doubt={link.doubt.value} now={now} />}
      {soundOn.value && !maySound() && <p class="small soft">{words.sound_off()}</p>}
    </div>
  );
}

/** How old the knowledge is where nobody renews it, and what is written down for when it counts no longer. */
function Knowledge({ gate, now, alone }: { gate: Gate; now: number; alone: boolean }) {
  const held = gate.link.held.value;
  if (!held) return alone ? <Notice tone="unknown" title={words.alone_nothing()} urgent /> : null;
  const old = Math.max(0, now - held.knownAt * 1000);
  const policy = held.pack.policy(now * 1000);
  if (policy && Math.trunc(old / 1000) > policy.ageMaxSeconds) {
    return (
      <Notice tone="unknown" title={words.alone_too_old({ span: span(old) })} urgent>
        {policy.fallback && (
          <p>
            {words.fallback()}: <b>{policy.fallback}</b>
          </p>
        )}
      </Notice>
    );
  }
  return alone ? <Notice tone="wait" title={words.alone({ span: span(old) })} /> : null;
}

function ClockInDoubt({ gate, doubt, now }: { gate: Gate; doubt: Doubt; now: number }) {
  return (
    <Notice tone="unknown" title={words.clock_doubt({ time: clock(now) })} urgent>
      <p>{why(doubt)}</p>
      {/* What the server signed later than this clock shows, nobody can confirm away. */}
      {doubt.why !== "before_pack" && (
        <div class="row">
          <Button size="large" onClick={() => gate.link.confirmClock()}>
            {words.clock_confirm()}
          </Button>
        </div>
      )}
    </Notice>
  );
}

function why({ why, by }: Doubt): string {
  const fill = { span: span(Math.abs(by)) };
  if (why === "server_differs")
    return by > 0 ? words.clock_server_ahead(fill) : words.clock_server_behind(fill);
  return words[`clock_${why}`](fill);
}
