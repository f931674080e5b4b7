// The desk: what is drawn goes to the program as edits; what comes back is shown. Nothing is worked out here.
import { here, takeOld, wait, waiting } from "/keep.js";
import { Sheet } from "/sheet.js";
import { Solid, readStl } from "/solid.js";

const $ = (id) => document.getElementById(id);
const EMPTY = 'name = "A plan of my own"\nscale = "10 ft"\ndrawing = """\n. . . . . . . . . .\n. . . . . . . . . .\n. . . . . . . . . .\n. . . . . . . . . .\n. . . . . . . . . .\n. . . . . . . . . .\n. . . . . . . . . .\n"""\n';
const MOST_ACROSS = 200;
const HINTS = {
  paint: "Drag over squares to make them the room chosen.", block: "Drag from corner to corner, also past the sheet: it grows. By keyboard, Enter at both corners.",
  clear: "Drag over squares to make them solid ground again.", way: "Click a wall to put a way through it; click again to remove it.",
  wall: "Click a line inside a room to add a wall; click again to remove it.", sight: "Click a square to see what is seen from there.",
  circle: "Drag from the centre outwards; by keyboard, Enter at the centre and at the edge. To remove it, open Rooms.",
  hall: "Drag from end to end, at any angle; by keyboard, Enter at both ends. To remove it, open Rooms.",
  feature: "Click a square to put one there (Size: one length, or two with a comma); click again to remove it.",
  move: "Drag the map; the wheel or two fingers zoom.",
};
const state = { text: EMPTY, queue: [], at: 0, n: 0, back: false, on: false, file: "", base: "", gesture: 0, tool: "paint", room: "A", figures: ["1 in", "2 in"], fitShown: -1, corner: null, spot: null, stroke: [], view: null, taking: null };
let sending = false, looking = true, away = false, alone = 0, tools = null;
const meshes = new Map();

const sheet = new Sheet($("sheet"), { apply, moving: () => state.tool === "move" });
const solid = new Solid($("solid"));

// ---- the program

async function ask(path, body) {
  const answer = await fetch(path, { method: "POST", headers: { "content-type": "application/json" }, body: JSON.stringify(body) });
  if (answer.headers.get("content-type")?.startsWith("application/json")) {
    const found = await answer.json();
    if (!answer.ok) throw Object.assign(new Error(words(found.error)), { told: true });
    return found;
  }
  if (!answer.ok) throw Object.assign(new Error(`the program has a bug here (${answer.status})`), { told: true });
  return answer;
}

function words(error) {
  if (!error) return "something is wrong";
  const text = error.place ? `${error.place}: ${error.text}` : error.text;
  return error.cure ? `${text}. ${error.cure}` : text;
}

// What is to be done waits here in order: edits, steps back and on, plans to open.
function edit(...edits) {
  for (const one of edits) enter({ edit: one });
  return flush();
}

function go(by) {
  if (state.queue.length || (by < 0 ? state.back : state.on)) enter({ go: by, said: by < 0 ? "One step back." : "One step on." });
  return flush();
}

// said: what to say when it is open; name: what to call it if it can't be opened.
function load(text, said, { name = "The plan", file = "", base = state.base } = {}) {
  enter({ open: text, said, name, file, base });
  return flush();
}

function enter(one) {
  state.n += 1;
  if (!one.edit) state.gesture += 1;
  state.queue.push({ n: state.n, gesture: state.gesture, ...one });
  remember();
}

function remember() {
  wait(state.queue);
  document.documentElement.dataset.pending = String(new Set(state.queue.map((q) => q.gesture)).size || (looking ? 1 : 0));
}

// What stands at the head of the queue: one step or plan, or all the edits up to the next of these.
function head() {
  const [first] = state.queue;
  if (first?.go) return ["/go", [first], { by: first.go }];
  if (first?.open !== undefined) return ["/open", [first], { open: first.open, file: first.file, base: first.base }];
  const until = state.queue.findIndex((q) => !q.edit);
  const batch = state.queue.slice(0, alone > 0 ? 1 : until < 0 ? undefined : until);
  return ["/edit", batch, { edits: batch.map((q) => q.edit), marks: batch.map((q) => q.gesture), same: batch.length > 0 && batch[0].gesture === state.lastGesture }];
}

// One request after another; what is done meanwhile waits, and follows the drawing if it grows.
async function flush(look = false) {
  looking ||= look;
  remember();
  if (sending) return;
  sending = true;
  while (state.queue.length || looking) {
    const [path, batch, what] = head();
    looking = false;
    alone = Math.max(alone - 1, 0);
    const began = performance.now();
    const now = { text: state.text, figures: state.figures, seat: here(), at: state.at, n: batch.at(-1)?.n || 0, file: state.file, base: state.base };
    try {
      const answer = await ask(path, { ...now, ...what });
      if (away) { away = false; trouble(""); }
      answered(path, batch, answer);
    } catch (error) {
      if (error instanceof TypeError && !error.told && !batch.answered) {
        trouble("The desk's program does not answer. What you draw is kept in this browser; it goes on as soon as the program is back.");
        away = true;
        sending = false;
        setTimeout(() => flush(true), 1500);
        return;
      }
      refused(path, batch, error.message);
    }
    document.documentElement.dataset.tookMs = String(Math.round(performance.now() - began));
    remember();
  }
  sending = false;
  if ($("save-always").checked && state.file && !state.saved && state.view?.ok) save();
}

