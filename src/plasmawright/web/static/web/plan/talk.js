// Talking to the server: the form as it stands goes out, a piece of the page comes back.

export const form = () => document.getElementById("visit");

// Posts the form. Gives { status, text }, or status 0 when nobody answered and 401 when one must sign in again.
export async function post(address, more = {}) {
  const body = new FormData(form());
  for (const [name, value] of Object.entries(more)) body.set(name, value);
  return ask(address, { method: "POST", body });
}

export async function ask(address, how = {}) {
  try {
    const answer = await fetch(address, { credentials: "same-origin", ...how });
    if (answer.redirected) return { status: 401, text: "" };
    return { status: answer.status, text: await answer.text() };
  } catch {
    return { status: 0, text: "" };
  }
}

// One question at a time: while an answer is awaited only the newest of the next questions is kept.
export function newestOnly(work) {
  let busy = false;
  let next = null;
  return async function run(...given) {
    if (busy) {
      next = given;
      return;
    }
    busy = true;
    try {
      await work(...given);
    } finally {
      busy = false;
    }
    if (next) {
      const again = next;
      next = null;
      await run(...again);
    }
  };
}

export function say(words) {
  const line = document.getElementById("doing-now");
  if (line.textContent !== words) line.textContent = words;
}

export const UNREACHED = "Nobody answers. What you typed is kept; try again.";
export const SIGNED_OUT = "You were signed out. What you typed is kept: sign in again in another tab, then go on.";
export const FAULT = "A fault of ours. Nothing is lost: press Plan once more.";
