// Which tab this is, and the gestures that the program has not answered yet. All else is kept by the program.
const PREFIX = "tilegen-desk:";
const channel = "BroadcastChannel" in window ? new BroadcastChannel("tilegen-desk") : null;
let seat = sessionStorage.getItem("seat") || newSeat();

function newSeat() {
  const name = `${Date.now().toString(36)}-${crypto.getRandomValues(new Uint32Array(1))[0].toString(36)}`;
  sessionStorage.setItem("seat", name);
  return name;
}

// A duplicated tab has the same seat: the one that was there first says so, and the other takes a new one.
const me = crypto.getRandomValues(new Uint32Array(1))[0];
channel?.addEventListener("message", (event) => {
  if (event.data.asks === seat && event.data.from !== me) channel.postMessage({ taken: seat, to: event.data.from });
  if (event.data.taken === seat && event.data.to === me) seat = newSeat();
});
channel?.postMessage({ asks: seat, from: me });

export const here = () => seat;

export function wait(queue) {
  try {
    if (queue.length) localStorage.setItem(PREFIX + seat, JSON.stringify({ queue }));
    else localStorage.removeItem(PREFIX + seat);
  } catch { /* a browser that keeps nothing: they wait in this page only */ }
}

export function waiting() {
  return read(PREFIX + seat)?.queue || [];
}

// Plans that an earlier version of the desk kept in the browser.
export function takeOld() {
  const keys = Object.keys(localStorage).filter((key) => key.startsWith(PREFIX) && read(key)?.text);
  return keys.map((key) => ({ text: read(key).text, forget: () => localStorage.removeItem(key) }));
}

function read(key) {
  try {
    return JSON.parse(localStorage.getItem(key));
  } catch {
    return null;
  }
}