function answered(path, batch, answer) {
  const [west, north] = answer.grown, other = path === "/open", last = batch.at(-1), refit = other || (path === "/go" && sheet.fitted);
  batch.answered = true;
  state.queue = state.queue.slice(batch.length);
  if (west || north) { shiftQueue(west, north); sheet.grown(west, north); }
  state.lastGesture = path === "/edit" ? last?.gesture ?? state.lastGesture : null;
  if (other) { sheet.view = null; state.base = last.base; }
  for (const key of ["text", "at", "back", "on", "file", "saved"]) state[key] = answer[key];
  take(answer);
  buttons();
  if (refit) sheet.whole();
  if (last?.said) say(last.said);
  if (answer.unkept) trouble(`This step can't be kept: ${answer.unkept}. Save your plan.`);
}

// One edit of a batch was refused: each is tried by itself, so that only the wrong one is lost.
function refused(path, batch, message) {
  if (batch.answered) { trouble(`The page has a bug here: ${message}. Your plan is kept; load the page again.`); return; }
  if (batch.length > 1) { alone = batch.length; return; }
  const [first] = batch;
  state.queue = state.queue.slice(batch.length);
  sheet.pending(pendingCells());
  if (path === "/open") trouble(`${first.name} can't be opened. ${message}.`);
  else if (first) say(`Not done: ${message}.`);
  else trouble(message);
}

function shiftQueue(west, north) {
  for (const { edit: one } of state.queue) {
    if (!one) continue;
    const on = ([x, y]) => [x + west, y + north];
    if (one.do === "shape") { if (one.circle) one.circle.centre = on(one.circle.centre); if (one.hall) { one.hall.start = on(one.hall.start); one.hall.end = on(one.hall.end); } }
    if (one.do === "point-way") one.at = on(one.at);
    if (one.to) one.to = on(one.to);
    if (one.cell) one.cell = [one.cell[0] + west, one.cell[1] + north];
    if (one.cells) one.cells = one.cells.map(([c, r]) => [c + west, r + north]);
  }
  state.stroke = state.stroke.map(([c, r]) => [c + west, r + north]);
  if (state.last) state.last = [state.last[0] + west, state.last[1] + north];
  if (state.spot) state.spot = [state.spot[0] + west, state.spot[1] + north];
  if (state.corner) state.corner = [state.corner[0] + west, state.corner[1] + north];
}

function buttons() {
  $("undo").disabled = !state.back;
  $("redo").disabled = !state.on;
  $("file").textContent = state.file ? `${state.file.split(/[\\/]/).pop()}${state.saved ? "" : ", not saved"}` : "";
  $("save-always-row").hidden = !state.file;
  if (!state.file) $("changed").hidden = true;
}

// ---- what came back

function take({ said, view }) {
  state.view = view;
  sheet.dark(null);
  sheet.show(view);
  sheet.pending(pendingCells());
  if (document.activeElement !== $("plan-name")) $("plan-name").value = view.name;
  roomsList(view);
  shapesList(view);
  measures(view);
  trouble(view.ok || view.empty ? "" : words(view.error));
  Object.assign(document.documentElement.dataset, { tiles: view.ok ? view.kit.totals.tiles : 0, kinds: view.ok ? view.kit.totals.types : 0 });
  kitTable(view);
  fitList(view);
  messagesList(view);
  if (said.length) say(`${said.join(", ")}.`);
  if (!$("solid").hidden) showSolid();
}

function pendingCells() {
  return state.queue.flatMap(({ edit: one }) => one?.cells || []).concat(state.stroke);
}

function trouble(text) {
  $("trouble").textContent = text;
  $("trouble").hidden = !text;
}

function say(text) {
  $("said").textContent = text;
}

function messagesList(view) {
  $("messages").replaceChildren(...(view.messages || []).map(({ place, text, cure }) => {
    const item = Object.assign(document.createElement("li"), { textContent: `To decide: ${place ? `${place}: ` : ""}${text}` });
    if (cure) item.append(Object.assign(document.createElement("pre"), { textContent: cure }));
    return item;
  }));
}

