// Puts what came back in its place: parts of the plan by name, refusals beside their entries.

const pieces = (text) => new DOMParser().parseFromString(text, "text/html");

// Replaces the plan part by part, so that what has the focus, or is being dragged, stays.
export function show(text) {
  const fresh = pieces(text);
  const decision = document.getElementById("decision");
  for (const part of fresh.querySelectorAll("[data-part]")) {
    const here = decision.querySelector(`[data-part="${part.dataset.part}"]`);
    if (!here) {
      const opened = decision.querySelector("#reasons")?.open ?? false;
      decision.replaceChildren(...fresh.body.childNodes);
      const reasons = decision.querySelector("#reasons");
      if (reasons) reasons.open = opened;
      break;
    }
    for (const { name, value } of part.attributes) here.setAttribute(name, value);
    here.replaceChildren(...part.childNodes);
  }
  clearRefusals();
}

export const isShown = () => document.getElementById("decision-body") !== null;

export function clearRefusals() {
  for (const entry of document.querySelectorAll("#visit .entry.refused")) unmark(entry);
  const list = document.getElementById("refusals");
  list.hidden = true;
  list.replaceChildren();
}

// Takes the sentences of a refused form over into the form on the page, whose entries stay as they are.
export function showRefusals(text) {
  const fresh = pieces(text);
  clearRefusals();
  for (const refused of fresh.querySelectorAll("#visit .entry.refused")) {
    const here = document.getElementById(refused.id);
    if (here) mark(here, refused);
  }
  const list = document.getElementById("refusals");
  list.replaceChildren(...fresh.getElementById("refusals").childNodes);
  list.hidden = false;
}

const field = (entry) => entry.querySelector("input, select");

function mark(entry, refused) {
  entry.classList.add("refused");
  entry.append(refused.querySelector(".why"));
  field(entry).setAttribute("aria-invalid", "true");
  field(entry).setAttribute("aria-describedby", field(refused).getAttribute("aria-describedby"));
  const folded = entry.closest("details");
  if (folded) folded.open = true;
}

function unmark(entry) {
  entry.classList.remove("refused");
  entry.querySelector(".why")?.remove();
  field(entry).removeAttribute("aria-invalid");
  const unit = entry.querySelector(".unit");
  if (unit) field(entry).setAttribute("aria-describedby", unit.id);
  else field(entry).removeAttribute("aria-describedby");
}
