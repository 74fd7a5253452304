// The cable between a station or a gate and the server: it can be pulled, the server behind it can be away, and the server's clock
// can be set, because the time of a test is the page's and nobody waits for real minutes.
import { Agent, createServer, request, type Server } from "node:http";
import type { AddressInfo, Socket } from "node:net";
import { onTestFinished } from "vitest";
import { base } from "./hospital";

/** A new connection for each request: one that was kept may be closed by the server just as it is used again. */
const agent = new Agent({ keepAlive: false });

export class Cable {
  /** Whether anything goes through. */
  plugged = true;
  /** What the server's clock is ahead of this machine's, in milliseconds. */
  shift = 0;
  /** Answers like a proxy whose server is being started again. */
  starting = false;
  /** The next of what is posted there reaches the server, and its answer gets lost. */
  unheard: RegExp | null = null;
  /** What was posted and answered, for looking at what arrived. */
  readonly posted: string[] = [];
  private readonly sockets = new Set<Socket>();

  private constructor(
    private readonly server: Server,
    readonly address: string,
  ) {}

  static async lay(): Promise<Cable> {
    const server = createServer();
    await new Promise<void>(done => server.listen(0, "127.0.0.1", done));
    const cable = new Cable(server, `http://127.0.0.1:${(server.address() as AddressInfo).port}`);
    server.on("connection", socket => {
      if (!cable.plugged) return void socket.destroy();
      cable.sockets.add(socket);
      socket.on("close", () => cable.sockets.delete(socket));
    });
    server.on("request", (asked, answer) => {
      if (cable.starting && asked.url?.startsWith("/api/")) {
        answer.writeHead(503, { "retry-after": "1" }).end();
        return;
      }
      const to = new URL(asked.url ?? "/", base());
      const onward = request(to, { method: asked.method, headers: asked.headers, agent }, got => {
        const headers = { ...got.headers };
        if (to.pathname === "/health/live") headers.date = new Date(Date.now() + cable.shift).toUTCString();
        if (asked.method === "POST") cable.posted.push(`${got.statusCode} ${to.pathname}`);
        if (asked.method === "POST" && cable.unheard?.test(to.pathname)) {
          cable.unheard = null;
          return void got.resume();
        }
        answer.writeHead(got.statusCode ?? 502, headers);
        got.pipe(answer);
      });
      onward.on("error", () => answer.destroy());
      answer.on("close", () => onward.destroy());
      asked.pipe(onward);
    });
    onTestFinished(() => cable.cut());
    return cable;
  }

  pull(): void {
    this.plugged = false;
    for (const socket of this.sockets) socket.destroy();
  }

  plug(): void {
    this.plugged = true;
  }

  private async cut(): Promise<void> {
    this.pull();
    await new Promise<void>(done => this.server.close(() => done()));
  }
}
