// What a policy comes to, in words.
import type { Wire } from "../../api/client";
import type { Tone } from "../../kit/shape";
import { dayAndClock, list } from "../../words/format";
import { gateSetUp as words } from "../../words/gate-set-up";
import { respiratorWords } from "../../words/respirators";
import { type Respirator, respiratorName } from "../stores/names";

export type Policy = Wire<"GatePolicyView">;

export const STANDING_TONES: Record<Wire<"PolicyStanding">, Tone> = {
  present: "go",
  coming: "wait",
  past: "plain",
};

/** One line: the respirator, or "any half mask P100"; with its end, where it has one. */
export function lineName(line: Wire<"Acceptance">, respirators: readonly Respirator[]): string {
  const what = accepted(line, respirators);
  return line.until ? words.until_time({ what, time: dayAndClock(line.until) }) : what;
}

function accepted(line: Wire<"Acceptance">, respirators: readonly Respirator[]): string {
  if ("respirator_id" in line) {
    const respirator = respirators.find(one => one.id === line.respirator_id);
    return respirator ? respiratorName(respirator) : "–";
  }
  const facepiece = line.facepiece && within(respiratorWords[`facepiece_${line.facepiece}`]());
  return words.class_of({ what: [facepiece, line.filter_class].filter(Boolean).join(", ") });
}

/** A word of its own, as it stands within a sentence; and what begins one. */
const within = (word: string): string => word.charAt(0).toLocaleLowerCase() + word.slice(1);
export const capital = (text: string): string => text.charAt(0).toLocaleUpperCase() + text.slice(1);

/** A policy in one sentence. */
export function policySentence(policy: Policy, respirators: readonly Respirator[]): string {
  const lines = policy.accepts.map(line => lineName(line, respirators));
  if (!policy.none_needed) return capital(list(lines));
  if (!policy.none_needed_until) return words.none_needed();
  return list([words.none_needed_until({ time: dayAndClock(policy.none_needed_until) }), ...lines]);
}

/** How old knowledge may be, in the largest unit that says it whole: "15 minutes". */
export function ageParts(seconds: number): { count: number; unit: Unit } {
  const unit = [...UNITS].reverse().find(one => seconds % Number(one) === 0) ?? "60";
  return { count: Math.max(1, Math.round(seconds / Number(unit))), unit };
}

/** Seconds of a minute, an hour and a day. */
export const UNITS = ["60", "3600", "86400"] as const;
export type Unit = (typeof UNITS)[number];
