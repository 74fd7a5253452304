import createClient from "openapi-fetch";
import { v7 } from "uuid";
import { OPERATIONS } from "./operations";
import { problemOf } from "./problem";
import { reach } from "./reach";
import type { components, paths } from "./schema";

type Schemas = components["schemas"];
export type Role = Schemas["Role"];
export type OperationId = keyof typeof OPERATIONS;

/** A type of the API by its name in the document: `Wire<"PersonView">`. */
export type Wire<Name extends keyof Schemas> = Schemas[Name];

/** Typed by the committed document: `api.GET("/api/v1/days/{day_id}", { params: { path: { day_id } } })`. */
export const api = createClient<paths>({ baseUrl: location.origin, fetch: reach });

interface Answer<Data> {
  data?: Data;
  error?: unknown;
  response: Response;
}

/** The data of an answer; anything but a success is thrown as a `Problem`. */
export async function need<Data>(asked: Promise<Answer<Data>>): Promise<Exclude<Data, undefined>> {
  const { data, error, response } = await asked;
  if (error !== undefined || !response.ok) throw problemOf(error, response.status);
  return data as Exclude<Data, undefined>;
}

interface Page<Item> {
  items: Item[];
  next?: string | null;
}

/** Everything of a list, page after page. `ask` is given the cursor of the page to get. */
export async function all<Item>(
  ask: (cursor: string | undefined) => Promise<Answer<Page<Item>>>,
  most = 2000,
): Promise<Item[]> {
  const items: Item[] = [];
  let cursor: string | undefined;
  do {
    const page = await need(ask(cursor));
    items.push(...page.items);
    cursor = page.next ?? undefined;
  } while (cursor && items.length < most);
  return items;
}

/** Whether any of these roles may call the operation, by the server's own table. */
export function allowed(operation: OperationId, roles: readonly Role[]): boolean {
  const entitled: readonly Role[] = OPERATIONS[operation];
  return roles.some(role => entitled.includes(role));
}

/** An id for something new: made here, so that sending it twice stores it once. */
export const newId = (): string => v7();

/** Now, as the server reads times. */
export const nowText = (): string => new Date().toISOString();
