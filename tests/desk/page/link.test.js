// The page's link to the program, against a program that loses answers, refuses and is away for a while.
import assert from "node:assert/strict";
import { beforeEach, test } from "node:test";

const memory = () => {
  const kept = new Map();
  return { kept, getItem: (key) => kept.get(key) ?? null, setItem: (key, value) => kept.set(key, String(value)), removeItem: (key) => kept.delete(key) };
};
Object.assign(globalThis, { window: globalThis, sessionStorage: memory(), localStorage: memory(), document: { documentElement: { dataset: {} } } });
// An open channel to other tabs would keep Node from ending.
delete globalThis.BroadcastChannel;
// The page waits a tenth as long before it asks again.
const usual = setTimeout;
globalThis.setTimeout = (go, ms) => usual(go, ms / 10);

const { changed, desk, fitOf, tilesOf, words } = await import("../page/link.js");

// A program that holds one row of letters, and answers as the real one does.
const program = { row: "", at: 1, done: 0, asked: [], fails: 0, loses: 0, refuses: "", breaks: "", begun: 0 };
const EMPTY = { name: "", scale: "10 ft", rows: ["."], letters: {}, shapes: [], ways: [], walls: [], features: [], empty: true };
const TOTALS = { tiles: 0, types: 0, pieces: 0 };

function answer(path, asked) {
  const step = { at: program.at, origin: [0, 0], grown: [0, 0], back: program.at > 1, on: false, file: "", saved: false, fault: null, said: [], refused: [], fresh: false, whole: true, unkept: "" };
  const plan = () => ({ ...EMPTY, rows: [program.row || "."] });
  if (path === "/begin") return { ...step, fresh: true, plan: plan(), done: program.done, figures: [], base: "" };
  if (path === "/look") return { at: asked.at, whole: true, answers: { fit: [], narrowest: null, kit: [], totals: TOTALS, pins: [] } };
  if (path === "/totals") return { at: asked.at, rows: {}, totals: {} };
  const refused = [];
  if ((asked.gestures || []).some(({ edits }) => edits.some((edit) => edit.room === program.breaks))) return null;
  if (asked.n > program.done) {
    for (const { gesture, edits } of asked.gestures || []) {
      if (edits.some((edit) => edit.room === program.refuses)) refused.push({ gesture, text: "no", place: "", cure: "" });
      else { program.row += edits.map((edit) => edit.room).join(""); program.at += 1; }
    }
    program.done = asked.n;
  }
  return { ...step, at: program.at, plan: plan(), refused };
}

globalThis.fetch = async (path, { body = "{}" } = {}) => {
  if (program.fails > 0) { program.fails -= 1; throw new TypeError("not there"); }
  const asked = JSON.parse(body), found = path === "/tools" ? {} : answer(path, asked);
  program.asked.push([path, asked]);
  if (found === null) return { ok: false, status: 500, headers: { get: () => "text/plain" } };
  if (path === "/edit" && program.loses > 0) { program.loses -= 1; throw new TypeError("lost on its way"); }
  return { ok: true, headers: { get: () => "application/json" }, json: async () => found };
};

const paint = (room) => ({ do: "paint", cells: [[1, 1]], room });

beforeEach(async () => {
  Object.assign(program, { row: "", at: 1, done: 0, fails: 0, loses: 0, refuses: "", breaks: "", asked: [] });
  localStorage.kept.clear();
  await desk.begin();
});

test("a change is put into what was known, and the rest stays the same object", () => {
  const old = { rows: ["a", "b", "c"], letters: { A: { box: [1, 2] }, B: 1 }, name: "x" };
  const found = changed(old, { "+": { rows: { from: 1, drop: 1, put: ["d", "e"] }, letters: { "+": { A: { "+": { box: { "=": [3] } }, "-": [] } }, "-": ["B"] } }, "-": [] });
  assert.deepEqual(found, { rows: ["a", "d", "e", "c"], letters: { A: { box: [3] } }, name: "x" });
  assert.equal(changed(old, null), old);
  assert.equal(changed(old, { "+": { name: { "=": "y" } }, "-": [] }).rows, old.rows);
});

