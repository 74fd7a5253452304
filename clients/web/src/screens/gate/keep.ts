// What a gate holds on to, in IndexedDB: its pack, still signed, and what became of its clock. It belongs to one device:
// with another token begins another gate, which knows nothing yet.
import { type DBSchema, type IDBPDatabase, openDB } from "idb";
import type { Mark } from "./clock";

/** The pack as it came, the keys under which it was believed, and the newest word that it is current. */
export interface KeptPack {
  trusted: unknown;
  text: string;
  current: string;
}

interface Schema extends DBSchema {
  kept: { key: [device: string, what: "pack" | "mark"]; value: KeptPack | Mark };
}

export class Keep {
  private constructor(
    private readonly db: IDBPDatabase<Schema>,
    private readonly device: string,
  ) {}

  static async open(device: string): Promise<Keep> {
    const db = await openDB<Schema>("sellion-gate", 1, {
      upgrade: fresh => void fresh.createObjectStore("kept"),
    });
    for (const key of await db.getAllKeys("kept")) if (key[0] !== device) await db.delete("kept", key);
    // Browsers clear what nobody asked them to keep when the disk is full.
    void navigator.storage?.persist?.().catch(() => undefined);
    return new Keep(db, device);
  }

  async pack(): Promise<KeptPack | undefined> {
    return (await this.db.get("kept", [this.device, "pack"])) as KeptPack | undefined;
  }

  async keepPack(pack: KeptPack): Promise<void> {
    await this.db.put("kept", pack, [this.device, "pack"]);
  }

  async mark(): Promise<Mark | null> {
    return ((await this.db.get("kept", [this.device, "mark"])) as Mark | undefined) ?? null;
  }

  async keepMark(mark: Mark): Promise<void> {
    await this.db.put("kept", mark, [this.device, "mark"]);
  }

  close(): void {
    this.db.close();
  }
}