function kitTable(view) {
  const body = $("kit").tBodies[0];
  if (!view.ok) { body.replaceChildren(); $("kit-total").textContent = ""; return; }
  const { tiles, pieces, totals } = view.kit;
  $("kit-total").textContent = `${totals.tiles} tiles of ${totals.types} types`;
  body.replaceChildren(...[...tiles, ...pieces.map((p) => ({ ...p, key: "" }))].map((t) => {
    const row = document.createElement("tr");
    for (const value of [t.key, t.name, t.count]) row.append(Object.assign(document.createElement("td"), { textContent: value }));
    const look = Object.assign(document.createElement("button"), { type: "button", textContent: "see" });
    look.setAttribute("aria-label", `See ${t.name} in 3D`);
    look.addEventListener("click", () => tileSolid(t));
    const cell = document.createElement("td");
    cell.append(look);
    row.append(cell);
    return row;
  }));
}

function fitList(view) {
  const found = view.fit || [];
  $("fit").replaceChildren(...state.figures.map((word, k) => {
    const item = document.createElement("li"), record = found[k], head = document.createElement("div");
    head.className = "row";
    const shown = state.fitShown === k;
    const pick = Object.assign(document.createElement("button"), { type: "button", textContent: `${word} base` });
    pick.setAttribute("aria-pressed", String(shown));
    pick.addEventListener("click", () => { state.fitShown = shown ? -1 : k; fitList(state.view); });
    const away = Object.assign(document.createElement("button"), { type: "button", textContent: "Remove" });
    away.setAttribute("aria-label", `Remove the ${word} base`);
    away.addEventListener("click", () => { state.figures.splice(k, 1); state.fitShown = -1; flush(true); });
    head.append(pick, away);
    item.append(head);
    const verdict = document.createElement("span");
    if (record?.wrong) Object.assign(verdict, { className: "no", textContent: record.wrong });
    else if (record) {
      const no = record.positions - record.stands;
      const apart = [...new Set(record.unreached.map((p) => p.title || p.room))];
      verdict.className = no || apart.length || !record.positions ? "no" : "yes";
      const places = no ? `Fits in ${record.stands} of ${record.positions} places` : `Fits in all ${record.positions} places`;
      verdict.textContent = record.positions ? `${places}${apart.length ? `, but can't reach all of: ${apart.join(", ")}` : ""}.` : "No place is large enough.";
    } else verdict.textContent = view.ok ? "One moment." : view.empty ? "Draw a room to see who fits." : "Fix the plan first: see the message above.";
    item.append(verdict);
    return item;
  }));
  sheet.fit(state.fitShown >= 0 && !found[state.fitShown]?.wrong ? found[state.fitShown] : null);
}

function roomsList(view) {
  const all = view.rows.join("").replace(/\./g, "") + view.outlines.map((shape) => shape.room).join("");
  const letters = [...new Set(all)].sort();
  if (state.room && !letters.includes(state.room)) letters.push(state.room);
  const chosen = $("room");
  chosen.replaceChildren(...letters.map((room) => Object.assign(document.createElement("option"), { value: room, textContent: view.titles[room] ? `${room}: ${view.titles[room]}` : room })));
  chosen.value = state.room;
  if ($("rooms").contains(document.activeElement)) return;
  $("rooms").replaceChildren(...letters.filter((room) => all.includes(room)).map((room) => {
    const item = document.createElement("li"), label = document.createElement("label");
    const input = Object.assign(document.createElement("input"), { value: view.titles[room] || "", maxLength: 80, placeholder: "title" });
    label.className = "choice";
    label.append(`Room ${room}`, input);
    input.addEventListener("change", () => { state.gesture += 1; edit({ do: "title", room, title: input.value.trim() }); });
    item.append(label);
    return item;
  }));
}

function shapesList(view) {
  $("shapes").replaceChildren(...view.outlines.map(({ room, form }, index) => {
    const item = document.createElement("li"), row = document.createElement("div"), name = `${form || "shape"} ${index + 1} of room ${room}`;
    const away = Object.assign(document.createElement("button"), { type: "button", textContent: "Take away" });
    row.className = "row";
    away.setAttribute("aria-label", `Take away ${name}`);
    away.addEventListener("click", () => { if (busy()) return; state.gesture += 1; edit({ do: "shape-away", index }); say(`Removed: ${name}.`); });
    row.append(name, away);
    item.append(row);
    return item;
  }));
}

// What is named by its number waits until the numbers are those that are shown.
function busy() {
  if (!state.queue.length && !sending) return false;
  say("One moment: the last change is still being made.");
  return true;
}

function measures(view) {
  $("scale").value = view.scale;
  for (const input of document.querySelectorAll("[data-measure]")) if (input !== document.activeElement) input.value = view.measures[input.dataset.measure] || "";
  for (const select of document.querySelectorAll("[data-choice]")) select.value = view.choices[select.dataset.choice] || "fixed";
}

// ---- drawing

function choose(tool) {
  state.tool = tool;
  state.corner = null;
  state.spot = null;
  sheet.draft(tool, null);
  sheet.points = tool === "circle" || tool === "hall";
  sheet.lines = tool === "way" || tool === "wall";
  if (!sheet.lines && !sheet.points) sheet.cursor = sheet.cursor.map((v) => v - (v % 2));
  for (const button of document.querySelectorAll("[data-tool]")) button.setAttribute("aria-pressed", String(button.dataset.tool === tool));
  for (const option of document.querySelectorAll("[data-for]")) option.hidden = !option.dataset.for.split(" ").includes(tool);
  $("hint").textContent = HINTS[tool];
  sheet.drawCursor();
}

