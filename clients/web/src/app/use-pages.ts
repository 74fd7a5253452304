import { useMemo } from "preact/hooks";
import { need } from "../api/client";
import { type Resource, useResource } from "./use-resource";

/** How much of a long list is read at once. */
export const PAGE = 50;

interface Answer<Item> {
  data?: { items: Item[]; next?: string | null };
  error?: unknown;
  response: Response;
}

export interface Pages<Item> {
  items: Item[];
  /** Whether there is more than what was read. */
  rest: boolean;
}

/** A list that is too long to be read whole: the first page, and each time one more when it is asked for. */
export function usePages<Item>(
  key: string | null,
  ask: (cursor: string | undefined, limit: number) => Promise<Answer<Item>>,
  options: { nouns?: readonly string[] } = {},
): { resource: Resource<Pages<Item>>; more: () => void } {
  // Another list begins with its first page again.
  const wanted = useMemo(() => ({ pages: 1 }), [key]);
  const resource = useResource(key, () => upTo(ask, wanted.pages), options);
  const more = () => {
    wanted.pages += 1;
    resource.reload();
  };
  return { resource, more };
}

async function upTo<Item>(
  ask: (cursor: string | undefined, limit: number) => Promise<Answer<Item>>,
  pages: number,
): Promise<Pages<Item>> {
  const items: Item[] = [];
  let cursor: string | undefined;
  for (let page = 0; page < pages; page++) {
    const { items: found, next } = await need(ask(cursor, PAGE));
    items.push(...found);
    cursor = next ?? undefined;
    if (!cursor) break;
  }
  return { items, rest: cursor !== undefined };
}
