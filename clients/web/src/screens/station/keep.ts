// What the station needs to go on alone, in IndexedDB: who is in the chair, the plans, the respirators, the fills.
import { type DBSchema, type IDBPDatabase, openDB } from "idb";

export interface Kept<Value> {
  value: Value;
  /** When it was kept, in milliseconds since 1970. */
  at: number;
}

interface Schema extends DBSchema {
  kept: { key: string; value: Kept<unknown> };
}

let opened: Promise<IDBPDatabase<Schema>> | undefined;

function database(): Promise<IDBPDatabase<Schema>> {
  opened ??= openDB<Schema>("sellion-station", 1, { upgrade: fresh => void fresh.createObjectStore("kept") });
  return opened;
}

export async function keep(key: string, value: unknown): Promise<void> {
  await (await database()).put("kept", { value, at: Date.now() }, key);
}

export async function kept<Value>(key: string): Promise<Kept<Value> | undefined> {
  return (await (await database()).get("kept", key)) as Kept<Value> | undefined;
}

export async function forget(key: string): Promise<void> {
  await (await database()).delete("kept", key);
}
