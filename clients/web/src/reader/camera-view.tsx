import { useEffect, useRef, useState } from "preact/hooks";
import { remembered } from "../app/remembered";
import { Button } from "../kit/button";
import { Notice } from "../kit/notice";
import { reader as words } from "../words/reader";
import { type Camera, type CameraProblem, hasCameras, startCamera } from "./camera";
import "./camera.css";

const kept = remembered("camera", false);

/** Whether this device reads with its camera; chosen by a touch, because browsers ask for permission then. */
export function useCameraChoice(): [on: boolean, choose: (on: boolean) => void] {
  const [on, setOn] = useState(kept.get() && hasCameras());
  const choose = (next: boolean) => {
    kept.set(next);
    setOn(next);
  };
  return [on, choose];
}

/** What the camera sees, and every badge that comes before it. */
export function CameraView({ onText }: { onText: (text: string) => void }) {
  const video = useRef<HTMLVideoElement>(null);
  const [state, setState] = useState<CameraProblem | "starting" | "reading">("starting");
  const [attempt, setAttempt] = useState(0);
  const latest = useRef(onText);
  latest.current = onText;
  useEffect(() => {
    let over = false;
    let camera: Camera | undefined;
    setState("starting");
    const element = video.current;
    if (!element) return undefined;
    startCamera(element, text => latest.current(text)).then(
      started => {
        camera = started;
        if (over) started.stop();
        else setState("reading");
      },
      (problem: CameraProblem) => over || setState(problem),
    );
    return () => {
      over = true;
      camera?.stop();
    };
  }, [attempt]);
  const failed = state !== "starting" && state !== "reading";
  return (
    <div class="camera">
      <video
        ref={video}
        class="camera-picture"
        muted
        playsInline
        aria-label={words.picture()}
        hidden={failed}
      />
      {state === "starting" && <p class="camera-state soft">{words.starting()}</p>}
      {failed && (
        <Notice tone="wait" title={words[state]()}>
          <div class="row">
            <Button onClick={() => setAttempt(attempt + 1)}>{words.again()}</Button>
          </div>
        </Notice>
      )}
    </div>
  );
}
