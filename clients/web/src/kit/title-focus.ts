// Whoever listens to the page hears the title of a new screen first, because it takes the focus.

let changed = false;

/** Another screen is about to be shown. */
export function screenChanges(): void {
  changed = true;
  window.scrollTo(0, 0);
}

/** The title of the screen that is shown now. At the start of the program the focus stays where browsers put it. */
export function titleShown(title: HTMLElement | null): void {
  if (!changed || !title) return;
  changed = false;
  // What the screen itself has put the focus on keeps it: a search box waits for a scanner.
  if (!document.getElementById("content")?.contains(document.activeElement)) title.focus();
}