function apply(target, phase) {
  const { tool } = state;
  if (phase === "start") { state.gesture += 1; state.early = state.queue.some((q) => !q.edit) && busy(); }
  if (state.early) return;
  if (phase === "cancel") { state.stroke = []; state.corner = null; state.spot = null; sheet.pending([]); sheet.drawCursor(); return; }
  if (tool === "paint" || tool === "clear") paint(target.cell, phase);
  else if (tool === "block") block(target.cell, phase);
  else if (tool === "circle" || tool === "hall") shape(target.spot, phase);
  else if (phase !== "start") return;
  else if (tool === "feature") feature(target.cell);
  else if (tool === "way") way(target);
  else if (tool === "wall") wall(target);
  else if (tool === "sight") sight(target.cell);
}

function paint(cell, phase) {
  if (phase === "start") { state.stroke = []; state.last = cell; }
  if (phase === "end") { state.stroke = []; return; }
  const fresh = between(state.last, cell).filter(([c, r]) => !state.stroke.some((s) => s[0] === c && s[1] === r));
  state.last = cell;
  if (!fresh.length) return;
  state.stroke.push(...fresh);
  sheet.pending(pendingCells());
  edit({ do: "paint", cells: fresh, room: state.tool === "clear" ? "." : state.room });
}

function between([a, b], [c, d]) {
  const n = Math.max(Math.abs(c - a), Math.abs(d - b), 1);
  return Array.from({ length: n + 1 }, (_, k) => [Math.round(a + (c - a) * k / n), Math.round(b + (d - b) * k / n)]);
}

function block(cell, phase) {
  if (phase === "start") { state.corner = cell; return; }
  if (!state.corner) return;
  const cells = [], far = [0, 1].some((k) => Math.abs(cell[k] - state.corner[k]) >= MOST_ACROSS);
  if (far && phase === "drag") return;
  if (far) { state.corner = null; sheet.pending(pendingCells()); say(`Not done: a block of more than ${MOST_ACROSS} squares.`); return; }
  for (let r = Math.min(cell[1], state.corner[1]); r <= Math.max(cell[1], state.corner[1]); r += 1)
    for (let c = Math.min(cell[0], state.corner[0]); c <= Math.max(cell[0], state.corner[0]); c += 1) cells.push([c, r]);
  if (phase === "drag") { sheet.pending(cells); return; }
  state.corner = null;
  sheet.pending(cells);
  edit({ do: "paint", cells, room: state.room });
}

function shape(spot, phase) {
  const { tool } = state, width = Number($("hall-width").value) || 1;
  if (phase === "start") { state.spot = spot; sheet.draft(tool, spot, spot, width); return; }
  if (!state.spot) return;
  if (phase === "drag") { sheet.draft(tool, state.spot, spot, width); return; }
  const start = state.spot, far = Math.hypot(spot[0] - start[0], spot[1] - start[1]);
  state.spot = null;
  sheet.draft(tool, null);
  if (!far) { say(tool === "circle" ? "A circle needs a radius: drag from its centre outwards." : "A hall needs two ends: drag from one to the other."); return; }
  if (tool === "circle") edit({ do: "shape", room: state.room, circle: { centre: start, radius: Math.max(Math.round(far * 2) / 2, 0.5) } });
  else edit({ do: "shape", room: state.room, hall: { start, end: spot, width } });
  say(`A ${tool} of room ${state.room}.`);
}

// A field for each key that the chosen kind of feature takes.
function featureFields() {
  $("feature-values").replaceChildren(...Object.entries(tools.features[$("feature-kind").value]).map(([key, { takes, says }]) => {
    const field = document.createElement(takes === "side" ? "select" : "input");
    if (takes === "side") field.append(...["north", "east", "south", "west"].map((side) => new Option(side)));
    else if (takes === "yes") field.type = "checkbox";
    else Object.assign(field, { type: takes === "count" ? "number" : "text", min: 1, size: 7, maxLength: 20, placeholder: "usual" });
    field.dataset.key = key;
    const label = Object.assign(document.createElement("label"), { className: takes === "yes" ? "check" : "choice", title: says });
    label.append(`${key[0].toUpperCase()}${key.slice(1).replace("_", " ")} `, field);
    return label;
  }));
}

