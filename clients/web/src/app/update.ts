// A newer build of the screens: told, never forced. Whoever is in the middle of something goes on with the old one.
import { computed, signal } from "@preact/signals";
import { registerSW } from "virtual:pwa-register";
import { servedScreens } from "../api/reach";

/** How often a page that stays open asks for a newer build. */
const CHECK_MS = 30 * 60_000;

const own =
  document.querySelector<HTMLScriptElement>("script[type=module][src]")?.src.split("/").pop() ?? null;

const waiting = signal(false);
/** A part of this build is no longer on the server: going on is not possible everywhere. */
export const partsGone = signal(false);

/** Whether the server holds another build than the one that runs here. */
export const newer = computed(
  () =>
    waiting.value ||
    partsGone.value ||
    (own !== null && servedScreens.value !== null && own !== servedScreens.value),
);

let apply: ((reload: boolean) => Promise<void>) | undefined;

export function watchForUpdates(): void {
  apply = registerSW({
    immediate: true,
    onNeedRefresh: () => (waiting.value = true),
    onRegisteredSW: (_, registration) => {
      if (registration) setInterval(() => void registration.update().catch(() => undefined), CHECK_MS);
    },
  });
  window.addEventListener("vite:preloadError", () => (partsGone.value = true));
}

/** Takes the newer build. The page starts again; what waits to be sent is kept. */
export async function takeUpdate(): Promise<void> {
  const registration = await navigator.serviceWorker?.getRegistration();
  await registration?.update().catch(() => undefined);
  if (registration?.installing) await settled(registration.installing);
  // Without a waiting worker the server has the newest build, or none at all: the page is loaded from it.
  if (registration?.waiting) await apply?.(true);
  else location.reload();
}

/** Waits until a new worker has fetched its files, or has given up. */
function settled(worker: ServiceWorker): Promise<void> {
  return new Promise(done => {
    const look = () => worker.state !== "installing" && done();
    worker.addEventListener("statechange", look);
    look();
  });
}
