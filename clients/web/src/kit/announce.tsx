import { signal } from "@preact/signals";

const said = signal("");

/** Says something to those who listen to the page, without moving anything. */
export function announce(text: string): void {
  // The same text again is said again only when it was gone in between.
  said.value = "";
  setTimeout(() => (said.value = text), 50);
}

/** Stands once in the page, from the start: regions that appear later are not heard everywhere. */
export function LiveRegion() {
  return (
    <div class="hidden-text" aria-live="polite" aria-atomic="true">
      {said.value}
    </div>
  );
}
