// Gates of a test's own, with their devices, and badges that the invented day has printed.
import { execFileSync } from "node:child_process";
import { mkdtempSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import type { Page } from "playwright-core";
import type { Wire } from "../src/api/client";
import { Actor, newId } from "./hospital";
import { type Look, open } from "./pages";

export type Badge = Wire<"BadgeView">;
export type Scan = Wire<"ScanView">;

export interface Door {
  id: string;
  name: string;
  /** The device that stands there. */
  device: string;
  token: string;
}

const now = () => new Date().toISOString();

/** A gate with a policy in force, and its device. */
export async function door(accepts: string[], policy: Partial<Wire<"NewGatePolicy">> = {}): Promise<Door> {
  const coordinator = await Actor.signIn("coordinator");
  const [id, decided] = [newId(), now()];
  const name = `Lantern door ${id.slice(-6)}`;
  await coordinator.post("/api/v1/gates", { id, name });
  await coordinator.post(`/api/v1/gates/${id}/policies`, {
    id: newId(),
    happened_at: decided,
    effective_from: decided,
    accepts: accepts.map(respirator_id => ({ respirator_id })),
    none_needed: false,
    knowledge_age_max_seconds: 900,
    fallback: "Call the shift lead on 4410.",
    leads: ["Ada Brennick", "Ruben Valdrun"],
    ...policy,
  });
  const device = newId();
  const admin = await Actor.signIn("admin");
  const made = { id: device, name: `${name}, tablet`, role: "gate", gate_id: id };
  const { token } = await admin.post<{ token: string }>("/api/v1/devices", made);
  return { id, name, device, token };
}

/** The window of a gate's device, once it knows what it has to. */
export async function openDoor(at: Door, look: Look = {}): Promise<Page> {
  const page = await open(look);
  await page.context().addInitScript(token => {
    localStorage.setItem("sellion.device_token", JSON.stringify(token));
  }, at.token);
  await page.goto("/");
  await page.getByRole("heading", { level: 1, name: at.name }).waitFor();
  await page.getByText(/^Up to date|Al día/).waitFor();
  return page;
}

/** Badges of the invented day: of somebody who may go in, of somebody who may not any more, and one that was ended. */
export async function printed(): Promise<{ good: [Badge, Badge, ...Badge[]]; failed: Badge; ended: Badge }> {
  const desk = await Actor.signIn("badge_desk");
  const { items } = await desk.get<{ items: Badge[] }>("/api/v1/badges?limit=200");
  const valid = items.filter(one => one.status === "valid");
  const cleared = (one: Badge) => one.respirators.every(worn => worn.cleared_now);
  const good = valid.filter(cleared);
  const failed = valid.find(one => one.respirators.every(worn => !worn.cleared_now));
  const ended = items.find(one => one.status === "ended");
  const [one, other, ...more] = good;
  if (!one || !other || !failed || !ended) throw new Error("the demonstration left too few badges");
  return { good: [one, other, ...more], failed, ended };
}

/** What is in the code on the badge. */
export const code = (badge: Badge): string => badge.code ?? "";

export const worn = (badge: Badge): string[] => badge.respirators.map(one => one.respirator_id);

/** What the gate's scans are on the server. */
export async function scansAt(at: Door): Promise<Scan[]> {
  const coordinator = await Actor.signIn("coordinator");
  const { items } = await coordinator.get<{ items: Scan[] }>(`/api/v1/gates/${at.id}/scans?limit=200`);
  return items;
}

/** A scanner is a keyboard whose keys come a few milliseconds apart, whatever the machine of the test is busy with. */
export async function scanLine(page: Page, text: string): Promise<void> {
  await page.evaluate(line => {
    // Nobody stands in a field: what is typed there goes into it, as from any keyboard.
    if (document.activeElement instanceof HTMLElement) document.activeElement.blur();
    for (const key of [...line, "Enter"]) {
      const target = document.activeElement ?? document.body;
      target.dispatchEvent(new KeyboardEvent("keydown", { key, bubbles: true, cancelable: true }));
    }
  }, text);
}

/** The answer that stands on the screen, once it is this one. */
export const answered = (page: Page, word: string) =>
  page
    .getByRole("status")
    .filter({ has: page.getByText(word, { exact: true }) })
    .waitFor();

/**
 * Pages of a printed document as what a camera would see, one after another, `seconds` each: 4:2:0, because Chromium shows
 * any other MJPEG garbled and says nothing.
 */
export function cameraOf(pdf: Buffer, seconds = 2): string[] {
  const folder = mkdtempSync(join(tmpdir(), "sellion-camera-"));
  const [paper, film] = [join(folder, "badges.pdf"), join(folder, "camera.mjpeg")];
  writeFileSync(paper, pdf);
  execFileSync("pdftoppm", ["-r", "250", "-png", paper, join(folder, "page")]);
  const hand = "scale=800:-1,pad=1280:720:(ow-iw)/2:(oh-ih)/2:color=gray,rotate=4*PI/180:fillcolor=gray";
  const pictures = ["-framerate", `1/${seconds}`, "-pattern_type", "glob", "-i", join(folder, "page*.png")];
  const made = ["-r", "15", "-pix_fmt", "yuvj420p", "-c:v", "mjpeg", "-q:v", "3", film];
  execFileSync("ffmpeg", ["-loglevel", "error", ...pictures, "-vf", hand, ...made]);
  return [
    "--use-fake-ui-for-media-stream",
    "--use-fake-device-for-media-stream",
    `--use-file-for-fake-video-capture=${film}`,
  ];
}
