// How far the page goes on by itself: the presses of this step, with the timer one of them starts. The rest is for the server.

import { left, runTime, runTimeAt } from "./clocks.js";
import { waiting } from "./queue.js";
import { ask, live, read } from "./talk.js";

const KEPT = "Kept here, waiting for the server";
const key = () => `plasmawright ahead ${live().dataset.run}`;
const step = () => document.getElementById("step");
const button = () => step()?.querySelector("[data-primary]") ?? null;
const position = () => Number(step()?.dataset.position ?? -1);

// Asks what follows; kept, so that a reload finds it when nobody answers.
export async function askAhead() {
  const answer = await ask(`/api/runs/${live().dataset.run}/ahead`, {}, 4000);
  if (answer.status !== 200) return null;
  localStorage.setItem(key(), answer.text);
  return read(answer.text);
}

export function forgetAhead() {
  localStorage.removeItem(key());
  localStorage.removeItem(takenKey());
}

function presses() {
  const known = read(localStorage.getItem(key()) ?? "null");
  return known && known.position === position() ? known.presses : [];
}

// How often the one key was pressed on this step as it is shown, and when last: what waits, and what was just taken.
async function pressed() {
  const wait = (await waiting()).filter(isHere);
  const took = takenHere();
  return { times: wait.length + took.times, last_ms: wait.at(-1)?.tapped_ms ?? took.last_ms };
}

const isHere = (one) => one.primary && one.run === live().dataset.run && one.position === position();
const takenKey = () => `plasmawright taken ${live().dataset.run}`;

function takenHere() {
  const kept = read(localStorage.getItem(takenKey()) ?? "null");
  return kept?.position === position() ? kept : { times: 0, last_ms: null };
}

// Remembers that the server took a press which the page does not show yet.
export function noteTaken(one) {
  if (!isHere(one)) return;
  const told = { position: position(), times: takenHere().times + 1, last_ms: one.tapped_ms };
  localStorage.setItem(takenKey(), JSON.stringify(told));
}

// The entry the one key makes now; nothing where the step has gone as far as it may by itself.
export async function nextEntry() {
  const { times } = await pressed();
  if (times === 0) return read(button()?.dataset.entry ?? "null");
  return presses()[times]?.entry ?? null;
}

// Shows what the one key does now, and the timer that it started.
export async function showAhead() {
  const here = button();
  const { times, last_ms } = await pressed();
  const next = presses()[times] ?? null;
  showTimer(last_ms, next?.clock ?? null);
  showRed(times);
  if (!here || here !== button()) return;
  const shown = here.querySelector("[data-words]") ?? here;
  here.dataset.first ??= shown.textContent;
  here.dataset.blocked ??= here.getAttribute("aria-disabled") ?? "false";
  if (times === 0) {
    if (shown.textContent !== here.dataset.first) shown.textContent = here.dataset.first;
    here.setAttribute("aria-disabled", here.dataset.blocked);
  } else {
    shown.textContent = next ? next.words : KEPT;
    here.setAttribute("aria-disabled", String(!next));
  }
}

// After presses that the page does not show yet, red is of the tube in hand by then: the server tells which that is.
function showRed(times) {
  const red = step()?.querySelector('[data-entry*="red_seen"]');
  if (!red) return;
  red.dataset.first ??= red.textContent;
  red.dataset.own ??= red.dataset.entry;
  red.textContent = times === 0 ? red.dataset.first : "Red seen in the tube in hand";
  red.dataset.entry = times === 0 ? red.dataset.own : JSON.stringify({ ...read(red.dataset.own), body: {} });
}

function showTimer(from_ms, clock) {
  const line = document.getElementById("live-timer");
  line.hidden = from_ms === null || !clock;
  if (line.hidden) {
    line.replaceChildren();
    return;
  }
  const due_ms = runTimeAt(from_ms) + clock.lasts_s * 1000;
  let time = line.querySelector("time");
  if (!time || Math.abs(Date.parse(time.dataset.due) - due_ms) > 2000) {
    time = document.createElement("time");
    Object.assign(time.dataset, { clock: clock.name, due: new Date(due_ms).toISOString(), rings: "true" });
    time.dataset.overWords = clock.over_words;
    time.textContent = left((due_ms - runTime()) / 1000);
    line.replaceChildren(time, ` ${clock.words}`);
  }
}
