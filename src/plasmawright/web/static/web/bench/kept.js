// The running step's page is kept on this tablet, so that a reload shows it when nobody answers; no other page ever is.

import { live } from "./talk.js";

const CACHE = "plasmawright-bench";
const WAIT_MS = 8000;
const isAsset = (address) => new URL(address).pathname.startsWith("/static/");

// Over plain http a browser keeps nothing for us: then a reload needs the server.
export async function beginKeeping() {
  if (!("serviceWorker" in navigator)) return false;
  await navigator.serviceWorker.register("/bench/service-worker.js", { scope: "/bench/" });
  navigator.storage?.persist?.();
  return true;
}

export async function keepPage() {
  if (!("caches" in window)) return;
  const address = `/bench/${live().dataset.run}/`;
  try {
    const page = await fetch(address, { redirect: "manual", cache: "no-store", signal: AbortSignal.timeout(WAIT_MS) });
    if (page.status !== 200) return;
    const cache = await caches.open(CACHE);
    for (const kept of await cache.keys()) {
      if (!isAsset(kept.url) && new URL(kept.url).pathname !== address) await cache.delete(kept);
    }
    await Promise.all([...drawnWith()].map((asset) => keepAsset(cache, asset)));
    await cache.put(address, page);
  } catch {
    // Nobody answers: what was kept before stands.
  }
}

async function keepAsset(cache, asset) {
  if (!(await cache.match(asset, { ignoreVary: true }))) await cache.add(asset);
}

const drawnWith = () => {
  const asked = performance.getEntriesByType("resource").map((one) => one.name);
  return new Set(asked.filter((address) => new URL(address).origin === location.origin && isAsset(address)));
};

export async function forgetPages() {
  if ("caches" in window) await caches.delete(CACHE);
}
