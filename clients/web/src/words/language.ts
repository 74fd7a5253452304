import { signal } from "@preact/signals";
import { remembered } from "../app/remembered";

export const LANGUAGES = { en: "English", es: "Español" } as const;
export type Language = keyof typeof LANGUAGES;

/** How each writes dates and times: English as read outside one country, with the day first and 24 hours. */
const LOCALES: Record<Language, string> = { en: "en-GB", es: "es" };

const isLanguage = (text: string): text is Language => text in LANGUAGES;

function preferred(): Language {
  const wanted = navigator.languages.map(tag => tag.slice(0, 2).toLowerCase());
  return wanted.find(isLanguage) ?? "en";
}

const chosen = remembered<string>("language", preferred());

/** The language of the person who reads. Reading it in a component makes the component follow it. */
export const language = signal<Language>(isLanguage(chosen.get()) ? (chosen.get() as Language) : "en");

export function chooseLanguage(next: Language): void {
  chosen.set(next);
  language.value = next;
  document.documentElement.lang = next;
}

/** The locale of the reader, for `Intl`. */
export const locale = (): string => LOCALES[language.value];

export function pluralForm(count: number): "one" | "other" {
  return new Intl.PluralRules(locale()).select(count) === "one" ? "one" : "other";
}
