// What was tapped and not yet taken, on this tablet's own disk: it outlives a reload, the browser and a flat battery.

const NAME = "plasmawright-bench";
const ENTRIES = "entries";
let opened = null;

function database() {
  opened ??= new Promise((resolve, reject) => {
    const asked = indexedDB.open(NAME, 1);
    asked.onupgradeneeded = () => asked.result.createObjectStore(ENTRIES, { keyPath: "seq", autoIncrement: true });
    asked.onsuccess = () => resolve(asked.result);
    asked.onerror = () => reject(asked.error);
  });
  return opened;
}

// Does one thing with the entries and waits until it is on the disk.
async function within(mode, work) {
  const change = (await database()).transaction(ENTRIES, mode, { durability: "strict" });
  const asked = work(change.objectStore(ENTRIES));
  await new Promise((resolve, reject) => {
    change.oncomplete = resolve;
    change.onerror = change.onabort = () => reject(change.error);
  });
  return asked.result;
}

// Gives the entry's place in this device's own count, which never goes back.
export const add = (entry) => within("readwrite", (entries) => entries.add(entry));
export const put = (entry) => within("readwrite", (entries) => entries.put(entry));
export const drop = (seq) => within("readwrite", (entries) => entries.delete(seq));
export const all = () => within("readonly", (entries) => entries.getAll());
