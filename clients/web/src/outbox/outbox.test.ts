import { afterEach, beforeEach, describe, expect, it, vi } from "vitest";
import { Problem } from "../api/problem";
import { Outbox, type Surroundings } from "./outbox";
import { Store } from "./store";

/** A server that takes everything, until it is told what to answer to a path. */
class Server {
  readonly taken: { path: string; body: unknown }[] = [];
  readonly answers = new Map<string, Problem>();
  away = false;

  send = async (path: string, body: unknown): Promise<unknown> => {
    if (this.away) throw new Problem("unreachable", "", 0);
    const refusal = this.answers.get(path);
    if (refusal) throw refusal;
    this.taken.push({ path, body });
    return { took: this.taken.length };
  };

  paths = () => this.taken.map(one => one.path);
}

const ada = { id: "ada", name: "Ada" };
let names = 0;
let database: string;
let server: Server;
let who: { id: string; name: string } | null;
let opened: { store: Store; outbox: Outbox }[];

async function outboxOf(change: Partial<Surroundings> = {}): Promise<Outbox> {
  const store = await Store.open(database);
  const outbox = new Outbox(store, { send: server.send, who: () => who, alone: work => work(), ...change });
  opened.push({ store, outbox });
  await outbox.start();
  return outbox;
}

const dose = (path: string) => ({ lane: "attempt", what: "dose", path, body: (seq: number) => ({ seq }) });

beforeEach(() => {
  database = `outbox-${names++}`;
  server = new Server();
  who = ada;
  opened = [];
});

async function closeAll(): Promise<void> {
  for (const { store, outbox } of opened.splice(0)) {
    await outbox.stop();
    store.close();
  }
}

afterEach(async () => {
  vi.useRealTimers();
  await closeAll();
});