function feature(cell) {
  if (busy()) return undefined;
  const kind = $("feature-kind").value;
  const inside = (f) => [0, 1].every((k) => f.cell[k] <= cell[k] && cell[k] <= (f.to || f.cell)[k]);
  const index = state.view.features.findIndex((f) => f.kind === kind && inside(f));
  if (index >= 0) { edit({ do: "feature-away", index }); return say(`Removed: the ${kind}.`); }
  if (roomAt(cell) === ".") return say("That is solid ground: a feature stands on a floor.");
  const size = $("feature-size").value.split(",").map((text) => text.trim()).filter(Boolean).slice(0, 2);
  const values = Object.fromEntries([...$("feature-values").querySelectorAll("[data-key]")].map((field) => [field.dataset.key, { checkbox: field.checked, number: field.value && Number(field.value) }[field.type] ?? field.value.trim()]));
  edit({ do: "feature", kind, cell, size, values });
  return say(`A ${kind} in column ${cell[0]}, row ${cell[1]}.`);
}

const lineOf = (cell, side) => (side === "north" || side === "south" ? `a${cell[0]},${cell[1] + (side === "south")}` : `d${cell[0] + (side === "east")},${cell[1]}`);
const roomAt = ([c, r]) => (state.view?.floor || state.view?.rows)?.[r - 1]?.[c - 1] || ".";
const beyond = ([c, r], side) => ({ north: [c, r - 1], south: [c, r + 1], west: [c - 1, r], east: [c + 1, r] })[side];

function way({ cell, side }) {
  if (!side) return say("Choose a side: move to a line between two squares.");
  const line = lineOf(cell, side), there = state.view.ways.find((w) => w.cell && lineOf(w.cell, w.side) === line);
  const [kind, leaf, head, width, height] = ["kind", "leaf", "head", "width", "height"].map((name) => $(`way-${name}`).value.trim());
  const now = there && [there.kind, there.leaf || "none", there.head || "flat", there.width || "", there.height || ""];
  const same = now && String(now) === String([kind, leaf, head, width, height]);
  if (same) { edit({ do: "way", cell, side, kind: null }); return say("Way removed."); }
  const rooms = [roomAt(cell), roomAt(beyond(cell, side))], walled = state.view.walls.some((w) => lineOf(w.cell, w.side) === line);
  if (rooms[0] === rooms[1] && !walled) return say(rooms[0] === "." ? "There is no wall: both sides are solid ground." : "There is no wall between two squares of one room: add one first.");
  edit({ do: "way", cell, side, kind, ...(kind === "open" ? {} : { leaf, head, width, height }) });
  return say(`A way of kind ${kind}.`);
}

function wall({ cell, side }) {
  if (!side) return say("Choose a side: move to a line between two squares.");
  const line = lineOf(cell, side), stands = state.view.walls.some((w) => lineOf(w.cell, w.side) === line);
  const rooms = [roomAt(cell), roomAt(beyond(cell, side))];
  if (!stands && (rooms[0] !== rooms[1] || rooms[0] === ".")) return say(rooms[0] === rooms[1] ? "That is solid ground." : "A wall stands there already: the rooms differ.");
  edit({ do: "wall", cell, side, stands: !stands });
  return say(stands ? "Wall removed." : "Wall added.");
}

async function sight(cell) {
  try {
    const found = await ask("/sight", { text: state.text, cell, doors_open: $("doors-open").checked });
    sheet.dark(found);
    const seen = found.rows.join("").replace(/0/g, "").length;
    say(`From column ${cell[0]}, row ${cell[1]}: ${seen} squares in sight.`);
  } catch (error) { say(error.message); }
}

// ---- the keyboard

$("sheet").addEventListener("keydown", (event) => {
  const moves = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] };
  if (event.ctrlKey || event.metaKey || event.altKey) return;
  if (moves[event.key]) { event.preventDefault(); sheet.step(...moves[event.key]); if (state.spot) apply(sheet.target(), "drag"); if (event.shiftKey && (state.tool === "paint" || state.tool === "clear")) keyApply(); sheet.drawCursor(state.tool === "block" ? state.corner : null); tell(); return; }
  if (event.key === "Enter" || event.key === " ") { event.preventDefault(); keyApply(); return; }
  if (event.key === "Escape") { state.corner = null; state.spot = null; sheet.draft(state.tool, null); sheet.drawCursor(); say("Cancelled."); return; }
  if (event.key === "+" || event.key === "=") { sheet.zoom(0.8); return; }
  if (event.key === "-") { sheet.zoom(1.25); return; }
  if (/^[0-9]$/.test(event.key)) { choose(["feature", "paint", "block", "clear", "way", "wall", "sight", "move", "circle", "hall"][Number(event.key)]); say(`Tool: ${state.tool}.`); return; }
  if (/^\p{L}$/u.test(event.key)) { state.room = event.shiftKey ? event.key.toLowerCase() : event.key.toUpperCase(); roomsList(state.view); say(`Room ${state.room}.`); }
});

function keyApply() {
  const target = sheet.target();
  if (state.tool === "block") {
    if (!state.corner) { apply(target, "start"); say("First corner. Move to the other one and press Enter."); } else apply(target, "end");
    sheet.drawCursor(state.corner);
    return;
  }
  if (sheet.points) {
    if (state.spot) apply(target, "end");
    else { apply(target, "start"); say(state.tool === "circle" ? "The centre. Move to the edge and press Enter." : "One end. Move to the other and press Enter."); }
    return;
  }
  apply(target, "start");
  if (state.tool === "feature") return;
  if (state.tool === "paint" || state.tool === "clear") apply(target, "end");
  tell();
}

