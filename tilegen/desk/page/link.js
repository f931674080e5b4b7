// @ts-check
// The page's one link to the program: what is drawn goes there as edits, what comes back is kept here and told to all.
// Nothing is worked out here but which tab this is, what waits, and how a change is put into what was known.
import { here, takeOld, wait, waiting } from "./keep.js";

/** @typedef {import("./types.js").Plan} Plan */
/** @typedef {import("./types.js").Tiles} Tiles */
/** @typedef {import("./types.js").Answers} Answers */
/** @typedef {import("./types.js").Spot} Spot */
/** @typedef {{ok: true} | {ok?: false, refused: import("./types.js").Fault}} Outcome */

const AGAIN_MS = 1500, TOTALS_MS = 600;

// ---- changes

/**
 * What was known with a change put into it; parts that are the same stay the same objects.
 * @param {any} old @param {any} change {"=": value}, {"+": {key: change}, "-": [keys]} or {from, drop, put} @returns {any}
 */
export function changed(old, change) {
  if (!change) return old;
  if ("=" in change) return change["="];
  if ("put" in change) return [...(old || []).slice(0, change.from), ...change.put, ...(old || []).slice(change.from + change.drop)];
  const found = { ...old };
  for (const key of change["-"] || []) delete found[key];
  for (const [key, one] of Object.entries(change["+"] || {})) found[key] = changed(found[key], one);
  return found;
}

/**
 * The tiles as the page draws them: from the types by id and, of each, turns and places.
 * @param {any} wire @param {Map<any, {number: number, list: any[]}>} known of each list of places what was made of it @returns {Tiles}
 */
export function tilesOf(wire, known) {
  /** @type {any[]} */
  const lie = [];
  const shapes = Object.keys(wire.shapes).map((id) => wire.shapes[id]), fresh = new Map();
  shapes.forEach((shape, number) => {
    const flat = wire.lie[shape.id] || [];
    let own = known.get(flat);
    if (!own || own.number !== number) own = { number, list: placesOf(number, flat, wire.turns) };
    fresh.set(flat, own);
    for (const one of own.list) lie.push(one);
  });
  known.clear();
  for (const [flat, own] of fresh) known.set(flat, own);
  return { at: wire.at, cell_mm: wire.cell_mm, wall_mm: wire.wall_mm, base_mm: wire.base_mm, shapes, lie, doors: wire.doors };
}

/** @param {number} number @param {number[]} flat @param {number[][]} turns @returns {any[]} */
function placesOf(number, flat, turns) {
  const list = [];
  for (let k = 0; k < flat.length; k += 3) list.push([number, ...turns[flat[k]], flat[k + 1], flat[k + 2]]);
  return list;
}

/**
 * A figure's answer; the places of its blocks are listed when they are first asked for.
 * @param {any} record @returns {import("./types.js").Fit}
 */
export function fitOf(record) {
  /** @param {string} sign */
  const listed = (sign) => {
    /** @type {[number, number][]} */
    const found = [];
    (record.blocks || []).forEach((/** @type {string} */ row, /** @type {number} */ r) => {
      for (let c = row.indexOf(sign); c >= 0; c = row.indexOf(sign, c + 1)) found.push([c + 1, r + 1]);
    });
    return found;
  };
  /** @type {any} */
  const lists = {};
  const stops = (record.stops || []).map((/** @type {any} */ stop) => ({
    ...stop,
    widen: stop.index === null ? null : [{ do: "way-change", index: stop.index, ...stop.widen }],
  }));
  return { ...record, stops, get standing() { return (lists.s ||= listed("s")); }, get blocked() { return (lists.b ||= listed("b")); } };
}

// ---- the store

/** @type {Record<string, Set<(detail: any) => void>>} */
const heard = {};
/** @type {any[]} */
let queue = [];
/** @type {Map<number, (outcome: Outcome) => void>} */
const promised = new Map();
const known = new Map();
/** @type {any} */
let wire = null, told = /** @type {any} */ (null);
let n = 0, gesture = 0, lastGesture = 0, base = "", sending = false, looking = false, away = false;
/** The last of the entries that go to the program one gesture at a time, since it broke over them together; 0: none. */
let singly = 0;
/** @type {Spot} */
let origin = [0, 0];
/** @type {ReturnType<typeof setTimeout> | undefined} */
let later;
/** @type {Promise<any> | null} */
let toolsAsked = null;

