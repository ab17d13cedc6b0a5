// Sends what waits, one at a time and in order; what nobody took is tried again, ever more slowly.

import { asSent, queue, refuse, taken, waiting } from "./queue.js";
import { post, read } from "./talk.js";

const SLOWEST_MS = 15000;
export const sender = new EventTarget(); // says "taken", "review", "refused", "stopped", "unreached"
const say = (what, detail) => sender.dispatchEvent(new CustomEvent(what, { detail }));

let stopped = null; // why nothing is sent: somebody must sign in
let working = false;
let again = false;
let failures = 0;
let timer = 0;

export const isForbidden = () => stopped?.status === 403;

// Somebody answers, or has signed in: what waits is sent at once. Who may not carry it is asked only when another has come.
export function goOn({ signedIn = false } = {}) {
  if (!isForbidden() || signedIn) stopped = null;
  failures = 0;
  return sendAll();
}

async function sendAll() {
  again = true;
  if (working || stopped) return;
  working = true;
  clearTimeout(timer);
  try {
    while (again && !stopped) {
      again = false;
      await alone(sendInOrder);
    }
  } finally {
    working = false;
  }
}

// Two pages on one tablet take turns, where the browser can tell; where it cannot, the keys still count each entry once.
const alone = (work) => (navigator.locks ? navigator.locks.request("plasmawright-sending", work) : work());

async function sendInOrder() {
  for (let next; !stopped && ([next] = await waiting()) && next; ) {
    const headers = { "Content-Type": "application/json", "Idempotency-Key": next.key };
    const answer = await post(`/api/runs/${next.run}/entries`, headers, asSent(next));
    if (!(await settle(next, answer))) return;
  }
}

// Gives whether the next entry may be sent.
async function settle(one, { status, text }) {
  if (status === 201 || status === 409) {
    failures = 0;
    await taken(one);
    say(status === 409 ? "review" : "taken", one);
    return true;
  }
  if ([400, 404, 413, 422].includes(status)) {
    const why = read(text) ?? [{ field: "entry", value: status, limit: "it was not taken", remedy: "Enter it anew." }];
    await refuse(one, why);
    say("refused", { ...one, refused: why });
    return true;
  }
  if (status === 401 || status === 403) {
    stopped = { status, why: read(text) ?? [], by: one.name };
    say("stopped", stopped);
    return false;
  }
  failures += 1;
  again = false;
  timer = setTimeout(sendAll, Math.min(1000 * 2 ** (failures - 1), SLOWEST_MS));
  say("unreached", one);
  return false;
}

queue.addEventListener("changed", sendAll);
