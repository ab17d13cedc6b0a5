// Entries as they were tapped, in order, each with a key of its own: whatever arrives twice is kept once.

import { add, all, drop, put } from "./store.js";
import { live } from "./talk.js";

export const queue = new EventTarget(); // says "changed"
const changed = () => queue.dispatchEvent(new Event("changed"));

// Pages over plain http have no randomUUID, only the numbers it is made of.
function freshKey() {
  if (crypto.randomUUID) return crypto.randomUUID();
  const numbers = crypto.getRandomValues(new Uint8Array(16));
  return Array.from(numbers, (one) => one.toString(16).padStart(2, "0")).join("");
}

// Keeps what was tapped, with who tapped it and when this tablet thinks it was.
// primary: whether it was the one key of the step, so that the page can go on from there.
export async function keep(entry, { primary = false } = {}) {
  const { run, person, name } = live().dataset;
  const position = Number(document.getElementById("step")?.dataset.position ?? 0);
  const tapped = { run, position, primary, by: person, name, key: freshKey(), tapped_ms: Date.now(), refused: null };
  await add({ ...tapped, entry });
  changed();
}

export const waiting = async () => (await all()).filter((one) => !one.refused);
export const refused = async () => (await all()).filter((one) => one.refused);

export async function taken(one) {
  await drop(one.seq);
  changed();
}

export async function refuse(one, why) {
  await put({ ...one, refused: why });
  changed();
}

const HELD_S_MAX = 7 * 24 * 60 * 60;

// The entry as it is sent. How long it was held does not depend on what this tablet's clock is set to.
export function asSent(one) {
  const held_s = Math.min(Math.max((Date.now() - one.tapped_ms) / 1000, 0), HELD_S_MAX);
  const device_at = new Date(one.tapped_ms).toISOString();
  return JSON.stringify({ ...one.entry, by: one.by, device_seq: one.seq, device_at, held_s });
}
