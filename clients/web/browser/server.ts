// Before all browser tests: the real program on a database of its own, with an invented day already played.
import { spawn } from "node:child_process";
import { mkdtempSync, rmSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import type { TestProject } from "vitest/node";

declare module "vitest" {
  interface ProvidedContext {
    /** Where the server under test answers. */
    base: string;
  }
}

/** The invented day of so few people takes some seconds, and longer on a busy machine. */
const START_MS = 300_000;

export default async function setup(project: TestProject): Promise<() => Promise<void>> {
  const running = process.env["SELLION_TEST_SERVER"];
  if (running) {
    project.provide("base", running);
    return async () => undefined;
  }
  const program =
    process.env["SELLION_PROGRAM"] ?? join(import.meta.dirname, "../../../target/debug/sellion");
  const out = mkdtempSync(join(tmpdir(), "sellion-browser-"));
  const server = spawn(program, ["demo", "--people", "24", "--listen", "127.0.0.1:0", "--out", out], {
    stdio: ["ignore", "pipe", "pipe"],
  });
  const ended = new Promise<void>(done => server.once("exit", () => done()));
  let said = "";
  const base = await new Promise<string>((found, failed) => {
    const timer = setTimeout(() => failed(new Error(`the server did not start:\n${said}`)), START_MS);
    server.once("error", failed);
    server.once("exit", code => failed(new Error(`the server ended with ${code}:\n${said}`)));
    server.stderr.on("data", (bytes: Buffer) => (said += bytes.toString()));
    server.stdout.on("data", (bytes: Buffer) => {
      said += bytes.toString();
      const address = /Serving on (http:\S+)/.exec(said)?.[1];
      if (!address) return;
      clearTimeout(timer);
      found(address);
    });
  });
  project.provide("base", base);
  return async () => {
    server.kill("SIGINT");
    await ended;
    rmSync(out, { recursive: true, force: true });
  };
}
