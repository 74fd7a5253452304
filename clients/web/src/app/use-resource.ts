import { type Signal, useSignal } from "@preact/signals";
import { useEffect, useMemo, useRef } from "preact/hooks";
import { asProblem, type Problem } from "../api/problem";
import { unreachableSince } from "../api/reach";
import { live, onNews } from "./live";

/** Several rows written at once are one reading. */
const GATHER_MS = 200;
/** How often a screen asks while no news can arrive. */
const POLL_MS = 15_000;

export interface Resource<Data> {
  /** What was read last; kept while it is read again and when that fails. */
  data: Data | undefined;
  /** Why the last reading failed; undefined once one succeeded. */
  problem: Problem | undefined;
  loading: boolean;
  /** When `data` was read, in milliseconds since 1970. */
  readAt: number | undefined;
  reload: () => void;
}

interface Options {
  /** The nouns of the live stream on whose news the resource is read again. */
  nouns?: readonly string[];
  /** Read again after this long in any case, for what follows from the clock. */
  everyMs?: number;
}

/**
 * Something read from the server and kept fresh. `key` names what is read: another key forgets the data and reads
 * anew; null reads nothing.
 */
export function useResource<Data>(
  key: string | null,
  load: () => Promise<Data>,
  { nouns = [], everyMs }: Options = {},
): Resource<Data> {
  const state = useSignal<Omit<Resource<Data>, "reload">>(nothing);
  const latest = useRef(load);
  latest.current = load;
  const reload = useMemo(() => reader(state, () => latest.current()), [key]);

  useEffect(() => {
    state.value = nothing;
    if (key === null) return undefined;
    void reload();
    let timer: ReturnType<typeof setTimeout> | undefined;
    const stop = onNews(news => {
      if (news && !nouns.includes(news.noun)) return;
      clearTimeout(timer);
      timer = setTimeout(() => void reload(), GATHER_MS);
    });
    const again = setInterval(() => {
      if (!document.hidden && (everyMs || !live.value)) void reload();
    }, everyMs ?? POLL_MS);
    const stopWatching = onReturn(() => void reload());
    return () => {
      clearTimeout(timer);
      clearInterval(again);
      stop();
      stopWatching();
    };
  }, [key]);

  return { ...state.value, reload: () => void reload() };
}

const nothing = { data: undefined, problem: undefined, loading: true, readAt: undefined };

/** Reads; an answer that a later reading has overtaken is dropped. */
function reader<Data>(state: Signal<Omit<Resource<Data>, "reload">>, load: () => Promise<Data>) {
  let latest = 0;
  return async () => {
    const mine = ++latest;
    state.value = { ...state.value, loading: true };
    try {
      const data = await load();
      if (mine === latest) state.value = { data, problem: undefined, loading: false, readAt: Date.now() };
    } catch (error) {
      if (mine === latest) state.value = { ...state.value, problem: asProblem(error), loading: false };
    }
  };
}

/** Calls back when the server answers again after it did not. */
function onReturn(back: () => void): () => void {
  let away = unreachableSince.value !== null;
  return unreachableSince.subscribe(since => {
    if (away && since === null) back();
    away = since !== null;
  });
}
