// Who is signed in. The last answer is remembered, so that a station or gate starts again while the network is away;
// the server decides anew as soon as it answers.
import { computed, signal } from "@preact/signals";
import { allowed, api, need, type OperationId, type Wire } from "../api/client";
import { Problem } from "../api/problem";
import { onSignInEnded, setDeviceToken } from "../api/reach";
import { timeZone } from "../words/format";
import { remembered } from "./remembered";

export type Session = Wire<"SessionView">;

const lastSession = remembered<Session | null>("session", null);
const lastZone = remembered<string | null>("time_zone", null);
const deviceToken = remembered<string | null>("device_token", null);

/** Undefined until it is known; null for nobody. */
export const session = signal<Session | null | undefined>(undefined);
export const site = signal<Wire<"SiteView"> | null>(null);
/** The sign-in ended while somebody was at work: the screen stays and asks for it again. */
export const ended = signal(false);
/** Somebody is under the hood: nothing may cover the clock, so the sign-in is asked for afterwards. What is sent waits. */
export const undisturbed = signal(false);
export const isDevice = signal(deviceToken.get() !== null);
export const roles = computed(() => session.value?.roles ?? []);

/** Whether whoever is signed in may call this operation. */
export const may = (operation: OperationId): boolean => allowed(operation, roles.value);

let waiting: ((given: boolean) => void)[] = [];

function settle(given: boolean): void {
  ended.value = false;
  const told = waiting;
  waiting = [];
  for (const tell of told) tell(given);
}

function askAgain(): Promise<boolean> {
  if (!session.value) return Promise.resolve(false);
  ended.value = true;
  return new Promise(tell => waiting.push(tell));
}

async function entered(next: Session): Promise<void> {
  lastSession.set(next);
  session.value = next;
  timeZone.value = lastZone.get() ?? timeZone.value;
  if (may("read_current_site")) {
    // The session stands without it; only times would be shown in the zone of this device.
    site.value = await need(api.GET("/api/v1/sites/current")).catch(() => null);
    if (site.value) {
      lastZone.set(site.value.time_zone);
      timeZone.value = site.value.time_zone;
    }
  }
}

function left(): void {
  lastSession.set(null);
  session.value = null;
  site.value = null;
}

/** At the start of the program: finds out who is signed in. */
export async function restore(): Promise<void> {
  setDeviceToken(deviceToken.get());
  onSignInEnded(askAgain);
  const known = lastSession.get();
  // A gate or station starts with what it knew: a network that answers slowly or not at all keeps nobody waiting.
  if (known && isDevice.value) void entered(known);
  try {
    await entered(await need(api.GET("/api/v1/sessions/current")));
  } catch (error) {
    if (known && error instanceof Problem && error.passes) await entered(known);
    else left();
  }
}

export async function signIn(username: string, password: string): Promise<void> {
  const next = await need(api.POST("/api/v1/sessions", { body: { username, password } }));
  const before = session.value;
  if (before && before.user_id !== next.user_id) {
    // Another person: nothing of the one before may stay on the screen.
    lastSession.set(next);
    location.replace("/");
    return;
  }
  await entered(next);
  settle(true);
}

/** Takes a device's token, as an administrator made it. */
export async function signInDevice(token: string): Promise<void> {
  setDeviceToken(token);
  try {
    const next = await need(api.GET("/api/v1/sessions/current"));
    deviceToken.set(token);
    isDevice.value = true;
    await entered(next);
    settle(true);
  } catch (error) {
    setDeviceToken(deviceToken.get());
    throw error;
  }
}

export async function signOut(): Promise<void> {
  // A device has no session of its own on the server: it forgets its token, and an administrator ends it.
  if (!isDevice.value) await api.DELETE("/api/v1/sessions/current").catch(() => undefined);
  deviceToken.set(null);
  setDeviceToken(null);
  isDevice.value = false;
  settle(false);
  left();
  // A new start, so that nothing read by this person stays in memory.
  location.replace("/");
}