function tell() {
  if (sheet.points) { const { spot } = sheet.target(); return say(`${spot[0]} squares across, ${spot[1]} down.`); }
  const { cell, side } = sheet.target(), room = roomAt(cell), title = state.view?.titles[room];
  const where = `Column ${cell[0]}, row ${cell[1]}`;
  if (!side) return say(`${where}: ${room === "." ? "solid ground" : `room ${room}${title ? `, ${title}` : ""}`}.`);
  const line = lineOf(cell, side), there = state.view?.ways.find((w) => w.cell && lineOf(w.cell, w.side) === line);
  return say(`${where}, its ${side} side: ${there ? `way, ${there.kind}` : roomAt(cell) !== roomAt(beyond(cell, side)) || state.view?.walls.some((w) => lineOf(w.cell, w.side) === line) ? "wall" : "nothing"}.`);
}

document.addEventListener("keydown", (event) => {
  if (!(event.ctrlKey || event.metaKey)) return;
  const key = event.key.toLowerCase();
  if (key === "s") { event.preventDefault(); if (event.target.matches("input")) event.target.blur(); save(); }
  if (event.target.matches("input, textarea")) return;
  if (key === "z") { event.preventDefault(); go(event.shiftKey ? 1 : -1); }
  if (key === "y") { event.preventDefault(); go(1); }
});
$("tools").addEventListener("keydown", (event) => {
  const by = { ArrowRight: 1, ArrowLeft: -1 }[event.key];
  if (!by) return;
  const all = [...$("tools").querySelectorAll("button")];
  all[(all.indexOf(document.activeElement) + by + all.length) % all.length].focus();
});

// ---- solids

async function meshOf(id) {
  if (!meshes.has(id)) {
    const answer = await ask("/solid", { text: state.text, tile: id });
    const least = answer.headers.get("x-least").split(",").map(Number);
    meshes.set(id, { ...readStl(await answer.arrayBuffer()), least });
  }
  return meshes.get(id);
}

const atOrigin = new Float32Array([1, 0, 0, 0, 0, 1, 0, 0, 0, 0, 1, 0, 0, 0, 0, 1]);

async function tileSolid(tile) {
  const canvas = document.createElement("canvas");
  canvas.tabIndex = 0;
  canvas.setAttribute("aria-label", `${tile.name} in 3D. Arrow keys turn it, plus and minus zoom.`);
  openViewer(`${tile.name} (${tile.id})`, canvas);
  const viewer = new Solid(canvas);
  if (!viewer.works) return canvas.replaceWith("This browser can't show the plan in 3D (WebGL is off).");
  try { viewer.show([{ mesh: await meshOf(tile.id), lies: [atOrigin] }]); } catch (error) { canvas.replaceWith(error.message); }
  return undefined;
}

async function showSolid() {
  if (!state.view?.ok || !solid.works) return say(solid.works ? "Fix the plan first, then it shows in 3D." : "This browser can't show the plan in 3D (WebGL is off).");
  const view = state.view, lies = new Map();
  for (const [shape, a, b, c, d, e, f] of view.lie) {
    const one = view.shapes[shape];
    if (!lies.has(one.id)) lies.set(one.id, { loose: one.loose, list: [] });
    lies.get(one.id).list.push([a, b, c, d, e, f]);
  }
  try {
    const things = [];
    for (const [id, { loose, list }] of lies) {
      const mesh = await meshOf(id);
      if (state.view !== view) return undefined;
      const [x, y] = mesh.least, up = loose ? view.base_mm : 0;
      things.push({ mesh, loose, lies: list.map(([a, b, c, d, e, f]) => new Float32Array([a, -b, 0, 0, c, -d, 0, 0, 0, 0, 1, 0, a * x + c * y + e, -(b * x + d * y + f), up, 1])) });
    }
    solid.show(things);
    document.documentElement.dataset.solidShown = String(things.length);
  } catch (error) { say(error.message); }
  return undefined;
}

$("stand-up").addEventListener("click", () => {
  const up = $("solid").hidden;
  $("solid").hidden = !up;
  $("sheet").toggleAttribute("hidden", up);
  $("stand-up").setAttribute("aria-pressed", String(up));
  if (up) showSolid();
});

// ---- pictures and files

function openViewer(title, ...content) {
  $("viewer-title").textContent = title;
  $("viewer-body").replaceChildren(...content);
  if (!$("viewer").open) $("viewer").showModal();
}
$("viewer-close").addEventListener("click", () => $("viewer").close());

function wish() {
  const pair = tools.pairs[`${$("material").value}/${$("machine").value}`];
  return { materials: [$("material").value], machine: $("machine").value, printer: $("printer").value, paper: $("paper").value, accept: $("accept").checked && pair?.ask ? [pair.ask] : [] };
}