export const desk = {
  /** @type {Plan} */ plan: /** @type {any} */ (null),
  /** @type {Tiles | null} */ tiles: null,
  /** @type {Answers | null} */ answers: null,
  /** Materials, machines, printers, styles, kinds: all that the program knows; null until it has told. @type {any} */
  tools: null,
  /** The figures asked about. @type {string[]} */
  figures: ["1 in", "2 in"],
  /** What stands in the workshop; totals are for these. @type {any} */
  wish: null,
  /** Edits that the program has not answered, oldest first. @type {any[]} */
  get pending() {
    return queue.flatMap((one) => one.edits || []);
  },

  /**
   * @param {"plan" | "tiles" | "counts" | "answers" | "refused" | "said" | "away" | "unkept"} what @param {(detail: any) => void} fn
   * @returns {() => void} what ends it
   */
  on(what, fn) {
    (heard[what] ||= new Set()).add(fn);
    return () => heard[what].delete(fn);
  },

  /** What this tab begins with; resolves when it is shown. */
  async begin() {
    for (const { text, forget } of takeOld()) await post("/open", { open: text, at: 0 }).then(forget, () => {});
    const kept = waiting();
    const begun = await desk.ask("/begin", {});
    n = Math.max(begun.done, ...kept.map((/** @type {any} */ one) => one.n));
    queue = kept.filter((/** @type {any} */ one) => one.n > begun.done && (one.edits || one.go || one.open !== undefined));
    gesture = Math.max(0, ...queue.map((one) => one.gesture));
    if (begun.figures.length) desk.figures = begun.figures;
    base = begun.base;
    answered({ ...begun, fresh: true }, []);
    toolsAsked = fetch("/tools").then((answer) => answer.json()).then((found) => { desk.tools = found; tell("tools", found); });
    await flush(true);
    document.documentElement.dataset.ready = "yes";
  },

  /** Resolves when `tools` are there. */
  async toolsReady() {
    await toolsAsked;
    return desk.tools;
  },

  /**
   * One gesture, which is one step to undo. goesOn: it continues the last one (sliding, typing).
   * @param {any | any[]} edits @param {{said?: string, goesOn?: boolean}} how @returns {Promise<Outcome>}
   */
  edit(edits, { said = "", goesOn = false } = {}) {
    const list = [edits].flat();
    if (!list.length) return Promise.resolve({ ok: true });
    if (list[0].do === "larger") return setLarger(list[0].value || "");
    if (!goesOn || !gesture) gesture += 1;
    return enter({ edits: list, said });
  },

  undo() {
    return queue.length || desk.plan.back ? enter({ go: -1, said: "One step back." }) : Promise.resolve({ ok: true });
  },

  redo() {
    return queue.length || desk.plan.on ? enter({ go: 1, said: "One step on." }) : Promise.resolve({ ok: true });
  },

  /**
   * Another plan, which is the next step: undo brings the last one back. Without a text: an empty sheet.
   * @param {string} text @param {string} name what to call it if it can't be opened @param {{said?: string}} how
   */
  open(text, name = "The plan", { said = "" } = {}) {
    gesture += 1;
    return enter({ open: text, name, said });
  },

  /** A plan that was kept, by the number of its step. @param {number} at @param {string} name */
  reopen(at, name = "The plan") {
    gesture += 1;
    return enter({ open: "", step: at, name, said: "" });
  },

  /**
   * The plan into its file. changed: another program has changed that, and it stays as it is unless over.
   * @param {boolean} over @returns {Promise<{changed: boolean, kept?: string}>}
   */
  async save(over = false) {
    await desk.settled();
    const answer = await desk.ask("/save", { at: desk.plan.at, over, base });
    if (!answer.changed) {
      base = answer.base;
      desk.plan = { ...desk.plan, saved: answer.at === desk.plan.at };
      tell("plan", { grown: [0, 0], fresh: false });
    }
    return answer;
  },

  /** The file as it is on disk, in place of the plan; undo brings that back. */
  async takeTheirs() {
    const found = await desk.ask("/file", {});
    gesture += 1;
    return enter({ open: found.text, name: "The file", said: "The file as it is on disk.", own: true, base: found.base });
  },

  /** The plan as text, and a name for its file. @returns {Promise<{text: string, name: string}>} */
  async text() {
    await desk.settled();
    return fetch(`/text?at=${desk.plan.at}`).then((answer) => answer.json());
  },

  /** The plans that are kept: {at, made, name, tiles}, newest first. */
  plans() {
    return fetch("/plans").then((answer) => answer.json()).then((found) => found.plans);
  },

  /** Resolves when all that was drawn is answered. @returns {Promise<void>} */
  async settled() {
    while (sending || queue.length) await new Promise((done) => setTimeout(done, 15));
  },

  /** @param {string[]} words */
  setFigures(words) {
    desk.figures = [...new Set(words)].slice(0, 6);
    if (wire) wire.at = 0;
    return flush(true);
  },

  /** @param {any} wish materials, machine, printer, paper, units, accept */
  setWish(wish) {
    desk.wish = wish;
    askTotals();
  },

  /**
   * Anything else of the program; what it refuses is thrown, with fault.
   * @param {string} path @param {any} body @returns {Promise<any>}
   */
  ask(path, body) {
    const larger = body.wish && desk.plan?.larger ? { wish: { ...body.wish, pieces: desk.plan.larger } } : {};
    return post(path, { seat: here(), at: desk.plan?.at || 0, ...body, ...larger });
  },
};

