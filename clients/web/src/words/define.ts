// Words are defined where both languages stand side by side, and used as functions: `words.waiting({ n: 3 })`.
// A language or a key that is missing, or a placeholder that is not filled, does not compile.
import { language, type Language, pluralForm } from "./language";

/** A sentence, or its forms by count; `{name}` marks what is filled in, and `{n}` is the count. */
export type Message = string | { one: string; other: string };

type Names<Text extends string> = Text extends `${string}{${infer Name}}${infer Rest}`
  ? Name | Names<Rest>
  : never;
type Fill<Text extends string> = Record<Names<Text>, string | number>;
type Say<Form> = Form extends string
  ? [Names<Form>] extends [never]
    ? () => string
    : (fill: Fill<Form>) => string
  : Form extends { one: string; other: infer Other extends string }
    ? (fill: Fill<Other> & { n: number }) => string
    : never;
type Other<Form> = Form extends string ? string : { one: string; other: string };

export type Words<Forms> = { readonly [Key in keyof Forms]: Say<Forms[Key]> };

/** Every set of words that was defined, for the test that compares their placeholders. */
export const defined: Record<Language, Record<string, Message>>[] = [];

export function defineWords<const Forms extends Record<string, Message>>(both: {
  en: Forms;
  es: { [Key in keyof Forms]: Other<Forms[Key]> };
}): Words<Forms> {
  defined.push(both as Record<Language, Record<string, Message>>);
  const say = (key: string) => (fill?: Record<string, string | number>) =>
    filled((both[language.value] as Record<string, Message>)[key] ?? key, fill ?? {});
  const keys = Object.keys(both.en).map(key => [key, say(key)]);
  return Object.fromEntries(keys) as Words<Forms>;
}

export function filled(message: Message, fill: Record<string, string | number>): string {
  const text = typeof message === "string" ? message : message[pluralForm(Number(fill["n"]))];
  return text.replace(/\{(\w+)\}/g, (whole, name: string) => {
    const value = fill[name];
    return value === undefined ? whole : String(value);
  });
}
