// The end of a spin is heard, felt and seen, again and again until somebody silences it; the screen stays awake.

const AGAIN_MS = 2000;
const NOTES = [880, 660, 880];
let sound = null;
let timer = 0;
let lock = null;
let muted = false;

// A browser lets a page make a sound only once it has been touched.
export function listenForTouch() {
  for (const touch of ["pointerdown", "keydown"]) {
    addEventListener(touch, unlock, { capture: true, passive: true });
  }
}

function unlock() {
  sound ??= window.AudioContext ? new AudioContext() : null;
  if (sound?.state === "suspended") sound.resume().catch(() => {});
}

export const isHeard = () => sound?.state === "running" && !muted;

export function mute(off) {
  muted = off;
}

export function ring(name) {
  if (timer) return;
  document.documentElement.dataset.ringing = name;
  sounded();
  timer = setInterval(sounded, AGAIN_MS);
}

export function quiet() {
  clearInterval(timer);
  timer = 0;
  delete document.documentElement.dataset.ringing;
}

function sounded() {
  navigator.vibrate?.([300, 150, 300]);
  if (!isHeard()) return;
  NOTES.forEach((hertz, place) => note(hertz, sound.currentTime + place * 0.28));
}

function note(hertz, from) {
  const voice = sound.createOscillator();
  const loudness = sound.createGain();
  voice.frequency.value = hertz;
  loudness.gain.setValueAtTime(0.4, from);
  loudness.gain.exponentialRampToValueAtTime(0.001, from + 0.25);
  voice.connect(loudness).connect(sound.destination);
  voice.start(from);
  voice.stop(from + 0.26);
}

// Gives whether the screen is kept awake; over plain http a browser cannot.
export async function stayAwake() {
  if (document.visibilityState !== "visible") return lock !== null;
  if (lock && !lock.released) return true;
  try {
    lock = (await navigator.wakeLock?.request("screen")) ?? null;
  } catch {
    lock = null;
  }
  return lock !== null;
}
