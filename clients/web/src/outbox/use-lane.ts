import { useSignal } from "@preact/signals";
import { useEffect } from "preact/hooks";
import { Problem, type ProblemCode } from "../api/problem";
import { useOutbox } from "./use-outbox";

export interface Lane<Answer> {
  /** What the server answered to the newest request of the lane that it took. */
  answer: Answer | undefined;
  /** Whether something of the lane waits to be sent. */
  waiting: boolean;
  /** Why the server refused the lane's first request; the lane stands still until a person decides. */
  problem: Problem | undefined;
  send: (request: { what: string; path: string; body: object }) => Promise<void>;
  /** Sends the refused request again. */
  again: () => void;
  /** Gives the refused request up. */
  drop: () => void;
}

/** One lane of the outbox, as a screen shows it. */
export function useLane<Answer>(lane: string): Lane<Answer> {
  const box = useOutbox();
  const answer = useSignal<Answer | undefined>(undefined);
  useEffect(() => {
    answer.value = undefined;
    return box?.onDelivered(delivered => {
      if (delivered.entry.lane === lane) answer.value = delivered.answer as Answer;
    });
  }, [box, lane]);
  const entries = box?.lane(lane) ?? [];
  const refused = entries.find(one => one.refused);
  const why = refused?.refused;
  return {
    answer: answer.value,
    waiting: entries.some(one => !one.refused),
    problem: why ? new Problem(why.code as ProblemCode, why.detail, why.status, why.facts) : undefined,
    send: async request => void (await box?.put({ lane, ...request })),
    again: () => refused && void box?.again(refused),
    drop: () => refused && void box?.drop(refused),
  };
}