/** @param {string} what @param {any} detail */
function tell(what, detail) {
  for (const fn of heard[what] || []) fn(detail);
}

/** @param {string} path @param {any} body */
async function post(path, body) {
  const answer = await fetch(path, { method: "POST", headers: { "content-type": "application/json" }, body: JSON.stringify(body) });
  const plain = answer.headers.get("content-type")?.startsWith("application/json");
  if (plain && answer.ok) return answer.json();
  if (answer.ok) return answer;
  const fault = plain ? (await answer.json()).error : { text: `the program has a fault here (${answer.status})`, place: "", cure: "" };
  throw Object.assign(new Error(words(fault)), { fault, status: answer.status });
}

/** A fault in words. @param {import("./types.js").Fault} fault */
export function words(fault) {
  const where = [fault.file === "the plan" ? "" : fault.file, fault.place].filter(Boolean).join(", "), text = where ? `${where}: ${fault.text}` : fault.text;
  return fault.cure ? `${text}. ${fault.cure}` : text;
}

// The floor covered with fewer, larger pieces is a wish, not a part of the plan: it is kept in the browser.
/** @param {string} value @returns {Promise<Outcome>} */
function setLarger(value) {
  try { localStorage.setItem("tilegen-larger", value); } catch { /* this page only */ }
  desk.plan = { ...desk.plan, larger: value };
  tell("plan", { grown: [0, 0], fresh: false });
  askTotals();
  return Promise.resolve({ ok: true });
}

// ---- what waits

/** @param {any} one @returns {Promise<any>} */
function enter(one) {
  n += 1;
  queue.push({ n, gesture, origin, ...one });
  remember();
  if (desk.answers) desk.answers = { ...desk.answers, stale: true };
  tell("answers", null);
  const outcome = new Promise((done) => promised.set(n, done));
  flush();
  return outcome;
}

function remember() {
  wait(queue);
  document.documentElement.dataset.pending = String(new Set(queue.map((one) => one.gesture)).size || (looking || sending ? 1 : 0));
}

// What stands at the head: one step or plan, or all the edits up to the next of these.
function head() {
  const [first] = queue;
  if (first.go) return { path: "/go", batch: [first], body: { by: first.go } };
  if (first.open !== undefined) return { path: "/open", batch: [first], body: { open: first.open, step: first.step || 0, own: Boolean(first.own) } };
  const until = queue.findIndex((one) => !one.edits || (singly && one.gesture !== first.gesture)), batch = queue.slice(0, until < 0 ? undefined : until);
  /** @type {any[]} */
  const gestures = [];
  for (const one of batch) {
    const last = gestures.at(-1);
    if (last && last.gesture === one.gesture && String(last.origin) === String(one.origin)) last.edits.push(...one.edits);
    else gestures.push({ gesture: one.gesture, origin: one.origin, edits: [...one.edits] });
  }
  return { path: "/edit", batch, body: { gestures, same: batch[0].gesture === lastGesture } };
}

// One request after another: what is drawn meanwhile waits; what is worked out is asked for when nothing waits.
async function flush(look = false) {
  looking ||= look;
  if (sending) { remember(); return; }
  sending = true;
  remember();
  try {
    while (queue.length || looking) {
      if (queue.length) await step();
      else await see();
    }
  } catch (error) {
    sending = false;
    remember();
    if (!(error instanceof TypeError)) throw error;
    if (!away) { away = true; tell("away", true); }
    setTimeout(() => flush(true), AGAIN_MS);
    return;
  }
  sending = false;
  remember();
  askTotals();
}

