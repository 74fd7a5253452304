// Browser windows of signed-in people. What a page complains about in its console fails the test that opened it.
import { existsSync } from "node:fs";
import { chromium, type Browser, type BrowserContext, type Page } from "playwright-core";
import { afterAll, afterEach, expect } from "vitest";
import type { Role } from "../src/api/client";
import { account, base, type Place } from "./hospital";

/** Debian's, the one without a window of its own first: it takes a quarter less time. Another one by SELLION_CHROMIUM. */
const PROGRAM =
  process.env["SELLION_CHROMIUM"] ??
  ["/usr/bin/chromium-headless-shell", "/usr/bin/chromium"].find(path => existsSync(path));

/** Far more than a screen takes, also on a busy machine. */
const PATIENCE_MS = 15_000;

export const SIZES = {
  phone: { width: 360, height: 740 },
  tablet: { width: 820, height: 1180 },
  laptop: { width: 1280, height: 720 },
  desktop: { width: 1440, height: 900 },
} as const;
export type Size = keyof typeof SIZES;

export interface Look {
  size?: Size;
  theme?: "light" | "dark";
  language?: "en" | "es";
  /** The day and station that this device is set to. */
  at?: Place;
  /** Where the server is reached, when not directly. */
  base?: string;
  /** Whether the screens install themselves for work without the network, which takes a while in a new window. */
  installs?: boolean;
  /** Flags for the browser, such as a camera made of a file. */
  flags?: string[];
}

let browser: Browser | undefined;
const contexts: BrowserContext[] = [];
let complaints: string[] = [];
let expected: RegExp[] = [];

/** A complaint that belongs to what the test does, such as a failed request while the network is away. */
export function expectComplaint(...patterns: RegExp[]): void {
  expected.push(...patterns);
}

async function launched(flags: string[]): Promise<Browser> {
  const start = () =>
    chromium.launch({
      ...(PROGRAM && { executablePath: PROGRAM }),
      args: ["--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", ...flags],
    });
  if (flags.length > 0) return start();
  browser ??= await start();
  return browser;
}

/** A window of nobody. */
export async function open({
  size = "desktop",
  theme = "light",
  language = "en",
  at,
  base: address = base(),
  installs = true,
  flags = [],
}: Look = {}) {
  const context = await (
    await launched(flags)
  ).newContext({
    baseURL: address,
    viewport: SIZES[size],
    colorScheme: theme,
    locale: language === "en" ? "en-GB" : "es-ES",
    reducedMotion: "reduce",
    serviceWorkers: installs ? "allow" : "block",
  });
  contexts.push(context);
  if (!installs) expectComplaint(/^Service Worker registration blocked/);
  if (at) {
    const kept = JSON.stringify(at);
    await context.addInitScript(text => localStorage.setItem("sellion.place", text), kept);
  }
  context.setDefaultTimeout(PATIENCE_MS);
  const page = await context.newPage();
  page.on("console", message => {
    if (message.type() === "error" || message.type() === "warning") complaints.push(message.text());
  });
  page.on("pageerror", error => complaints.push(String(error)));
  return page;
}

/** What a page complains about while its device has no network. */
export const OFFLINE = /ERR_INTERNET_DISCONNECTED/;

/** What a page complains about while nobody answers it. */
export const AWAY = /net::ERR_|status of 503/;

/** A window of somebody with this role, at this address. */
export async function openAs(role: Role, path: string, look: Look = {}): Promise<Page> {
  const page = await open(look);
  const answer = await page.context().request.post("/api/v1/sessions", { data: account(role) });
  expect(answer.status()).toBe(201);
  await page.goto(path);
  return page;
}

afterEach(async () => {
  for (const context of contexts.splice(0)) await context.close();
  const unexpected = complaints.filter(text => !expected.some(pattern => pattern.test(text)));
  complaints = [];
  expected = [];
  expect(unexpected, "what pages complained about").toEqual([]);
});

afterAll(async () => {
  await browser?.close();
  browser = undefined;
});
