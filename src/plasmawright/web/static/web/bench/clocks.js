// Deadlines on the run's own time, whatever this tablet's clock is set to; nothing counts down that could be missed.

import { live } from "./talk.js";

const SECONDS_BELOW_S = 20 * 60; // hours and minutes above it, as the server writes them
const key = () => `plasmawright clock ${live().dataset.run}`;

let anchor = null; // the run's time at a moment, and what this tablet's two clocks showed then
let slept = false; // then only the clock on the wall went on

// Takes over the run's time. A page that was kept tells a time that has long been told: it is passed over.
export function setClock(told, pace = null) {
  const told_ms = Date.parse(told);
  anchor ??= remembered();
  if (Number.isNaN(told_ms) || (anchor && told_ms <= anchor.told_ms)) return;
  const kept = { told_ms, wall_ms: Date.now(), pace: pace ?? anchor?.pace ?? 1 };
  localStorage.setItem(key(), JSON.stringify(kept));
  anchor = { ...kept, run_ms: told_ms, page_ms: performance.now() };
  slept = false;
}

// After a reload only the clock on the wall knows how long it has been, right or wrong as it may be set.
function remembered() {
  const kept = JSON.parse(localStorage.getItem(key()) ?? "null");
  if (!kept) return null;
  const run_ms = kept.told_ms + (Date.now() - kept.wall_ms) * kept.pace;
  return { ...kept, run_ms, wall_ms: Date.now(), page_ms: performance.now() };
}

export const forgetClock = () => localStorage.removeItem(key());

// The run's own time now, in milliseconds.
export function runTime() {
  anchor ??= remembered();
  if (!anchor) return Date.now();
  const lived_ms = performance.now() - anchor.page_ms;
  const passed_ms = slept ? Math.max(lived_ms, Date.now() - anchor.wall_ms) : lived_ms;
  return anchor.run_ms + passed_ms * anchor.pace;
}

// The run's own time when this tablet's clock showed something.
export const runTimeAt = (wall_ms) => runTime() - (Date.now() - wall_ms) * (anchor?.pace ?? 1);

export function left(seconds) {
  return seconds < 0 ? `${length(-seconds)} over` : length(seconds);
}

function length(seconds) {
  const whole = Math.floor(seconds);
  const two = (number) => String(number).padStart(2, "0");
  if (whole >= 3600) return `${Math.floor(whole / 3600)} h ${two(Math.floor((whole % 3600) / 60))} min`;
  if (whole >= SECONDS_BELOW_S) return `${Math.floor(whole / 60)} min`;
  return `${Math.floor(whole / 60)}:${two(whole % 60)}`;
}

// Writes what is left beside every clock. Gives those that ring.
export function tick() {
  const now = runTime();
  const ringing = [];
  for (const clock of document.querySelectorAll("time[data-clock][data-due]")) {
    const seconds = (Date.parse(clock.dataset.due) - now) / 1000;
    const words = left(seconds);
    if (clock.textContent !== words) clock.textContent = words;
    const over = seconds <= 0;
    if ("over" in clock.dataset !== over) clock.toggleAttribute("data-over", over);
    if (over && clock.dataset.rings === "true" && !isSilenced(clock)) ringing.push(clock);
  }
  return ringing;
}

const silent = new Set();
const named = (clock) => `${clock.dataset.clock} ${clock.dataset.due}`;
const isSilenced = (clock) => ![undefined, "false"].includes(clock.dataset.silenced) || silent.has(named(clock));
export const silence = (clock) => silent.add(named(clock));

document.addEventListener("visibilitychange", () => {
  if (document.visibilityState === "visible") slept = true;
});
