// The one outbox of this browser.
import { effect } from "@preact/signals";
import { problemOf } from "../api/problem";
import { reach, unreachableSince } from "../api/reach";
import { session } from "../app/session";
import { Outbox } from "./outbox";
import { Store } from "./store";

export type { Delivered } from "./outbox";
export type { Entry } from "./store";

async function send(path: string, body: unknown): Promise<unknown> {
  const request = new Request(path, {
    method: "POST",
    headers: { "content-type": "application/json" },
    body: JSON.stringify(body),
  });
  const response = await reach(request);
  const answer: unknown = response.status === 204 ? undefined : await response.json().catch(() => undefined);
  if (!response.ok) throw problemOf(answer, response.status);
  return answer;
}

/** Where the browser has no locks (plain HTTP from another machine), repeats are harmless: ids are made here. */
const alone = async (work: () => Promise<void>): Promise<void> => {
  if (navigator.locks) await navigator.locks.request("sellion-outbox", work);
  else await work();
};

async function open(): Promise<Outbox> {
  const others = new BroadcastChannel("sellion-outbox");
  const outbox = new Outbox(await Store.open(), {
    send,
    alone,
    who: () => (session.value ? { id: session.value.user_id, name: session.value.display_name } : null),
    tellOthers: () => others.postMessage("changed"),
  });
  others.addEventListener("message", () => void outbox.refresh());
  await outbox.start();
  effect(() => {
    if (session.value && unreachableSince.value === null) void outbox.deliver();
  });
  return outbox;
}

let opened: Promise<Outbox> | undefined;

/** The outbox; opened when it is first asked for. */
export function outbox(): Promise<Outbox> {
  opened ??= open();
  return opened;
}
