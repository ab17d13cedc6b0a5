// Talking to the server from the bench: an answer, or status 0 when nobody answers and 401 when one must sign in again.

const WAIT_MS = 8000;
export const live = () => document.getElementById("bench-live");

export async function ask(address, how = {}, wait = WAIT_MS) {
  const given_up = new AbortController();
  const timer = setTimeout(() => given_up.abort(), wait);
  try {
    const more = { credentials: "same-origin", redirect: "manual", cache: "no-store", signal: given_up.signal };
    const answer = await fetch(address, { ...more, ...how });
    if (answer.type === "opaqueredirect") return { status: 401, text: "" };
    return { status: answer.status, text: await answer.text() };
  } catch {
    return { status: 0, text: "" };
  } finally {
    clearTimeout(timer);
  }
}

// Posts with the token of the session; one that another sign-in has made old is asked for anew, once.
export async function post(address, headers, body) {
  const send = () => ask(address, { method: "POST", headers: { ...headers, "X-CSRFToken": live().dataset.token }, body });
  const answer = await send();
  if (answer.status !== 403 || !answer.text.includes("X-CSRFToken")) return answer;
  const here = await whoIsHere();
  return here.status === 200 ? send() : here;
}

// Takes over who is signed in, and their token.
export async function whoIsHere() {
  const answer = await ask("/api/here/");
  if (answer.status === 200) {
    const { person, name, csrf_token: token } = JSON.parse(answer.text);
    Object.assign(live().dataset, { person, name, token });
    const shown = document.querySelector(".who")?.firstChild;
    if (shown) shown.textContent = `${name} `;
  }
  return answer;
}

export function read(text) {
  try {
    return JSON.parse(text);
  } catch {
    return null;
  }
}
