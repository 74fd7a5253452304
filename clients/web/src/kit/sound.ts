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

/** What is felt instead, in milliseconds on and off. */
const BUZZES: Record<keyof typeof SOUNDS, number[]> = {
  done: [80],
  attention: [80, 100, 80],
  prompt: [120, 80, 120],
};

const LOUD = 0.25;
/** Heard by whoever holds the device, and not along a corridor. */
export const DISCREET = 0.06;

const kept = remembered("sound", true);
export const soundOn = signal(kept.get());

export function chooseSound(on: boolean): void {
  kept.set(on);
  soundOn.value = on;
}

let context: AudioContext | undefined;

/** Whether the browser lets a page sound: not before somebody has touched it or pressed a key. */
export const maySound = (): boolean => navigator.userActivation?.hasBeenActive ?? true;

export function play(name: keyof typeof SOUNDS, loudness = LOUD): void {
  if (!maySound()) return;
  navigator.vibrate?.(BUZZES[name]);
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
    volume.gain.linearRampToValueAtTime(loudness, start + 0.01);
    volume.gain.setValueAtTime(loudness, end - 0.02);
    volume.gain.linearRampToValueAtTime(0, end);
    tone.connect(volume).connect(context.destination);
    tone.start(start);
    tone.stop(end);
  }
}
