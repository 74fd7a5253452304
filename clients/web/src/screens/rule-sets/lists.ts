import { api, need, type Wire } from "../../api/client";
import { useResource } from "../../app/use-resource";

export type RuleSet = Wire<"RuleSetView">;
export type RuleSetHead = Wire<"RuleSetHead">;

export const useRuleSets = () =>
  useResource("rule sets", async () => (await need(api.GET("/api/v1/rule_sets"))).items, {
    nouns: ["rule_sets"],
  });

/** One version of a set; a version never changes. */
export const useRuleSet = (name: string, version: string) =>
  useResource(name && version ? `rule set ${name} ${version}` : null, () =>
    need(api.GET("/api/v1/rule_sets/{name}", { params: { path: { name }, query: { version } } })),
  );
