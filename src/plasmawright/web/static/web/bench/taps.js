// Buttons and forms that hold an entry: what is tapped is kept on this tablet first, and sent from there.

import { keep } from "./queue.js";
import { live, read } from "./talk.js";

const BOUNCE_MS = 400;
const step = () => document.getElementById("step");
let last = { what: "", at: -Infinity };

// primary(at): what the one key does.
export function watchTaps(primary) {
  document.addEventListener("click", (event) => {
    const button = event.target.closest("button[data-entry], a[data-entry]");
    if (!button || !step()) return;
    event.preventDefault();
    if (button.matches("[data-primary]")) primary(event.timeStamp);
    else if (!isBlocked(button) && isFresh(button.dataset.entry, event.timeStamp)) keep(read(button.dataset.entry));
  });
  document.addEventListener("submit", (event) => {
    const form = event.target;
    if (!step() || !form.matches("[data-measure], form[data-entry]")) return;
    event.preventDefault();
    const entry = entryOf(form);
    if (isFresh(JSON.stringify(entry), event.timeStamp)) keep(entry);
  });
}

export const isBlocked = (button) => button.disabled || button.getAttribute("aria-disabled") === "true";

// A second tap on the same thing within the time a glove bounces is the first one.
export function isFresh(what, at) {
  const again = what === last.what && at - last.at <= BOUNCE_MS;
  last = { what, at };
  return !again;
}

export const entryHere = (kind, body = {}) => ({ kind, step: step().dataset.step, body });

function entryOf(form) {
  const told = form.dataset.entry ?? form.dataset.measure;
  const base = read(told) ?? {};
  const entry = { ...entryHere("measured", told && !base.kind ? { what: told } : {}), ...base };
  const body = { ...entry.body };
  for (const field of form.elements) {
    const value = valueOf(field);
    if (value === undefined || field.name === "csrfmiddlewaretoken" || field.name === "key") continue;
    if ("list" in field.dataset) body[field.name] = [...(body[field.name] ?? []), value];
    else body[field.name] = value;
  }
  return { kind: entry.kind, step: entry.step, body };
}

// What a field says, in the type it is of; nothing where nothing was entered.
function valueOf(field) {
  if (!field.name || field.disabled || ["BUTTON", "FIELDSET", "OUTPUT"].includes(field.tagName)) return undefined;
  if (field.name === "entry") return undefined;
  if (field.type === "checkbox" && field.value !== "on") return field.checked ? typed(field) : undefined;
  if (field.type === "checkbox") return field.checked;
  if (field.type === "radio" && !field.checked) return undefined;
  return field.value.trim() === "" ? undefined : typed(field);
}

function typed(field) {
  const text = field.value.trim().replace(",", ".");
  const isNumber = field.type === "number" || field.inputMode === "decimal" || field.inputMode === "numeric";
  const counts = isNumber || "number" in field.dataset || ["tube", "tubes", "position"].includes(field.name);
  return counts && !Number.isNaN(Number(text)) ? Number(text) : field.value.trim();
}

export const isOurs = () => live() !== null && step() !== null;
