// A camera that reads badges: every picture it shows is looked at, one after another, and a code that stays in front of
// it is read once.
import { type Detector, qrDetector } from "./detector";

/** Why there is no picture: the words of a screen say what to do about it. */
export type CameraProblem = "denied" | "missing" | "failed" | "reader";

/** A code that was out of sight for so long is read again when it comes back. */
const GONE_MS = 2_500;
/** Between two looks: a reader that never rests empties a tablet. */
const REST_MS = 60;
/** Enough for a card at arm's length, and small enough to be read in a few hundredths of a second. */
const PICTURE = { width: { ideal: 1280 }, height: { ideal: 720 }, facingMode: "environment" };

export interface Camera {
  stop: () => void;
}

/** Whether this page may use cameras at all: browsers open them over encrypted connections only. */
export const hasCameras = (): boolean => Boolean(navigator.mediaDevices?.getUserMedia);

/** Starts the camera and reads until it is stopped; throws a `CameraProblem`. */
export async function startCamera(video: HTMLVideoElement, onText: (text: string) => void): Promise<Camera> {
  const stream = await pictures();
  const stop = () => {
    running = false;
    for (const track of stream.getTracks()) track.stop();
    video.srcObject = null;
  };
  let running = true;
  try {
    video.srcObject = stream;
    await video.play().catch(() => undefined);
    const detector = await qrDetector().catch(() => Promise.reject("reader" satisfies CameraProblem));
    void watch(video, detector, () => running, onText);
    return { stop };
  } catch (problem) {
    stop();
    throw problem;
  }
}

async function pictures(): Promise<MediaStream> {
  try {
    return await navigator.mediaDevices.getUserMedia({ video: PICTURE });
  } catch (error) {
    const name = error instanceof DOMException ? error.name : "";
    const problem: CameraProblem =
      name === "NotAllowedError" ? "denied" : name === "NotFoundError" ? "missing" : "failed";
    throw problem;
  }
}

async function watch(
  video: HTMLVideoElement,
  detector: Detector,
  running: () => boolean,
  onText: (text: string) => void,
): Promise<void> {
  let last = "";
  let seenAt = 0;
  while (running()) {
    await nextPicture(video);
    const began = performance.now();
    const [text] = running() ? await detector.detect(video).catch(() => []) : [];
    const now = performance.now();
    if (text !== undefined && running()) {
      const again = text === last && now - seenAt < GONE_MS;
      [last, seenAt] = [text, now];
      if (!again) {
        performance.mark("badge-picture", { startTime: began });
        onText(text);
      }
    }
    await new Promise(rested => setTimeout(rested, REST_MS));
  }
}

/** The next picture that the camera shows; a page that nobody looks at gets none. */
function nextPicture(video: HTMLVideoElement): Promise<unknown> {
  const soon = new Promise(tick => setTimeout(tick, 500));
  if (!("requestVideoFrameCallback" in video)) return new Promise(next => requestAnimationFrame(next));
  return Promise.race([new Promise(next => video.requestVideoFrameCallback(next)), soon]);
}
