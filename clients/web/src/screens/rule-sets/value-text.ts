import type { Wire } from "../../api/client";
import { number } from "../../words/format";
import { ruleSetWords as words } from "../../words/rule-sets";

/** A value with its unit: "1,200 seconds", "yes". */
export function valueText({ value, unit }: Pick<Wire<"RuleValue">, "value" | "unit">): string {
  if (typeof value === "boolean") return value ? words.yes_value() : words.no_value();
  // Of a word, the unit says what else might stand there.
  if (typeof value === "string") return value.replaceAll("_", " ");
  return [number(value), unit].filter(Boolean).join(" ");
}
