// The bench page alive: it shows where the run stands, takes taps whoever answers, and says what waits.

import { askAhead, forgetAhead, nextEntry, noteTaken, showAhead } from "./ahead.js";
import { watchAlarm } from "./alarm.js";
import { forgetClock, setClock } from "./clocks.js";
import { watchKeys } from "./keys.js";
import { beginKeeping, forgetPages, keepPage } from "./kept.js";
import { hidePin, showPin, watchPin } from "./pin.js";
import { keep, queue } from "./queue.js";
import { quiet } from "./ring.js";
import { goOn, isForbidden, sender } from "./send.js";
import { showReached, showWaiting, tell, watchRefused } from "./status.js";
import { carryOver } from "./swap.js";
import { ask, live } from "./talk.js";
import { entryHere, isBlocked, isFresh, watchTaps } from "./taps.js";

const POLL_MS = 2000;
const ANSWERS_WITHIN_MS = 4000;
const ENDS = new Set(["released", "discarded", "stopped"]);
const SIGN_IN = "Your session has ended. What you tap is kept. Sign in to send it.";
const step = () => document.getElementById("step");

let timer = 0;
let asking = false;
let askAgain = false;
let pressing = Promise.resolve();

// anew: ask for the step even where nothing has changed.
async function poll(anew = false) {
  clearTimeout(timer);
  askAgain = asking;
  if (asking) return;
  asking = true;
  const position = anew ? -1 : step().dataset.position;
  const answer = navigator.onLine
    ? await ask(`/bench/${live().dataset.run}/step/?position=${position}`, {}, ANSWERS_WITHIN_MS)
    : { status: 0, text: "" };
  asking = false;
  const reached = answer.status > 0 && answer.status < 500;
  showReached(reached);
  if (answer.status === 401) showPin(SIGN_IN);
  else if (answer.status === 200) await swap(answer.text);
  if (reached && answer.status !== 401) {
    if (!isForbidden()) hidePin();
    goOn();
  }
  if (!ENDS.has(step().dataset.step)) timer = setTimeout(poll, askAgain ? 0 : POLL_MS);
}

async function swap(text) {
  const before = step().dataset.position;
  if (!carryOver(text)) return;
  history.replaceState(null, "", `/bench/${live().dataset.run}/`); // a mishap that was told leads back to the run
  await shown(before !== step().dataset.position);
}

// What is to be done whenever a step is shown.
async function shown(isAnother) {
  const told = document.querySelector("#step [data-now], #step[data-now]")?.dataset.now;
  if (told) setClock(told);
  if (ENDS.has(step().dataset.step)) return ended();
  await showAhead();
  if (isAnother) prepare();
}

// Fetches what is needed should nobody answer later.
async function prepare() {
  const ahead = await askAhead();
  if (ahead) setClock(ahead.now, ahead.pace);
  await showAhead();
  await keepPage();
}

async function ended() {
  quiet();
  clearTimeout(timer);
  forgetAhead();
  forgetClock();
  await forgetPages();
}

// at: when it was pressed, on the page's own clock.
function press(at) {
  const button = step().querySelector("[data-primary]");
  if (!button || isBlocked(button) || !isFresh("primary", at)) return;
  pressing = pressing.then(async () => {
    const entry = await nextEntry();
    if (entry) await keep(entry, { primary: true });
  });
}

const hands = {
  next: press,
  redSeen: () => keepOnce("red_seen"),
  differs: () => keepOnce("differs"),
  stop: () => document.querySelector("[data-stop]")?.click(),
  scanned: (code) => keepOnce("scanned", { code }),
};

function keepOnce(kind, body = {}) {
  if (isFresh(`${kind} ${JSON.stringify(body)}`, performance.now())) keep(entryHere(kind, body));
}

async function begin() {
  watchTaps(press);
  watchKeys(hands);
  watchRefused();
  watchPin(() => poll(true));
  queue.addEventListener("changed", async () => (await showAhead(), await showWaiting()));
  sender.addEventListener("taken", async ({ detail }) => (noteTaken(detail), await poll()));
  sender.addEventListener("review", () => tell("The run had moved on: what you tapped is kept for review."));
  sender.addEventListener("unreached", () => showReached(false));
  sender.addEventListener("stopped", ({ detail }) => showPin(detail.status === 401 ? SIGN_IN : detail.why.map((one) => one.remedy).join(" ")));
  for (const [name, is] of [["online", true], ["offline", false]]) addEventListener(name, () => poll(is));
  addEventListener("pageshow", (event) => event.persisted && poll(true));
  document.addEventListener("visibilitychange", () => document.visibilityState === "visible" && poll(true));
  for (const form of document.querySelectorAll('form[action*="sign-out"]')) form.addEventListener("submit", forgetPages);
  watchAlarm();
  await showWaiting();
  await shown(true);
  goOn();
  timer = setTimeout(poll, POLL_MS);
  beginKeeping();
}

if (live() && step()) begin();
