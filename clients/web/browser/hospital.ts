// The hospital under test, as its people reach it through the API: for what a test needs before a browser opens.
import { v7 } from "uuid";
import { inject } from "vitest";
import type { Role } from "../src/api/client";

/** What the demonstration's accounts are signed in with; the server listens on this machine only. */
const PASSWORD = "invented-hospital";

/** Where the server of this worker answers. */
export function base(): string {
  const bases = inject("bases");
  return bases[(Number(process.env["VITEST_POOL_ID"]) - 1) % bases.length] ?? "";
}

export const newId = v7;

export interface Account {
  username: string;
  password: string;
}

export const account = (role: Role): Account => ({ username: role, password: PASSWORD });

const sessions = new Map<Role, Promise<Actor>>();

/** One signed-in actor. */
export class Actor {
  private constructor(private readonly credential: Record<string, string>) {}

  /** A device, by the token that an administrator made for it. */
  static withToken(token: string): Actor {
    return new Actor({ authorization: `Bearer ${token}` });
  }

  /** Somebody with this role; once for a file of tests, since a password takes long to check on purpose. */
  static signIn(role: Role): Promise<Actor> {
    let session = sessions.get(role);
    if (!session) sessions.set(role, (session = Actor.begin(role)));
    return session;
  }

  private static async begin(role: Role): Promise<Actor> {
    const response = await fetch(`${base()}/api/v1/sessions`, {
      method: "POST",
      headers: { "content-type": "application/json" },
      body: JSON.stringify(account(role)),
    });
    const cookie = response.headers.getSetCookie()[0]?.split(";")[0];
    if (!response.ok || !cookie) throw new Error(`${role} cannot sign in: ${await response.text()}`);
    return new Actor({ cookie });
  }

  async get<Answer>(path: string): Promise<Answer> {
    return this.ask("GET", path);
  }

  async post<Answer>(path: string, body: unknown): Promise<Answer> {
    return this.ask("POST", path, body);
  }

  /** Changes a row of this version. */
  async patch<Answer>(path: string, body: unknown, version: number): Promise<Answer> {
    return this.ask("PATCH", path, body, { "if-match": `"${version}"` });
  }

  /** A file that is made of what is posted, such as a sheet to be printed. */
  async file(path: string, body: unknown): Promise<Buffer> {
    const response = await this.send("POST", path, body);
    if (!response.ok) throw new Error(`POST ${path}: ${response.status} ${await response.text()}`);
    return Buffer.from(await response.arrayBuffer());
  }

  async delete(path: string): Promise<void> {
    await this.ask("DELETE", path);
  }

  private async ask<Answer>(
    method: string,
    path: string,
    body?: unknown,
    more?: Record<string, string>,
  ): Promise<Answer> {
    const response = await this.send(method, path, body, more);
    const text = await response.text();
    if (!response.ok) throw new Error(`${method} ${path}: ${response.status} ${text}`);
    return (text === "" ? undefined : JSON.parse(text)) as Answer;
  }

  private send(
    method: string,
    path: string,
    body?: unknown,
    more: Record<string, string> = {},
  ): Promise<Response> {
    return fetch(base() + path, {
      method,
      headers: {
        ...this.credential,
        ...more,
        ...(body === undefined ? {} : { "content-type": "application/json" }),
      },
      body: body === undefined ? undefined : JSON.stringify(body),
    });
  }
}

interface Row {
  id: string;
  [member: string]: unknown;
}

export interface Place {
  site: string;
  day: Row;
  station: Row | null;
}

/** Where the demonstration tests; it has a second, smaller day for retests. */
export const DAY = "Assembly hall";

/** The day that the demonstration played, with a station that can do `part`. */
export async function place(part?: string): Promise<Place> {
  const coordinator = await Actor.signIn("coordinator");
  const { site_id } = await coordinator.get<{ site_id: string }>("/api/v1/sessions/current");
  const { items: days } = await coordinator.get<{ items: Row[] }>("/api/v1/days");
  const day = days.find(one => one["place"] === DAY);
  if (!day) throw new Error("the demonstration left no day");
  if (!part) return { site: site_id, day, station: null };
  const { items: stations } = await coordinator.get<{ items: Row[] }>(`/api/v1/days/${day.id}/stations`);
  const station = stations.find(one => (one["parts"] as string[]).includes(part));
  if (!station) throw new Error(`no station does ${part}`);
  return { site: site_id, day, station };
}

let invented = 0;

/** A person whom no other test knows, on the roster and permitted unless told otherwise. */
export async function person({
  permitted = true,
  name = `Oriel Vantongeren ${++invented}`,
} = {}): Promise<Row> {
  const [given_name, ...family] = name.split(" ");
  const id = newId();
  const coordinator = await Actor.signIn("coordinator");
  const made = await coordinator.post<Row>("/api/v1/people", {
    id,
    staff_number: `09${id.slice(-10)}`,
    given_name,
    family_name: family.join(" "),
    birth_date: "1988-02-29",
    unit: "Heron",
    kind: "staff",
  });
  if (permitted) {
    const clinician = await Actor.signIn("clinician");
    await clinician.post(`/api/v1/people/${id}/permissions`, {
      id: newId(),
      decision: "permitted",
      valid_from: "2020-01-01",
      happened_at: new Date().toISOString(),
    });
  }
  return made;
}