describe("the outbox", () => {
  it("sends what is put in, in order, and tells the server's answer", async () => {
    const outbox = await outboxOf();
    const answers: unknown[] = [];
    outbox.onDelivered(({ answer }) => answers.push(answer));
    for (const path of ["/1", "/2", "/3"]) await outbox.put(dose(path));
    await outbox.deliver();
    expect(server.paths()).toEqual(["/1", "/2", "/3"]);
    expect(server.taken.map(one => one.body)).toEqual([{ seq: 1 }, { seq: 2 }, { seq: 3 }]);
    expect(answers).toEqual([{ took: 1 }, { took: 2 }, { took: 3 }]);
    expect(outbox.waiting.value).toBe(0);
  });

  it("looks at a request once more before it is first sent, and every try sends the same", async () => {
    const outbox = await outboxOf();
    let told = 0;
    outbox.beforeSending("scan", async ({ body, aside }) => ({ ...(body as object), aside, told: ++told }));
    server.answers.set("/scan", new Problem("busy", "", 503));
    await outbox.put({ lane: "scan", what: "scan", path: "/scan", body: { id: 1 }, aside: 7 });
    await outbox.put({ lane: "plain", what: "scan", path: "/plain", body: { id: 2 } });
    await outbox.deliver();
    expect(outbox.entries.value[0]?.body).toEqual({ id: 1, aside: 7, told: 1 });
    server.answers.clear();
    await outbox.deliver();
    expect(server.taken).toEqual([
      { path: "/scan", body: { id: 1, aside: 7, told: 1 } },
      { path: "/plain", body: { id: 2 } },
    ]);
  });

  it("hands on what a device left to the one that stands in its place, and nobody else's work", async () => {
    server.away = true;
    const outbox = await outboxOf();
    await outbox.put({ lane: "scan", what: "scan", path: "/gate/scan", body: {} });
    await outbox.put({ lane: "own", what: "dose", path: "/own", body: {} });
    who = { id: "new device", name: "Door" };
    server.away = false;
    await outbox.inherit(entry => entry.path.startsWith("/gate/"));
    await outbox.deliver();
    expect(server.paths()).toEqual(["/gate/scan"]);
  });

  it("keeps everything through a dead network and a reload, and goes on with the numbers", async () => {
    server.away = true;
    const before = await outboxOf();
    await before.put(dose("/1"));
    await before.put(dose("/2"));
    await before.deliver();
    expect(server.taken).toEqual([]);
    await closeAll();

    const after = await outboxOf();
    expect(after.waiting.value).toBe(2);
    await after.put(dose("/3"));
    server.away = false;
    await after.deliver();
    expect(server.taken.map(one => one.body)).toEqual([{ seq: 1 }, { seq: 2 }, { seq: 3 }]);
  });

  it("gives every tap its own number, also when two come at once", async () => {
    server.away = true;
    const [one, other] = [await outboxOf(), await outboxOf()];
    const put = await Promise.all(
      Array.from({ length: 20 }, (_, n) => (n % 2 ? one : other).put(dose(`/${n}`))),
    );
    expect(put.map(entry => entry.seq).sort((a, b) => Number(a) - Number(b))).toEqual(
      Array.from({ length: 20 }, (_, n) => n + 1),
    );
    await one.refresh();
    expect(one.entries.value.map(entry => (entry.body as { seq: number }).seq)).toEqual(
      one.entries.value.map(entry => entry.seq),
    );
  });

  it("stops a lane at a refusal, and no other lane", async () => {
    server.answers.set("/bad", new Problem("event_not_now", "no", 422, { field: "kind" }));
    const outbox = await outboxOf();
    for (const path of ["/good", "/bad", "/behind"]) await outbox.put(dose(path));
    await outbox.put({ ...dose("/elsewhere"), lane: "another" });
    await outbox.deliver();
    expect(server.paths().sort()).toEqual(["/elsewhere", "/good"]);
    const [refused] = outbox.refused.value;
    expect(refused?.refused).toMatchObject({ code: "event_not_now", status: 422, facts: { field: "kind" } });
    expect(outbox.lane("attempt").map(entry => entry.path)).toEqual(["/bad", "/behind"]);

    await outbox.drop(refused!);
    await outbox.deliver();
    expect(server.paths()).toContain("/behind");
  });

  it("sends a refused request again when a person says so", async () => {
    server.answers.set("/1", new Problem("dose_too_early", "wait", 422));
    const outbox = await outboxOf();
    await outbox.put(dose("/1"));
    await outbox.deliver();
    server.answers.clear();
    await outbox.again(outbox.refused.value[0]!);
    await outbox.deliver();
    expect(server.paths()).toEqual(["/1"]);
  });

  it("sends a refused request in other words when a person says so", async () => {
    server.answers.set("/1", new Problem("visit_not_open", "elsewhere", 422));
    const outbox = await outboxOf();
    await outbox.put(dose("/1"));
    await outbox.deliver();
    server.answers.clear();
    await outbox.amend(outbox.refused.value[0]!, { afterwards: true });
    await outbox.deliver();
    expect(server.taken).toEqual([{ path: "/1", body: { afterwards: true } }]);
  });

  it("tries again by itself after a failure that passes, ever more slowly", async () => {
    vi.useFakeTimers({ toFake: ["setTimeout", "clearTimeout"] });
    server.answers.set("/1", new Problem("busy", "", 503));
    const outbox = await outboxOf();
    await outbox.put(dose("/1"));
    await outbox.deliver();
    const tries = () => outbox.entries.value[0]?.tries;
    const first = Number(tries());
    await vi.advanceTimersByTimeAsync(1_000);
    await vi.waitFor(() => expect(tries()).toBeGreaterThan(first));
    server.answers.clear();
    await vi.advanceTimersByTimeAsync(30_000);
    await vi.waitFor(() => expect(outbox.waiting.value).toBe(0));
    expect(server.paths()).toEqual(["/1"]);
  });

  it("sends nobody's work under another name", async () => {
    server.away = true;
    const outbox = await outboxOf();
    await outbox.put(dose("/ada"));
    server.away = false;
    who = { id: "bo", name: "Bo" };
    await outbox.deliver();
    expect(server.taken).toEqual([]);
    expect(outbox.entries.value[0]?.user_name).toBe("Ada");
    who = ada;
    await outbox.deliver();
    expect(server.paths()).toEqual(["/ada"]);
    who = null;
    await expect(outbox.put(dose("/nobody"))).rejects.toMatchObject({ code: "not_signed_in" });
  });

  it("goes on at the number that the server knows", async () => {
    const outbox = await outboxOf();
    await outbox.continueAt("attempt", 7);
    expect((await outbox.put(dose("/7"))).seq).toBe(7);
  });

  it("loses no request that comes in while the last round ends", async () => {
    const outbox = await outboxOf();
    for (let n = 0; n < 30; n++) {
      await outbox.put({ ...dose(`/${n}`), lane: `lane ${n}` });
    }
    await vi.waitFor(() => expect(server.taken).toHaveLength(30));
  });
});
