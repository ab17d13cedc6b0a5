// The end of a spin rings until somebody silences it; the toggles that say whether it can be heard.

import { silence, tick } from "./clocks.js";
import { keep } from "./queue.js";
import { isHeard, listenForTouch, mute, quiet, ring, stayAwake } from "./ring.js";
import { entryHere } from "./taps.js";

const TICK_MS = 250;
const LOOK_AGAIN_MS = 5000;

export function watchAlarm() {
  listenForTouch();
  document.getElementById("live-silence").addEventListener("click", silenceAll);
  document.getElementById("live-sound").addEventListener("click", toggleSound);
  setInterval(beat, TICK_MS);
  setInterval(watchTablet, LOOK_AGAIN_MS);
  document.addEventListener("visibilitychange", watchTablet);
  beat();
  watchTablet();
}

function beat() {
  const ringing = tick();
  const line = document.getElementById("live-ring");
  line.hidden = ringing.length === 0;
  if (ringing.length === 0) return quiet();
  const words = ringing[0].dataset.overWords ?? "The time is up.";
  const shownWords = document.getElementById("live-ring-words");
  if (shownWords.textContent !== words) shownWords.textContent = words;
  ring(ringing[0].dataset.clock);
}

function silenceAll() {
  const names = new Set(tick().map((clock) => (silence(clock), clock.dataset.clock)));
  for (const clock of names) keep(entryHere("silenced", { clock }));
  beat();
}

async function watchTablet() {
  const awake = await stayAwake();
  document.getElementById("live-awake").textContent = awake ? "Screen stays on" : "Keep this screen on by hand";
  const sound = document.getElementById("live-sound");
  if (sound.getAttribute("aria-pressed") === "true") sound.textContent = isHeard() ? "Sound on" : "Sound on: touch once";
}

function toggleSound(event) {
  const on = event.currentTarget.getAttribute("aria-pressed") !== "true";
  event.currentTarget.setAttribute("aria-pressed", String(on));
  event.currentTarget.textContent = on ? "Sound on" : "Sound off";
  mute(!on);
}