test("places of a type that did not change are not made anew", () => {
  const wire = { at: 1, cell_mm: 63.5, turns: [[1, 0, 0, -1], [0, 1, 1, 0]], shapes: { P: { id: "P" }, Q: { id: "Q" } }, lie: { P: [0, 1, 2, 1, 3, 4], Q: [0, 5, 6] }, doors: null };
  const known = new Map(), first = tilesOf(wire, known);
  assert.deepEqual(first.lie, [[0, 1, 0, 0, -1, 1, 2], [0, 0, 1, 1, 0, 3, 4], [1, 1, 0, 0, -1, 5, 6]]);
  const second = tilesOf({ ...wire, lie: { P: wire.lie.P, Q: [1, 5, 6] } }, known);
  assert.equal(second.lie[0], first.lie[0]);
  assert.deepEqual(second.lie[2], [1, 0, 1, 1, 0, 5, 6]);
});

test("blocks of a figure are listed by their first space", () => {
  const found = fitOf({ blocks: ["s.b", "..s"], base_mm: 25.4, stops: [{ width_mm: 20, index: 3, widen: { width: "26 mm" } }] });
  assert.deepEqual(found.standing, [[1, 1], [3, 2]]);
  assert.deepEqual(found.blocked, [[3, 1]]);
  assert.deepEqual(found.stops[0].widen, [{ do: "way-change", index: 3, width: "26 mm" }]);
});

test("words of a fault", () => {
  assert.equal(words({ place: "line 3", text: "it is wrong", cure: "Mend it" }), "line 3: it is wrong. Mend it");
});

test("gestures drawn while an answer is awaited follow in order, each a step", async () => {
  const all = ["A", "B", "C"].map((room) => desk.edit(paint(room)));
  assert.deepEqual(desk.pending.map((edit) => edit.room), ["A", "B", "C"]);
  assert.deepEqual(await Promise.all(all), [{ ok: true }, { ok: true }, { ok: true }]);
  await desk.settled();
  assert.equal(desk.plan.rows[0], "ABC");
  assert.equal(desk.pending.length, 0);
  assert.equal(localStorage.kept.size, 0);
});

test("a lost answer is asked for again, and nothing is done twice", async () => {
  program.loses = 1;
  const done = desk.edit(paint("A"));
  assert.deepEqual(await done, { ok: true });
  assert.equal(program.row, "A");
  assert.equal(program.asked.filter(([path]) => path === "/edit").length, 2);
});

test("while the program is away all that is drawn is kept in the browser, and goes on by itself", async () => {
  const told = [], end = desk.on("away", (away) => told.push(away));
  program.fails = 1;
  const done = desk.edit(paint("A"));
  await new Promise((go) => usual(go, 50));
  assert.equal(JSON.parse([...localStorage.kept.values()][0]).queue[0].edits[0].room, "A");
  assert.deepEqual(await done, { ok: true });
  end();
  assert.deepEqual(told, [true, false]);
});

test("of several gestures only the wrong one is refused", async () => {
  program.refuses = "X";
  const told = [], end = desk.on("refused", (fault) => told.push(fault.edits[0].room));
  const first = desk.edit(paint("A")), wrong = desk.edit(paint("X")), last = desk.edit(paint("B"));
  assert.deepEqual(await first, { ok: true });
  assert.equal((await wrong).refused.text, "no");
  assert.deepEqual(await last, { ok: true });
  end();
  assert.deepEqual(told, ["X"]);
  assert.equal(desk.plan.rows[0], "AB");
});

test("of several gestures that the program breaks over, all but the one that breaks it are done, in order", async () => {
  program.breaks = "X";
  program.fails = 1;
  const all = ["A", "X", "B", "C"].map((room) => desk.edit(paint(room)));
  const outcomes = await Promise.all(all);
  assert.deepEqual(outcomes.map((one) => Boolean(one.ok)), [true, false, true, true]);
  await desk.settled();
  assert.equal(desk.plan.rows[0], "ABC");
  program.asked = [];
  await Promise.all(["D", "E"].map((room) => desk.edit(paint(room))));
  assert.ok(program.asked.filter(([path]) => path === "/edit").length <= 2, "and then together again");
});

test("what continues a gesture is sent as the same step", async () => {
  await desk.edit(paint("A"));
  await desk.edit(paint("B"), { goesOn: true });
  const sent = program.asked.filter(([path]) => path === "/edit").map(([, asked]) => asked.same);
  assert.deepEqual(sent, [false, true]);
});

test("a page that is loaded again sends what was not answered", async () => {
  const key = `tilegen-desk:${sessionStorage.getItem("seat")}`;
  localStorage.setItem(key, JSON.stringify({ queue: [{ n: 1, gesture: 1, origin: [0, 0], edits: [paint("A")], said: "" }, { n: 2, gesture: 2, origin: [0, 0], edits: [paint("B")], said: "" }] }));
  program.done = 1;
  await desk.begin();
  await desk.settled();
  assert.equal(program.row, "B");
});
