// What this page keeps in the browser, so that neither a reload nor the end of the program loses a stroke.
// Each tab has a seat of its own; a new tab starts with a copy of the plan that was kept last.
const PREFIX = "tilegen-desk:";
const MOST_SEATS = 20;
const channel = "BroadcastChannel" in window ? new BroadcastChannel("tilegen-desk") : null;
let seat = sessionStorage.getItem("seat") || newSeat();

function newSeat() {
  const name = `${Date.now().toString(36)}-${crypto.getRandomValues(new Uint32Array(1))[0].toString(36)}`;
  sessionStorage.setItem("seat", name);
  return name;
}

// A duplicated tab has the same seat: the one that was there first says so, and the other takes a new one.
channel?.addEventListener("message", (event) => {
  if (event.data.asks === seat && event.data.from !== me) channel.postMessage({ taken: seat, to: event.data.from });
  if (event.data.taken === seat && event.data.to === me) seat = newSeat();
});
const me = crypto.getRandomValues(new Uint32Array(1))[0];
channel?.postMessage({ asks: seat, from: me });

export function keep(state) {
  try {
    localStorage.setItem(PREFIX + seat, JSON.stringify({ ...state, when: Date.now() }));
  } catch {
    for (const key of seats().slice(1).map((found) => found.key)) localStorage.removeItem(key);
  }
}

function seats() {
  return Object.keys(localStorage)
    .filter((key) => key.startsWith(PREFIX))
    .map((key) => ({ key, state: read(key) }))
    .filter((found) => found.state)
    .sort((a, b) => b.state.when - a.state.when);
}

function read(key) {
  try {
    return JSON.parse(localStorage.getItem(key));
  } catch {
    return null;
  }
}

export function kept() {
  for (const old of seats().slice(MOST_SEATS)) localStorage.removeItem(old.key);
  return read(PREFIX + seat) || seats()[0]?.state || null;
}

// The steps to go back, one record each, in a database: they may be many.
function database() {
  return new Promise((resolve) => {
    const asked = indexedDB.open("tilegen-desk", 1);
    asked.onupgradeneeded = () => asked.result.createObjectStore("steps");
    asked.onsuccess = () => resolve(asked.result);
    asked.onerror = () => resolve(null);
  });
}
const opened = "indexedDB" in window ? database() : Promise.resolve(null);

export async function keepStep(number, text) {
  const base = await opened;
  base?.transaction("steps", "readwrite").objectStore("steps").put(text, [seat, number]);
}

export async function keptSteps(count) {
  const base = await opened;
  if (!base || !count) return [];
  return new Promise((resolve) => {
    const range = IDBKeyRange.bound([seat, 0], [seat, count - 1]);
    const asked = base.transaction("steps").objectStore("steps").getAll(range);
    asked.onsuccess = () => resolve(asked.result.length === count ? asked.result : []);
    asked.onerror = () => resolve([]);
  });
}
