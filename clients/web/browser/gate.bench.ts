// From the camera's picture to the word, as `npm run bench` asks for it.
import { writeFileSync } from "node:fs";
import { expect, it } from "vitest";
import { cameraOf, door, openDoor, printed, worn } from "./doors";
import { Actor } from "./hospital";
import { expectComplaint } from "./pages";

const TIMES = Number(process.env["SELLION_BENCH_TIMES"] ?? 100);
/** How long each badge is held before the camera. */
const HELD_SECONDS = 0.6;

const at = (sorted: number[], share: number) =>
  Math.round((sorted[Math.floor(sorted.length * share)] ?? 0) * 10) / 10;

it(`takes so long from the camera's picture to the word, ${TIMES} times`, async () => {
  const [one, other] = (await printed()).good;
  const desk = await Actor.signIn("badge_desk");
  const pdf = await desk.file("/api/v1/badge_sheets", { layout: "card", badge_ids: [one.id, other.id] });
  const here = await door([...new Set([one, other].flatMap(worn))]);
  const page = await openDoor(here, { flags: cameraOf(pdf, HELD_SECONDS), size: "tablet" });
  await page.getByRole("button", { name: "Use the camera" }).click();
  const answers = () => page.evaluate(() => performance.getEntriesByName("badge-answer").length);
  await expect.poll(answers, { timeout: 540_000, interval: 1_000 }).toBeGreaterThan(TIMES);
  const took = await page.evaluate(() => {
    const [pictures, words] = ["badge-picture", "badge-answer"].map(name =>
      performance.getEntriesByName(name),
    );
    // The first picture waits until the reader is loaded and warm; a person does not.
    return (words ?? []).slice(1).map(word => {
      const before = (pictures ?? []).filter(picture => picture.startTime < word.startTime);
      return word.startTime - (before.at(-1)?.startTime ?? NaN);
    });
  });
  const sorted = took.slice(0, TIMES).sort((a, b) => a - b);
  const figures = {
    times: sorted.length,
    median: at(sorted, 0.5),
    p95: at(sorted, 0.95),
    longest: at(sorted, 0.999),
  };
  // The same with nobody to ask: a serial is typed, and the gate answers alone.
  await page.getByRole("button", { name: "Camera off" }).click();
  expectComplaint(/ERR_INTERNET_DISCONNECTED/);
  await page.context().setOffline(true);
  const alone: number[] = [];
  for (let time = 0; time < 20; time++) {
    await page.getByLabel("Serial on the badge").fill(one.serial);
    const before = await answers();
    const began = await page.evaluate(() => {
      const now = performance.now();
      document.querySelector<HTMLFormElement>(".typed-serial")?.requestSubmit();
      return now;
    });
    await expect.poll(answers, { interval: 20 }).toBeGreaterThan(before);
    const words = await page.evaluate(() =>
      performance.getEntriesByName("badge-answer").map(mark => mark.startTime),
    );
    alone.push((words.at(-1) ?? NaN) - began);
  }
  alone.sort((a, b) => a - b);
  const out = process.env["SELLION_BENCH_OUT"];
  if (out)
    writeFileSync(
      out,
      JSON.stringify({
        camera_picture_to_word_ms: figures,
        typed_serial_to_word_alone_ms: { times: alone.length, median: at(alone, 0.5), longest: alone.at(-1) },
      }),
    );
});