for (const button of document.querySelectorAll("[data-picture]")) button.addEventListener("click", async () => {
  openViewer("Working it out", "One moment.");
  try {
    const { pictures } = await ask("/picture", { text: state.text, picture: button.dataset.picture, wish: wish() });
    openViewer(button.textContent, ...pictures.map(({ name, svg }) => {
      const figure = document.createElement("figure"), image = document.createElement("img");
      image.src = URL.createObjectURL(new Blob([svg], { type: "image/svg+xml" }));
      image.alt = `Picture: ${name}`;
      figure.append(image, Object.assign(document.createElement("figcaption"), { textContent: name }));
      return figure;
    }));
  } catch (error) { openViewer("Not yet", error.message); }
});

$("take").addEventListener("click", async () => {
  try {
    const { name } = await ask("/take", { text: state.text, wish: wish() });
    state.taking = name;
    $("take").disabled = true;
    $("stop").hidden = false;
    const events = new EventSource(`/take/${name}`);
    events.addEventListener("stage", (event) => { $("progress").textContent = `Working: ${JSON.parse(event.data)} ...`; });
    events.addEventListener("outcome", (event) => {
      events.close();
      const { done, message } = JSON.parse(event.data);
      taken(done ? `Done: the files come as a zip.${message && ` To decide: ${message}`}` : `Not made: ${message}`);
      if (done) Object.assign(document.createElement("a"), { href: `/take/${name}/files.zip`, download: "tilegen-files.zip" }).click();
    });
    events.onerror = () => { events.close(); taken("The program does not answer."); };
  } catch (error) { taken(error.message); }
});

function taken(text) {
  $("progress").textContent = text;
  $("take").disabled = false;
  $("stop").hidden = true;
}

$("stop").addEventListener("click", async () => {
  if (state.taking) await ask(`/take/${state.taking}/stop`, {});
  taken("Stopped; nothing was made.");
});

// ---- choices

function fill(id, entries, chosen) {
  $(id).replaceChildren(...Object.entries(entries).map(([value, title]) => Object.assign(document.createElement("option"), { value, textContent: title })));
  if (chosen) $(id).value = chosen;
}

function cautions() {
  const pair = tools.pairs[`${$("material").value}/${$("machine").value}`];
  $("pair").hidden = pair.ok;
  $("pair").textContent = pair.why;
  $("accept-row").hidden = !pair.ask;
  $("accept-words").textContent = pair.ask ? `I have read this and accept the risk: ${pair.ask}` : "";
  $("accept").checked = false;
  $("cautions").replaceChildren(...[...pair.cautions, ...tools.printer_cautions[$("printer").value]].map((text) => Object.assign(document.createElement("li"), { textContent: text })));
}

function another() {
  const used = new Set(state.view.rows.join("") + state.view.outlines.map((one) => one.room).join(""));
  state.room = [..."ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789"].find((letter) => !used.has(letter)) || "A";
  roomsList(state.view);
  say(`Room ${state.room}.`);
}

