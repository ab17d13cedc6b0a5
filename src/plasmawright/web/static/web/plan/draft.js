// What is typed survives a reload, a lost connection and the back button. The reference is not kept: it points to a person.

import { addSite } from "./sites.js";
import { form } from "./talk.js";

const NOT_KEPT = new Set(["csrfmiddlewaretoken", "page", "patient.reference", "settled"]);
const key = () => `draft ${form().dataset.person}`;

// planned: whether a plan was asked for, so that it is asked for again.
export function keepDraft(planned) {
  const entries = [...new FormData(form())].filter(([name]) => !NOT_KEPT.has(name));
  sessionStorage.setItem(key(), JSON.stringify({ at: location.pathname, planned, entries }));
}

export function forgetDraft() {
  sessionStorage.removeItem(key());
}

// Gives whether a draft of this page was there whose plan is to be asked for again.
export function restoreDraft() {
  for (const other of Object.keys(sessionStorage)) {
    if (other.startsWith("draft ") && other !== key()) sessionStorage.removeItem(other);
  }
  const kept = JSON.parse(sessionStorage.getItem(key()) ?? "null");
  if (!kept || kept.at !== location.pathname) return false;
  const rows = kept.entries.filter(([name]) => /^sites\.\d+\.name$/.test(name)).length;
  while (document.querySelectorAll("#sites [data-site]").length < rows) addSite();
  for (const [name, value] of kept.entries) {
    const entry = form().elements.namedItem(name);
    if (entry) entry.value = value;
  }
  return kept.planned;
}
