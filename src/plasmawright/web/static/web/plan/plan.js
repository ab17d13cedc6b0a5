// The Plan page: single numbers at once, intervals when they are ready, nothing typed ever lost.

import { forgetDraft, keepDraft, restoreDraft } from "./draft.js";
import { isShown, show, showRefusals } from "./parts.js";
import { watchShelf } from "./shelf.js";
import { watchSites } from "./sites.js";
import { place, watchStop } from "./stop.js";
import { FAULT, SIGNED_OUT, UNREACHED, ask, form, newestOnly, post, say } from "./talk.js";

const QUIET_MS = 300; // intervals are asked for when the hand has come to rest
const POLL_MS = 150;
const CHOOSING = "Choosing the spins with 512 draws. This takes a few seconds.";
const WIDENING = "Working out the intervals.";

const NARROW = matchMedia("(max-width: 56rem)");

const margin = () => form().elements.namedItem("margin_mm");
const settled = () => form().elements.namedItem("settled");
let round = 0;
let resting = 0;
let saving = false; // nothing new is asked while what is shown is being kept
let wanted = "intervals"; // "choice" from the press of Plan until the choice has come

const unanswered = ({ status }) => quiet(status === 401 ? SIGNED_OUT : status >= 500 ? FAULT : UNREACHED);

const point = newestOnly(async (since, typing) => {
  const at = margin().value;
  const answer = await post(form().dataset.point);
  if (answer.status === 200) {
    show(answer.text);
    if (at !== margin().value) place(Number(margin().value));
    performance.measure("point", { start: since, end: performance.now() });
    rest();
  } else if (answer.status === 422) {
    if (!typing) showRefusals(answer.text);
  } else unanswered(answer);
});

function rest() {
  clearTimeout(resting);
  if (saving) return;
  round += 1;
  resting = setTimeout(intervals, QUIET_MS);
}

async function intervals() {
  const mine = ++round;
  const want = wanted;
  clearTimeout(resting);
  say(want === "choice" ? CHOOSING : WIDENING);
  if (want === "choice") document.getElementById("plan").textContent = "Choosing the spins…";
  const begun = await post(form().dataset.intervals, want === "choice" ? { want, settled: "" } : { want });
  if (begun.status === 422) {
    quiet();
    return showRefusals(begun.text);
  }
  if (begun.status !== 202) return unanswered(begun);
  await poll(JSON.parse(begun.text).told, () => mine === round, want);
}

function quiet(words = "") {
  say(words);
  document.getElementById("plan").textContent = "Plan";
}

async function poll(address, isNewest, want) {
  while (isNewest()) {
    const answer = await ask(address);
    if (!isNewest()) return;
    if (answer.status !== 200) return unanswered(answer);
    const { state, html } = JSON.parse(answer.text);
    if (state !== "working") return ended(state, html, want);
    await new Promise((go) => setTimeout(go, POLL_MS));
  }
}

function ended(state, html, want) {
  quiet(state === "failed" ? FAULT : "");
  if (state === "refused") showRefusals(html);
  if (state !== "done") return;
  show(html);
  wanted = "intervals";
  if (want === "choice" && NARROW.matches) toAnswer();
}

const toAnswer = () => document.getElementById("answer").scrollIntoView({ block: "start" });

function changed(since, typing = false) {
  keepDraft(isShown());
  if (isShown()) point(since, typing);
  else if (wanted === "choice") rest();
}

function choose() {
  margin().value = "";
  keepDraft(true);
  wanted = "choice";
  intervals();
}

function settle(text) {
  settled().value = text;
  const looks = JSON.parse(text).look;
  toAnswer();
  if (looks) intervals();
  else changed(performance.now());
}

async function save(event) {
  event.preventDefault();
  if (saving || !isShown()) return;
  saving = true;
  clearTimeout(resting);
  round += 1;
  say("Saving.");
  const answer = await post(form().dataset.save);
  saving = answer.status === 200;
  if (answer.status === 200) {
    forgetDraft();
    location.assign(JSON.parse(answer.text).saved);
  } else if (answer.status === 422) {
    quiet();
    showRefusals(answer.text);
  } else {
    unanswered(answer);
  }
}

watchSites(() => changed(performance.now()));
const planned = restoreDraft();
watchShelf(() => changed(performance.now()));
form().addEventListener("input", (event) => changed(event.timeStamp, true));
form().addEventListener("change", (event) => changed(event.timeStamp));
form().addEventListener("submit", save);
form().addEventListener("keydown", (event) => {
  if (event.key !== "Enter" || event.target.tagName !== "INPUT") return;
  event.preventDefault();
  if (isShown()) changed(event.timeStamp);
  else choose();
});
document.getElementById("plan").addEventListener("click", choose);
document.getElementById("answer").addEventListener("click", (event) => {
  const other = event.target.closest("[data-settle]");
  if (other) settle(other.dataset.settle);
});
watchStop(document.getElementById("answer"), (mm, since) => {
  margin().value = mm;
  changed(since);
});
if (planned || form().dataset.start !== undefined) {
  wanted = "choice";
  intervals();
}
