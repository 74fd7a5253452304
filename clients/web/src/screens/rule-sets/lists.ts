import { api, need, type Wire } from "../../api/client";
import { to } from "../../app/screens";
import { useResource } from "../../app/use-resource";

export type RuleSet = Wire<"RuleSetView">;
export type RuleSetHead = Wire<"RuleSetHead">;

/** A set and its version as one text; neither has a blank in it. */
export const setKey = ({ name, version }: { name: string; version: string }): string => `${name} ${version}`;

/** Where a version is shown. It stands behind the question mark: a path with a dot in it is a file's. */
export const ruleSetPath = (set: { name: string; version: string }): string =>
  `${to("/set-up/rule-sets/one")}?set=${encodeURIComponent(setKey(set))}`;

export const useRuleSets = () =>
  useResource("rule sets", async () => (await need(api.GET("/api/v1/rule_sets"))).items, {
    nouns: ["rule_sets"],
  });

/** One version of a set; a version never changes. */
export const useRuleSet = (name: string, version: string) =>
  useResource(name && version ? `rule set ${name} ${version}` : null, () =>
    need(api.GET("/api/v1/rule_sets/{name}", { params: { path: { name }, query: { version } } })),
  );