for (const button of document.querySelectorAll("[data-tool]")) button.addEventListener("click", () => choose(button.dataset.tool));
$("undo").addEventListener("click", () => go(-1));
$("redo").addEventListener("click", () => go(1));
$("closer").addEventListener("click", () => sheet.zoom(0.75));
$("farther").addEventListener("click", () => sheet.zoom(1.33));
$("whole").addEventListener("click", () => sheet.whole());
$("room").addEventListener("change", () => { state.room = $("room").value; });
$("feature-kind").addEventListener("change", featureFields);
$("new-room").addEventListener("click", another);
$("sight-off").addEventListener("click", () => sheet.dark(null));
$("fresh").addEventListener("click", () => { state.room = "A"; load(EMPTY, "A new plan. Undo brings the old one back.", { name: "A new plan" }); });
$("plan-name").addEventListener("change", () => { state.gesture += 1; edit({ do: "name", name: $("plan-name").value.trim() || "A plan" }); });
$("scale").addEventListener("change", () => { state.gesture += 1; edit({ do: "scale", scale: $("scale").value }); });
for (const select of document.querySelectorAll("[data-choice]")) select.addEventListener("change", () => { state.gesture += 1; edit({ do: "choice", key: select.dataset.choice, value: select.value }); });
for (const input of document.querySelectorAll("[data-measure]")) input.addEventListener("change", () => { state.gesture += 1; edit({ do: "measure", key: input.dataset.measure, value: input.value.trim() }); });
$("figure-form").addEventListener("submit", (event) => {
  event.preventDefault();
  const word = $("figure").value.trim();
  if (word && !state.figures.includes(word) && state.figures.length < 6) { state.figures.push(word); $("figure").value = ""; flush(true); }
});
// Into the file that the desk was opened with; without one as a download. What is saved is what is shown.
async function save(over = false) {
  while (sending || state.queue.length) {
    if (away) { say("Not saved yet: the desk's program does not answer."); return; }
    await new Promise((done) => setTimeout(done, 20));
  }
  const { text, file } = state, name = file ? file.split(/[\\/]/).pop() : `${(state.view?.name || "plan").toLowerCase().replace(/[^a-z0-9]+/g, "-").replace(/^-|-$/g, "") || "plan"}.toml`;
  if (!file) {
    Object.assign(document.createElement("a"), { href: URL.createObjectURL(new Blob([text], { type: "text/plain" })), download: name }).click();
    say(`${name} saved.`);
    return;
  }
  try {
    const answer = await ask("/save", { text, seat: here(), file, base: state.base, over });
    $("changed").hidden = !answer.changed;
    if (answer.changed) return;
    state.base = answer.base;
    state.saved = state.text === text;
    buttons();
    say(answer.kept ? `${name} saved. What was there is kept as ${answer.kept}.` : `${name} saved.`);
  } catch (error) { trouble(`${name} was not saved: ${error.message}`); }
}
$("save").addEventListener("click", () => save());
$("save-over").addEventListener("click", () => save(true));
$("take-theirs").addEventListener("click", async () => {
  try {
    const { text, base, file } = await ask("/file", { text: "" });
    $("changed").hidden = true;
    load(text, "The file as it is on disk. Undo brings yours back.", { name: "The file", file, base });
  } catch (error) { trouble(error.message); }
});
$("open-file").addEventListener("change", async () => {
  const [file] = $("open-file").files;
  $("open-file").value = "";
  if (!file) return;
  try {
    load(new TextDecoder("utf-8", { fatal: true }).decode(await file.arrayBuffer()), `${file.name} opened.`, { name: file.name });
  } catch { trouble(`${file.name} can't be opened. It is not UTF-8 text; a plan is.`); }
});
for (const id of ["material", "machine", "printer"]) $(id).addEventListener("change", cautions);
$("look").addEventListener("change", () => { localStorage.setItem("tilegen-look", $("look").value); look(); });
matchMedia("(prefers-color-scheme: dark)").addEventListener("change", look);

function look() {
  const wanted = localStorage.getItem("tilegen-look") || "auto";
  $("look").value = wanted;
  const dark = wanted === "dark" || (wanted === "auto" && matchMedia("(prefers-color-scheme: dark)").matches);
  document.documentElement.dataset.look = dark ? "dark" : "light";
  solid.draw();
}

async function begin() {
  look();
  choose("paint");
  const old = takeOld();
  for (const { text, forget } of old) await ask("/open", { text: EMPTY, open: text }).then(forget, () => {});
  const { text, at, file, base, done, figures, said } = await ask("/draft", { text: "", seat: here() });
  Object.assign(state, { text: text || EMPTY, at, file, base, queue: waiting().filter((q) => q.n > done) });
  state.n = Math.max(done, ...state.queue.map((q) => q.n));
  state.gesture = Math.max(0, ...state.queue.map((q) => q.gesture));
  if (figures) state.figures = JSON.parse(figures);
  await flush(true);
  if (said) say(said);
  if (old.length) say("The plans that this browser kept are under Open an example.");
  const [{ plans }, found] = await Promise.all([fetch("/examples").then((r) => r.json()), fetch("/tools").then((r) => r.json())]);
  tools = found;
  fill("way-kind", tools.ways, "doorway");
  for (const plan of plans) $("examples").append(Object.assign(new Option(plan.name), { plan }));
  $("examples").addEventListener("focus", drawn);
  $("examples").addEventListener("change", () => {
    const { plan } = $("examples").selectedOptions[0];
    if (plan) load(plan.text, `${plan.name}: opened as a copy.`, { name: plan.name });
    $("examples").value = "";
  });
  await drawn();
  fill("material", tools.materials, "foam");
  fill("machine", tools.machines, "hand-knife");
  fill("printer", tools.printers, "fdm-220");
  fill("feature-kind", Object.fromEntries(Object.keys(tools.features).map((kind) => [kind, kind])), "pillar");
  featureFields();
  cautions();
  document.documentElement.dataset.ready = "yes";
}

// The plans that were drawn before, newest first, below those that come with the program.
async function drawn() {
  const shipped = [...$("examples").querySelectorAll(":scope > option")].map((option) => option.plan?.text);
  const { plans } = await fetch("/plans").then((r) => r.json()).catch(() => ({ plans: [] }));
  const date = new Intl.DateTimeFormat([], { dateStyle: "medium", timeStyle: "short" });
  const yours = plans.filter((plan) => plan.text !== EMPTY && !shipped.includes(plan.text));
  $("drawn").hidden = !yours.length;
  $("drawn").replaceChildren(...yours.map((plan) => Object.assign(new Option(`${plan.name}, ${date.format(plan.made * 1000)}`, `drawn-${plan.at}`), { plan })));
}
begin().catch((error) => trouble(error.message));
