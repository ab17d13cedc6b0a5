// A session that ended while hands were busy: a PIN opens it again, and what was tapped keeps the name of who tapped it.

import { goOn } from "./send.js";
import { ask, live, read, whoIsHere } from "./talk.js";

const panel = () => document.getElementById("live-pin");

export function showPin(words) {
  document.getElementById("live-pin-why").textContent = words;
  if (!panel().hidden) return;
  panel().hidden = false;
  const chosen = panel().querySelector("select");
  const own = [...(chosen?.options ?? [])].find((option) => option.dataset.username === live().dataset.person);
  if (own) own.selected = true;
}

export function hidePin() {
  panel().hidden = true;
  document.getElementById("live-pin-refused").textContent = "";
}

// opened(): somebody has signed in.
export function watchPin(opened) {
  panel().querySelector("form")?.addEventListener("submit", async (event) => {
    event.preventDefault();
    const form = event.target;
    const body = new URLSearchParams(new FormData(form));
    body.set("csrfmiddlewaretoken", live().dataset.token);
    form.elements.namedItem("pin").value = "";
    const answer = await ask("/pin/", { method: "POST", body, headers: { Accept: "application/json" } });
    if (answer.status === 200) {
      live().dataset.token = read(answer.text).csrf_token;
      await whoIsHere();
      hidePin();
      await goOn({ signedIn: true });
      opened();
    } else {
      document.getElementById("live-pin-refused").textContent = refusalOf(answer);
    }
  });
}

function refusalOf({ status, text }) {
  if (status === 0) return "Nobody answers. Try again in a moment.";
  const found = read(text);
  if (Array.isArray(found)) return found.map((one) => `${one.field} is ${one.value}; ${one.limit}. ${one.remedy}`).join(" ");
  return "It was not taken. Sign in with your password instead.";
}
