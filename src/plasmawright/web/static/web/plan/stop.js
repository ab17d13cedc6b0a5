// The stop line: dragged, stepped by buttons, or moved by keys, always in half millimetres above the red.

const STEP_MM = 0.5;
const REACH_MM = 8; // how far from the line a finger may take hold of it
const KEYS = { ArrowUp: 1, ArrowRight: 1, ArrowDown: -1, ArrowLeft: -1, PageUp: 4, PageDown: -4 };

const picture = () => document.getElementById("tube-picture");
const number = (name) => Number(picture().getAttribute(name));
const now = () => number("aria-valuenow");

// Calls moved(mm, since) for every new place; since is when the hand moved.
export function watchStop(root, moved) {
  let held = null;

  const move = (mm, since) => {
    const next = Math.min(Math.max(Math.round(mm / STEP_MM) * STEP_MM, 0), number("aria-valuemax"));
    if (next === now()) return;
    place(next);
    moved(next, since);
  };

  root.addEventListener("pointerdown", (event) => {
    const svg = event.target.closest('#tube-picture[role="slider"]');
    if (!svg || Math.abs(heightAt(svg, event) - now()) > REACH_MM) return;
    held = event.pointerId;
    svg.setPointerCapture(held);
    svg.focus({ preventScroll: true });
    event.preventDefault();
  });
  root.addEventListener("pointermove", (event) => {
    if (event.pointerId === held) move(heightAt(picture(), event), event.timeStamp);
  });
  for (const end of ["pointerup", "pointercancel"]) {
    root.addEventListener(end, (event) => {
      if (event.pointerId === held) held = null;
    });
  }
  root.addEventListener("keydown", (event) => {
    if (!event.target.closest('#tube-picture[role="slider"]')) return;
    const to = { Home: 0, End: number("aria-valuemax") }[event.key] ?? now() + STEP_MM * (KEYS[event.key] ?? 0);
    if (!(event.key in KEYS) && event.key !== "Home" && event.key !== "End") return;
    event.preventDefault();
    move(to, event.timeStamp);
  });
  root.addEventListener("click", (event) => {
    const step = event.target.closest("[data-step]");
    if (step) move(now() + Number(step.dataset.step), event.timeStamp);
  });
}

// Moves the line at once; the numbers follow from the server.
export function place(mm) {
  const svg = picture();
  svg.setAttribute("aria-valuenow", mm);
  svg.setAttribute("aria-valuetext", `${mm} mm above the red you see`);
  svg.querySelector("#stop-line").setAttribute("transform", `translate(0 ${number("data-red-y") - mm})`);
  const told = document.querySelector("#decision .stop .mm");
  if (told) told.textContent = mm;
}

function heightAt(svg, event) {
  const at = new DOMPoint(event.clientX, event.clientY).matrixTransform(svg.getScreenCTM().inverse());
  return Number(svg.dataset.redY) - at.y;
}
