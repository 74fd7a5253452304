// Keeps the screen on: while somebody is under the hood, and at a gate.
import { useEffect } from "preact/hooks";

/** Holds the screen awake as long as the component is shown. The browser lets go when the page is hidden, so it is asked again. */
export function useAwake(): void {
  useEffect(() => {
    let lock: WakeLockSentinel | undefined;
    let over = false;
    const hold = async () => {
      if (over || document.hidden) return;
      lock = await navigator.wakeLock?.request("screen").catch(() => undefined);
      if (over) await lock?.release();
    };
    const silent = navigator.wakeLock ? undefined : silentVideo();
    void hold();
    document.addEventListener("visibilitychange", hold);
    return () => {
      over = true;
      document.removeEventListener("visibilitychange", hold);
      void lock?.release();
      silent?.();
    };
  }, []);
}

/** Without the lock (plain HTTP from another machine), a playing video of one grey point keeps most screens on. */
function silentVideo(): (() => void) | undefined {
  const canvas = document.createElement("canvas");
  canvas.width = canvas.height = 1;
  if (!canvas.captureStream || !canvas.getContext("2d")) return undefined;
  const video = document.createElement("video");
  video.muted = true;
  video.playsInline = true;
  video.srcObject = canvas.captureStream(1);
  void video.play().catch(() => undefined);
  return () => {
    video.pause();
    video.srcObject = null;
  };
}
