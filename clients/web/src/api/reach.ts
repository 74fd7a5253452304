// The one way to the server: every request goes through here, so that the connection, the sign-in and the version of
// the server are known from what requests meet anyway.
import { signal } from "@preact/signals";
import { Problem } from "./problem";
import { uploading } from "./uploading";

/** A server that takes longer is treated as away: the person at the screen has to be told something. */
const TIMEOUT_MS = 20_000;
/** For the largest file over a network that is barely there. */
const UPLOAD_TIMEOUT_MS = 300_000;

/** When an answer last arrived, in milliseconds since 1970. */
export const answeredAt = signal<number | null>(null);
/** Since when no answer arrives; null while the server answers. */
export const unreachableSince = signal<number | null>(null);
/** Which build of the screens the server holds, as its answers say. */
export const servedScreens = signal<string | null>(null);

let deviceToken: string | null = null;
let signInAgain: (() => Promise<boolean>) | null = null;

/** A gate's or station's token, sent with every request; null for people, who have a cookie. */
export function setDeviceToken(token: string | null): void {
  deviceToken = token;
}

/** What to do when the sign-in ended in the middle of work: asks for it again and says whether it was given. */
export function onSignInEnded(ask: (() => Promise<boolean>) | null): void {
  signInAgain = ask;
}

/** What takes a request to the server, within a time. */
type Carry = (request: Request, within: { signal: AbortSignal }) => Promise<Response>;

/** `fetch` with what every request needs. A request whose sign-in ended waits until somebody has signed in again. */
export const reach = (input: Request): Promise<Response> => reachBy(fetch, TIMEOUT_MS, input);

/** The same for a large file: it is told how far it has come, and may take as long as a slow network needs. */
export const reachTelling =
  (told: (share: number) => void) =>
  (input: Request): Promise<Response> =>
    reachBy(uploading(told), UPLOAD_TIMEOUT_MS, input);

async function reachBy(carry: Carry, timeoutMs: number, input: Request): Promise<Response> {
  const again = input.clone();
  const send = (request: Request) => sendBy(carry, timeoutMs, request);
  const response = await send(input);
  const signsIn = new URL(input.url).pathname.startsWith("/api/v1/sessions");
  if (response.status !== 401 || signsIn || !signInAgain) return response;
  return (await signInAgain()) ? send(again) : response;
}

async function sendBy(carry: Carry, timeoutMs: number, request: Request): Promise<Response> {
  if (deviceToken) request.headers.set("authorization", `Bearer ${deviceToken}`);
  let response: Response;
  try {
    response = await carry(request, {
      signal: AbortSignal.any([request.signal, AbortSignal.timeout(timeoutMs)]),
    });
  } catch (error) {
    if (request.signal.aborted) throw error;
    unreachableSince.value ??= answeredAt.value ?? Date.now();
    throw new Problem("unreachable", String(error), 0);
  }
  answeredAt.value = Date.now();
  unreachableSince.value = null;
  servedScreens.value = response.headers.get("sellion-screens") ?? servedScreens.value;
  return response;
}

/** Asks whether the server is there, for screens that ask for nothing else. */
export async function pulse(): Promise<void> {
  await reach(new Request("/health/live", { cache: "no-store" })).catch(() => undefined);
}
