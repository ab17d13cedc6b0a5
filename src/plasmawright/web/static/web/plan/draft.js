// What is typed survives a reload, a lost connection and the back button. The reference is not kept: it points to a person.

import { addSite } from "./sites.js";
import { form } from "./talk.js";

const NOT_KEPT = new Set(["csrfmiddlewaretoken", "page", "patient.reference", "settled"]);
const key = () => `draft ${form().dataset.person}`;

export function keepDraft() {
  const entries = [...new FormData(form())].filter(([name]) => !NOT_KEPT.has(name));
  sessionStorage.setItem(key(), JSON.stringify({ at: location.pathname, entries }));
}

export function forgetDraft() {
  sessionStorage.removeItem(key());
}

// Gives whether a draft of this page was there to be taken up again.
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
  return true;
}