async function step() {
  const { path, batch, body } = head(), last = batch.at(-1), began = performance.now();
  let answer;
  try {
    answer = await desk.ask(path, { n: last.n, base: last.base || base, figures: desk.figures, ...body });
  } catch (error) {
    const { fault, status } = /** @type {any} */ (error);
    if (!fault) throw error;
    if (status >= 500 && batch.some((one) => one.gesture !== batch[0].gesture)) { singly = last.n; return; }
    answer = null;
    queue = queue.slice(batch.length);
    if (last.n >= singly) singly = 0;
    refuse(batch, path === "/open" ? { ...fault, text: `${last.name} can't be opened: ${fault.text}` } : fault);
  }
  back();
  if (!answer) return;
  document.documentElement.dataset.firstMs = String(Math.round(performance.now() - began));
  if (last.base) base = last.base;
  queue = queue.slice(batch.length);
  if (last.n >= singly) singly = 0;
  lastGesture = path === "/edit" ? last.gesture : 0;
  answered(answer, batch);
}

/** @param {any[]} batch @param {import("./types.js").Fault} fault */
function refuse(batch, fault) {
  tell("refused", { ...fault, words: words(fault), edits: batch.flatMap((one) => one.edits || []) });
  for (const one of batch) settle(one, { refused: fault });
}

/** @param {any} one @param {Outcome} outcome */
function settle(one, outcome) {
  promised.get(one.n)?.(outcome);
  promised.delete(one.n);
}

function back() {
  if (away) { away = false; tell("away", false); }
}

/** @param {any} answer @param {any[]} batch */
function answered(answer, batch) {
  desk.plan = answer.whole ? answer.plan : changed(desk.plan, answer.plan);
  for (const name of /** @type {const} */ (["shapes", "ways", "walls", "features"])) desk.plan[name].forEach((one, index) => { one.index = index; });
  for (const key of ["at", "back", "on", "file", "saved", "fault"]) if (key in answer) /** @type {any} */ (desk.plan)[key] = answer[key];
  desk.plan.larger = localStorage.getItem("tilegen-larger") || "";
  origin = answer.origin;
  looking = true;
  if (answer.fresh) { wire = null; desk.tiles = null; desk.answers = null; }
  tell("plan", { grown: answer.grown, fresh: Boolean(answer.fresh) });
  if (answer.counts && desk.answers) {
    // How many tiles is known at once; all else is worked out next.
    desk.answers = { ...desk.answers, totals: { ...desk.answers.totals, ...answer.counts } };
    Object.assign(document.documentElement.dataset, { tiles: answer.counts.tiles, kinds: answer.counts.types });
    tell("counts", null);
  }
  const wrong = new Map((answer.refused || []).map((/** @type {any} */ one) => [one.gesture, one]));
  for (const one of batch) {
    const fault = wrong.get(one.gesture);
    if (fault) refuse([one], fault);
    else settle(one, { ok: true });
  }
  const said = [...(batch.at(-1)?.said && !wrong.size ? [batch.at(-1).said] : []), ...answer.said];
  if (said.length) tell("said", said.join(" "));
  if (answer.unkept) tell("unkept", answer.unkept);
}

async function see() {
  looking = false;
  const began = performance.now();
  let found;
  try {
    found = await desk.ask("/look", { figures: desk.figures, have: wire?.at || 0 });
  } catch (error) {
    if (!(/** @type {any} */ (error).fault)) { looking = true; throw error; }
    tell("refused", { .../** @type {any} */ (error).fault, words: /** @type {any} */ (error).message, edits: [] });
    return;
  }
  back();
  if (queue.length || found.at !== desk.plan.at) { looking = true; return; }
  if (!found.tiles) wire = null;
  else {
    wire = found.whole ? found.tiles : changed(wire, found.tiles);
    wire.at = found.at;
    desk.tiles = tilesOf(wire, known);
    tell("tiles", null);
  }
  told = found.whole ? found.answers : changed(told, found.answers);
  desk.answers = { ...told, fit: told.fit.map(fitOf), at: found.at, stale: false };
  const { totals } = told;
  Object.assign(document.documentElement.dataset, { tiles: totals.tiles, kinds: totals.types, secondMs: Math.round(performance.now() - began) });
  tell("answers", null);
}

// Sheets, beds, hours and cost, when nothing has been drawn for a while.
function askTotals() {
  clearTimeout(later);
  later = setTimeout(async () => {
    const { answers, plan } = desk;
    if (!desk.wish || !answers || answers.stale || plan.empty || plan.fault) return;
    try {
      const found = await desk.ask("/totals", { wish: desk.wish });
      if (desk.answers && desk.answers.at === found.at) {
        const kit = desk.answers.kit.map((row) => (found.rows[row.id] ? { ...row, own: found.rows[row.id][0], make: found.rows[row.id][1] } : row));
        desk.answers = { ...desk.answers, kit, totals: { ...desk.answers.totals, ...found.totals } };
        tell("answers", null);
      }
    } catch { /* asked again after the next edit */ }
  }, TOTALS_MS);
}
