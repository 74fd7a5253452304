import type { components } from "./schema";

export type Code = components["schemas"]["Code"];

/** What a failed call leaves behind. `unreachable` is ours: no server answered at all. */
export type ProblemCode = Code | "unreachable";

/** An answer that was not a success, by its stable code; the facts are the further members of the body. */
export class Problem extends Error {
  override readonly name = "Problem";

  constructor(
    readonly code: ProblemCode,
    /** The server's own sentence, in English: shown only where we have none for the code. */
    readonly detail: string,
    readonly status: number,
    readonly facts: Readonly<Record<string, unknown>> = {},
  ) {
    super(`${code}: ${detail}`);
  }

  get field(): string | undefined {
    return typeof this.facts["field"] === "string" ? this.facts["field"] : undefined;
  }

  get requestId(): string | undefined {
    return typeof this.facts["request_id"] === "string" ? this.facts["request_id"] : undefined;
  }

  /** A fact that is a number, such as `seconds_remaining`. */
  number(name: string): number | undefined {
    const value = this.facts[name];
    return typeof value === "number" ? value : undefined;
  }

  /** Whether the same request may succeed later without anybody changing it. */
  get passes(): boolean {
    return this.code === "unreachable" || this.status === 503 || this.status === 429 || this.status >= 500;
  }
}

/** The problem in the body of an answer, whatever was sent: a proxy between may answer in its own words. */
export function problemOf(body: unknown, status: number): Problem {
  if (typeof body === "object" && body !== null) {
    const facts = body as Record<string, unknown>;
    if (typeof facts["code"] === "string") {
      return new Problem(facts["code"] as Code, String(facts["detail"] ?? ""), status, facts);
    }
  }
  const code: ProblemCode = status === 502 || status === 504 ? "unreachable" : "internal";
  return new Problem(code, "", status);
}

export function asProblem(error: unknown): Problem {
  if (error instanceof Problem) return error;
  return new Problem("internal", error instanceof Error ? error.message : String(error), 0);
}
