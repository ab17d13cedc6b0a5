// Answers for a server that is gone: the running step's page and what it is drawn with, as they were kept; nothing else.

const CACHE = "plasmawright-bench";
const WAIT_MS = 3000;
const SILENT_MS = 10000; // how long a server that did not answer is not waited for again
const KEPT_MS = 12 * 60 * 60 * 1000; // as long as a session lasts
let silent_until = 0;

const isRunning = (request) => request.mode === "navigate" && /^\/bench\/\d+\/$/.test(new URL(request.url).pathname);
const isAsset = (request) => new URL(request.url).pathname.startsWith("/static/");

addEventListener("install", (event) => event.waitUntil(skipWaiting()));
addEventListener("activate", (event) => event.waitUntil(clients.claim()));
addEventListener("fetch", (event) => {
  const { request } = event;
  if (request.method !== "GET" || new URL(request.url).origin !== location.origin) return;
  if (isRunning(request) || isAsset(request)) event.respondWith(answer(request));
});

async function answer(request) {
  const kept = await (await caches.open(CACHE)).match(request, { ignoreSearch: true, ignoreVary: true });
  if (!kept || (isRunning(request) && isOld(kept))) return fetch(request);
  if (Date.now() < silent_until) return kept;
  try {
    const fresh = await within(fetch(request), WAIT_MS);
    if (fresh.status >= 500) return kept;
    if (fresh.ok && isAsset(request)) await (await caches.open(CACHE)).put(request, fresh.clone());
    return fresh;
  } catch {
    silent_until = Date.now() + SILENT_MS;
    return kept;
  }
}

const isOld = (kept) => Date.now() - Date.parse(kept.headers.get("Date")) > KEPT_MS;
const within = (asked, wait_ms) =>
  Promise.race([asked, new Promise((_, give_up) => setTimeout(() => give_up(new Error("silent")), wait_ms))]);
