// What the tests of set-up share.
import type { Page } from "playwright-core";
import { newId } from "./hospital";

/** A name that no other test knows. */
export const fresh = (head: string) => `${head} ${newId().slice(-6).toUpperCase()}`;

/** A date and a time of this machine's day after tomorrow, as a field takes them: the demonstration's zone is near enough. */
export const ahead = () => `${new Date(Date.now() + 2 * 86_400_000).toISOString().slice(0, 10)}T08:00`;

export const dialog = (page: Page) => page.getByRole("dialog");
