// Short tones, made here: no file to load. A state is never told by sound alone, and never announces to a corridor
// that somebody was turned away: "attention" is the same for everything that needs a look at the screen.
import { signal } from "@preact/signals";
import { remembered } from "../app/remembered";

type Note = readonly [hertz: number, fromMs: number, lengthMs: number];

const SOUNDS = {
  /** Something was taken. */
  done: [
    [660, 0, 90],
    [880, 100, 140],
  ],
  /** Look at the screen. */
  attention: [
    [520, 0, 160],
    [520, 220, 160],
  ],
  /** The next dose, the next exercise. */
  prompt: [
    [740, 0, 120],
    [740, 160, 120],
    [988, 320, 220],
  ],
} as const satisfies Record<string, readonly Note[]>;

const kept = remembered("sound", true);
export const soundOn = signal(kept.get());

export function chooseSound(on: boolean): void {
  kept.set(on);
  soundOn.value = on;
}

let context: AudioContext | undefined;

export function play(name: keyof typeof SOUNDS): void {
  if (!soundOn.value || typeof AudioContext === "undefined") return;
  context ??= new AudioContext();
  void context.resume();
  for (const [hertz, fromMs, lengthMs] of SOUNDS[name]) {
    const start = context.currentTime + fromMs / 1000;
    const end = start + lengthMs / 1000;
    const tone = context.createOscillator();
    const volume = context.createGain();
    tone.frequency.value = hertz;
    // Rises and falls within a hundredth of a second: a hard edge is heard as a click.
    volume.gain.setValueAtTime(0, start);
    volume.gain.linearRampToValueAtTime(0.25, start + 0.01);
    volume.gain.setValueAtTime(0.25, end - 0.02);
    volume.gain.linearRampToValueAtTime(0, end);
    tone.connect(volume).connect(context.destination);
    tone.start(start);
    tone.stop(end);
  }
  navigator.vibrate?.(name === "prompt" ? [120, 80, 120] : 80);
}
