// Before all browser tests: the real program on databases of its own, with an invented day already played; one for each
// file that runs at the same time, so that none meets what another does.
import { spawn } from "node:child_process";
import { mkdtempSync, rmSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import type { TestProject } from "vitest/node";

declare module "vitest" {
  interface ProvidedContext {
    /** Where the servers under test answer, one for each worker. */
    bases: string[];
  }
}

/** The invented day of so few people takes some seconds, and longer on a busy machine. */
const START_MS = 300_000;

interface Server {
  base: string;
  stop: () => Promise<void>;
}

export default async function setup(project: TestProject): Promise<() => Promise<void>> {
  const running = process.env["SELLION_TEST_SERVER"];
  if (running) {
    project.provide("bases", [running]);
    return async () => undefined;
  }
  const servers = await Promise.all(Array.from({ length: project.config.maxWorkers }, start));
  project.provide(
    "bases",
    servers.map(one => one.base),
  );
  return async () => {
    await Promise.all(servers.map(one => one.stop()));
  };
}

async function start(): Promise<Server> {
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
  const stop = async () => {
    server.kill("SIGINT");
    await ended;
    rmSync(out, { recursive: true, force: true });
  };
  return { base, stop };
}
