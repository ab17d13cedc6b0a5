// Puts a fresh step in the place of the one shown; what is being typed and what has the focus stay.

// Gives whether there was a step in what came.
export function carryOver(text) {
  const fresh = new DOMParser().parseFromString(text, "text/html").getElementById("step");
  const here = document.getElementById("step");
  if (!fresh) return false;
  const typed = [...here.querySelectorAll("input, textarea, select")].filter(isTouched).map((field) => [name(field), field]);
  const has = document.activeElement;
  const focused = here.contains(has) ? (has.matches("[data-primary]") ? "[data-primary]" : has.id && `#${CSS.escape(has.id)}`) : "";
  const isAnother = here.dataset.step !== fresh.dataset.step;
  const opened = [...here.querySelectorAll("details[open][id]")].map((one) => one.id);
  here.replaceWith(fresh);
  window.htmx?.process(fresh);
  if (!isAnother) restore(fresh, typed, opened);
  if (focused) fresh.querySelector(focused)?.focus({ preventScroll: true });
  const title = fresh.querySelector("h1, h2")?.textContent.trim();
  const said = document.getElementById("said");
  if (isAnother && title && said) said.textContent = title;
  return true;
}

const isTouched = (field) => field.type !== "hidden" && "defaultValue" in field && field.value !== field.defaultValue;
const name = (field) => `${field.form?.dataset.measure ?? field.form?.id ?? ""} ${field.name}`;

// What the server has meanwhile told of a field stands over what was being typed into it.
function restore(fresh, typed, opened) {
  const kept = new Map(typed);
  for (const field of fresh.querySelectorAll("input, textarea, select")) {
    const before = kept.get(name(field));
    if (before && field.type !== "hidden" && field.defaultValue === before.defaultValue) field.value = before.value;
  }
  for (const id of opened) fresh.querySelector(`#${CSS.escape(id)}`)?.setAttribute("open", "");
}
