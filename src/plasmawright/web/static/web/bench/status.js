// What the page says of itself: whether anybody answers, how much waits, and what was refused and why.

import { live } from "./talk.js";
import { queue, refused, taken, waiting } from "./queue.js";

let reached = true;
let told = "";

const count = (number) => (number === 1 ? "1 entry waits to be sent" : `${number} entries wait to be sent`);

export async function showWaiting() {
  const number = (await waiting()).length;
  const parts = [];
  if (!reached) parts.push("Nobody answers: the page stands still, taps are kept here.");
  if (number > 0) parts.push(`${count(number)}.`);
  if (told) parts.push(told);
  const line = document.getElementById("live-status");
  const words = parts.join(" ");
  if (line.textContent !== words) line.textContent = words;
  live().toggleAttribute("data-away", !reached);
  live().dataset.waiting = number;
  await showRefused();
}

export function showReached(answers) {
  const changed = reached !== answers;
  reached = answers;
  if (answers && changed) told = "";
  return showWaiting();
}

export function tell(words) {
  told = words;
  return showWaiting();
}

// A refused entry stays with its reasons until somebody has read them; what was typed still stands in its field.
async function showRefused() {
  const list = document.getElementById("live-refused");
  const found = await refused();
  const shown = [...list.children].map((row) => Number(row.dataset.seq));
  if (String(shown) === String(found.map((one) => one.seq))) return;
  list.replaceChildren(...found.map(row));
  list.hidden = found.length === 0;
}

function row(one) {
  const item = document.createElement("li");
  const read = document.createElement("button");
  item.dataset.seq = one.seq;
  const why = one.refused.map((found) => `${found.field} is ${found.value}; ${found.limit}. ${found.remedy}`).join(" ");
  item.append(`${one.entry.kind.replace("_", " ")} was not taken: ${why} `, read);
  Object.assign(read, { type: "button", className: "plain", textContent: "Read" });
  return item;
}

export function watchRefused() {
  document.getElementById("live-refused").addEventListener("click", async (event) => {
    const item = event.target.closest("button")?.closest("[data-seq]");
    const one = item && (await refused()).find((other) => other.seq === Number(item.dataset.seq));
    if (one) await taken(one);
    queue.dispatchEvent(new Event("changed"));
  });
}
