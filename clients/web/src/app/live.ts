// News from the server: one stream for the whole page, and whoever shows something of those nouns reads it again.
import { effect, signal } from "@preact/signals";
import type { Wire } from "../api/client";
import { may, session } from "./session";

export type News = Wire<"ChangeView">;
type Listener = (news: News | null) => void;

/** A page that nobody looks at gives its connection back after this long. */
const HIDDEN_MS = 60_000;
/** How soon a stream that the server closed is opened again. */
const AGAIN_MS = 5_000;

/** Whether news arrive at once. Without, screens ask from time to time. */
export const live = signal(false);

const listeners = new Set<Listener>();
let source: EventSource | null = null;
let timer: ReturnType<typeof setTimeout> | undefined;

/** Told of each row that was written, and of null when something may have been missed. Returns how to stop. */
export function onNews(listener: Listener): () => void {
  listeners.add(listener);
  return () => listeners.delete(listener);
}

function tell(news: News | null): void {
  for (const listener of listeners) listener(news);
}

function open(): void {
  if (source || document.hidden || !session.value || !may("read_stream")) return;
  const opened = new EventSource("/api/v1/stream");
  source = opened;
  let before = false;
  opened.addEventListener("open", () => {
    live.value = true;
    // The browser sends the last id itself when it connects again; a new stream has none and reads everything.
    if (!before) tell(null);
    before = true;
  });
  opened.addEventListener("changed", event => tell(JSON.parse(event.data as string) as News));
  opened.addEventListener("reset", () => tell(null));
  opened.addEventListener("error", () => {
    live.value = false;
    if (opened.readyState !== EventSource.CLOSED) return;
    close();
    timer = setTimeout(open, AGAIN_MS);
  });
}

function close(): void {
  clearTimeout(timer);
  source?.close();
  source = null;
  live.value = false;
}

/** Follows the sign-in and whether anybody looks at the page. */
export function followNews(): void {
  effect(() => {
    if (session.value) open();
    else close();
  });
  document.addEventListener("visibilitychange", () => {
    clearTimeout(timer);
    if (document.hidden) timer = setTimeout(close, HIDDEN_MS);
    else open();
  });
}
