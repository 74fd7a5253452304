// What waits to be sent, in IndexedDB: it outlives a reload, a dead battery and a dead network.
import { type DBSchema, type IDBPDatabase, openDB } from "idb";

/** One request that waits its turn in its lane. */
export interface Entry {
  /** Its place in the order of everything that was put in. */
  at?: number;
  /** Requests of one lane go one after another; a refusal stops its lane and no other. */
  lane: string;
  /** Within a numbered lane: 1, 2, 3, ... */
  seq: number | null;
  /** Whose work it is: it is sent only while this user is signed in, because the record will say so. */
  user_id: string;
  user_name: string;
  /** What it is, for the person who reads that it waits: a key of the words, such as `check_in`. */
  what: string;
  path: string;
  body: unknown;
  /** What is kept beside it and never sent, until the body was looked at once more before it is first sent. */
  aside?: unknown;
  /** When it was put in, in milliseconds since 1970. */
  put_at: number;
  tries: number;
  /** The server's refusal, when it was refused for good. */
  refused: Refused | null;
}

export interface Refused {
  code: string;
  detail: string;
  status: number;
  facts: Record<string, unknown>;
}

interface Schema extends DBSchema {
  entries: { key: number; value: Entry; indexes: { lane: string } };
  /** The next number of each numbered lane; outlives the entries that were sent. */
  numbers: { key: string; value: { lane: string; next: number; touched_at: number } };
}

/** What is sent; in a numbered lane it is made from the number. */
export type Body = object | ((seq: number) => object);

/** Numbers of lanes that nobody touched for so long are forgotten: an attempt never runs for a month. */
const FORGET_MS = 30 * 86_400_000;

export class Store {
  private constructor(private readonly db: IDBPDatabase<Schema>) {}

  static async open(name = "sellion-outbox"): Promise<Store> {
    const db = await openDB<Schema>(name, 1, {
      upgrade(fresh) {
        const entries = fresh.createObjectStore("entries", { keyPath: "at", autoIncrement: true });
        entries.createIndex("lane", "lane");
        fresh.createObjectStore("numbers", { keyPath: "lane" });
      },
    });
    const store = new Store(db);
    await store.forgetOldNumbers();
    return store;
  }

  /**
   * Keeps an entry. A body that is a function makes the lane a numbered one: it is given the lane's next number, and
   * number and entry are kept together or not at all.
   */
  async put(entry: Omit<Entry, "at" | "seq" | "body">, body: Body): Promise<Entry & { at: number }> {
    const tx = this.db.transaction(["entries", "numbers"], "readwrite", { durability: "strict" });
    const numbers = tx.objectStore("numbers");
    let seq: number | null = null;
    if (typeof body === "function") {
      seq = (await numbers.get(entry.lane))?.next ?? 1;
      await numbers.put({ lane: entry.lane, next: seq + 1, touched_at: entry.put_at });
    }
    const whole: Entry = { ...entry, seq, body: typeof body === "function" ? body(seq as number) : body };
    const at = await tx.objectStore("entries").add(whole);
    await tx.done;
    return { ...whole, at };
  }

  /** Sets the next number of a lane: for a run that was begun elsewhere, or of which the server knows more. */
  async number(lane: string, next: number): Promise<void> {
    await this.db.put("numbers", { lane, next, touched_at: Date.now() });
  }

  async all(): Promise<Entry[]> {
    return this.db.getAll("entries");
  }

  async change(
    at: number,
    change: Partial<Pick<Entry, "tries" | "refused" | "body" | "aside" | "user_id">>,
  ): Promise<void> {
    const tx = this.db.transaction("entries", "readwrite");
    const entry = await tx.store.get(at);
    if (entry) await tx.store.put({ ...entry, ...change });
    await tx.done;
  }

  async remove(at: number): Promise<void> {
    await this.db.delete("entries", at);
  }

  close(): void {
    this.db.close();
  }

  private async forgetOldNumbers(): Promise<void> {
    const tx = this.db.transaction(["entries", "numbers"], "readwrite");
    for (const number of await tx.objectStore("numbers").getAll()) {
      const waits = await tx.objectStore("entries").index("lane").count(number.lane);
      if (waits === 0 && number.touched_at < Date.now() - FORGET_MS) {
        await tx.objectStore("numbers").delete(number.lane);
      }
    }
    await tx.done;
  }
}
