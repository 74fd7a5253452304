// What is typed into the form of a policy, and what is made of it.
import type { Wire } from "../../api/client";
import type { Faults } from "../../app/use-form";
import { gateSetUp as words } from "../../words/gate-set-up";
import { kit } from "../../words/kit";
import { momentTyped, typedAtSite } from "../../words/site-time";
import { ageParts, type Policy, type Unit } from "./policy-words";
import { lines } from "./typed";

/** One accepted thing as it is typed. `key` stays with its line when lines change places. */
export interface LineTyped {
  key: string;
  kind: "respirator" | "class";
  respirator_id: string;
  facepiece: Wire<"Facepiece"> | "";
  filter_class: string;
  until: string;
}

export interface PolicyTyped {
  begins: "now" | "later";
  begins_at: string;
  needed: "yes" | "not" | "not_until";
  needed_until: string;
  accepts: LineTyped[];
  age: string;
  unit: Unit;
  fallback: string;
  leads: "any" | "named" | "nobody" | null;
  lead_names: string;
}

export const emptyLine = (key: string, kind: LineTyped["kind"]): LineTyped => ({
  key,
  kind,
  respirator_id: "",
  facepiece: "",
  filter_class: "",
  until: "",
});

/** A quarter of an hour; the person sees and changes it (common practice, no source). */
const AGE = { count: 15, unit: "60" } as const;

/** The next policy begins as the last one was: most changes are of one line. Ends are not taken over when they are past. */
export function startFrom(last: Policy | undefined): PolicyTyped {
  const { count, unit } = last ? ageParts(last.knowledge_age_max_seconds) : AGE;
  const later = (moment: string | null | undefined) =>
    moment && Date.parse(moment) > Date.now() ? typedAtSite(moment) : "";
  return {
    begins: "now",
    begins_at: "",
    needed: !last?.none_needed ? "yes" : last.none_needed_until ? "not_until" : "not",
    needed_until: later(last?.none_needed_until),
    accepts: (last?.accepts ?? [])
      .filter(line => !line.until || Date.parse(line.until) > Date.now())
      .map((line, n) => ({
        ...emptyLine(`kept ${n}`, "respirator_id" in line ? "respirator" : "class"),
        ...("respirator_id" in line
          ? { respirator_id: line.respirator_id }
          : { facepiece: line.facepiece ?? "", filter_class: line.filter_class ?? "" }),
        until: later(line.until),
      })),
    age: String(count),
    unit,
    fallback: last?.fallback ?? "",
    leads: !last ? null : !last.leads ? "nobody" : last.leads.length === 0 ? "any" : "named",
    lead_names: (last?.leads ?? []).join("\n"),
  };
}

/** Where no respirator is needed at all, the lines are not asked for and not shown. */
const said = (typed: PolicyTyped): LineTyped[] => (typed.needed === "not" ? [] : typed.accepts);

export function checkPolicy(typed: PolicyTyped): Faults<PolicyTyped> {
  const found: Record<string, string | false> = {
    begins_at: typed.begins === "later" && !momentTyped(typed.begins_at) && kit.required(),
    needed_until: typed.needed === "not_until" && !momentTyped(typed.needed_until) && kit.required(),
    accepts: typed.needed !== "not" && typed.accepts.length === 0 && words.accepts_none(),
    age: !/^[1-9]\d*$/.test(typed.age.trim()) && words.age_wrong(),
    fallback: typed.fallback.trim() === "" && kit.required(),
    leads: typed.leads === null && kit.required(),
    lead_names: typed.leads === "named" && lines(typed.lead_names).length === 0 && words.lead_names_none(),
  };
  said(typed).forEach((line, n) => {
    const nothing =
      line.kind === "respirator"
        ? line.respirator_id === ""
        : !line.facepiece && line.filter_class.trim() === "";
    found[`accepts[${n}]`] = nothing && kit.required();
  });
  return found;
}

/** What the server is told. The moment of the decision is one for both: a policy never begins before it was decided. */
export function policyBody(id: string, typed: PolicyTyped, now: string): Wire<"NewGatePolicy"> {
  return {
    id,
    effective_from: (typed.begins === "later" && momentTyped(typed.begins_at)) || now,
    happened_at: now,
    accepts: said(typed).map(line => ({
      ...(line.kind === "respirator"
        ? { respirator_id: line.respirator_id }
        : { facepiece: line.facepiece || null, filter_class: line.filter_class.trim() || null }),
      until: momentTyped(line.until) ?? null,
    })),
    none_needed: typed.needed !== "yes",
    none_needed_until: (typed.needed === "not_until" && momentTyped(typed.needed_until)) || null,
    knowledge_age_max_seconds: Number(typed.age) * Number(typed.unit),
    fallback: typed.fallback,
    leads: typed.leads === "nobody" ? null : typed.leads === "any" ? [] : lines(typed.lead_names),
  };
}
