import { effect, signal } from "@preact/signals";
import { remembered } from "./remembered";

export const THEMES = ["system", "light", "dark"] as const;
export type Theme = (typeof THEMES)[number];

const kept = remembered<Theme>("theme", "system");
export const theme = signal<Theme>(kept.get());

export function chooseTheme(next: Theme): void {
  kept.set(next);
  theme.value = next;
}

/** Marks the document with the theme, following the device where the choice is left to it. */
export function showTheme(): void {
  const deviceIsDark = matchMedia("(prefers-color-scheme: dark)");
  const dark = signal(deviceIsDark.matches);
  deviceIsDark.addEventListener("change", event => (dark.value = event.matches));
  effect(() => {
    const followed = dark.value ? "dark" : "light";
    document.documentElement.dataset["theme"] = theme.value === "system" ? followed : theme.value;
  });
}
