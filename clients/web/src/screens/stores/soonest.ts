import type { Wire } from "../../api/client";
import { forecastWords } from "../../words/forecast";
import { solutionName } from "./names";

type Forecast = Wire<"Forecast">;

export interface Soon {
  key: string;
  what: string;
  where: string;
  at: number;
  todo: string[];
}

/** What runs out at a station or everywhere, and what has to be filled anew: the soonest first, each thing once. */
export function soonest(forecast: Forecast): Soon[] {
  const rows = new Map<string, Soon>();
  const add = (key: string, what: string, where: string, at: string | null | undefined, todo: string) => {
    if (!at) return;
    const before = rows.get(key);
    const when = Date.parse(at);
    rows.set(key, {
      key,
      what,
      where,
      at: Math.min(when, before?.at ?? when),
      todo: [...(before?.todo ?? []), todo],
    });
  };
  for (const one of forecast.stations) {
    const what = solutionName(one.solution, one.agent);
    const key = `${one.station} ${one.agent} ${one.solution}`;
    add(key, what, one.name, one.own_empty_at, forecastWords.fetch_bottle());
    add(key, what, one.name, one.refill_at, forecastWords.refill());
  }
  for (const one of forecast.supplies) {
    const what = solutionName(one.solution, one.agent);
    const order = one.order_bottles > 0;
    const todo = order ? forecastWords.order_bottles({ n: one.order_bottles }) : forecastWords.second_lot();
    add(`${one.agent} ${one.solution}`, what, forecastWords.whole_site(), one.empty_at, todo);
  }
  return [...rows.values()].sort((one, other) => one.at - other.at);
}
