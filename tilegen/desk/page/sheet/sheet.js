// @ts-check
// The sheet: one pointer and things on squared paper. Puts together what the other modules of this folder do.
import { fitted, grown, pulled, toPlan, toScreen, zoomed } from "./camera.js";
import { Chip } from "./chip.js";
import { Hand } from "./hand.js";
import { hit, knobsOf, thingOf } from "./hit.js";
import { corners, drag, hover, movedBy, turned, turnedStamp } from "./intent.js";
import { Chunks, drawMark, drawPin, drawPlan, drawThing, nameFont, placeNames, thinned } from "./paint.js";
import { length } from "./lengths.js";
import { Scene, endsOf, lineKey, lineOf, placeOf, same, stepped } from "./scene.js";
import { STEP, freeLetter, joined, overlap } from "./squares.js";
import { Shelf } from "./shelf.js";

/**
 * @typedef {import("./squares.js").Point} Point
 * @typedef {import("./squares.js").Box} Box
 * @typedef {import("./squares.js").Side} Side
 * @typedef {import("./scene.js").Thing} Thing
 * @typedef {import("./intent.js").Intent} Intent
 * @typedef {import("./intent.js").Mark} Mark
 * @typedef {import("./paint.js").Inks} Inks
 * @typedef {{x: number, y: number, text: string, cure: string, ghost: [number, number, number, number]|null, edits: any[]|null}} Pin
 * @typedef {{image: CanvasImageSource & {width: number, height: number}, corners: [Point, Point], fade: number}} Underlay
 *   corners: where its north-west and its south-east corner lie, in cells; turned and scaled to fit both; fade: 0 as it is, 1 gone
 */

const INKS = ["ground", "dot", "floor", "shade", "line", "half", "wall", "name", "do", "doSoft", "fault", "faultSoft", "paper", "dark", "step", "leaf"];
const ARROWS = /** @type {Record<string, Side>} */ ({ ArrowUp: "north", ArrowRight: "east", ArrowDown: "south", ArrowLeft: "west" });
const FIRST_BOX = /** @type {Box} */ ([0, 0, 4, 3]);
const REFUSED_MS = 6000, DOCK_BELOW = 820, NUMBERS_FROM = 12;

export class Sheet {
  /**
   * @param {HTMLElement} element an empty box with a size and a position of its own; the sheet puts #sheet, its shelf, hint line and chip in it
   * @param {any} desk the store: what is drawn, and what takes edits. Keys for undo are the page's.
   */
  constructor(element, desk) {
    this.desk = desk;
    this.box = element;
    /** @type {import("./camera.js").Camera} */
    this.eye = { x: 0, y: 0, scale: 48 };
    /** @type {[number, number]} */
    this.size = [0, 0];
    this.dense = 1;
    this.armed = "room";
    this.quarters = 0;
    /** @type {"add"|"take"|"copy"|null} */
    this.adding = null;
    /** @type {Thing[]} */
    this.selection = [];
    this.leaf = ""; // the door chosen last, which the next doorway has too
    /** @type {Intent|null} */
    this.ghost = null;
    /** @type {{edits: any[], marks: Mark[], coming: import("./scene.js").Coming[], bad?: boolean}[]} */
    this.pending = [];
    /** @type {Pin[]} */
    this.allPins = [];
    /** @type {any} */
    this.fit = null;
    /** @type {Set<string>|null} */
    this.lit = null;
    /** @type {Underlay|null} */
    this.picture = null;
    /** @type {((at: Point) => void)|null} */
    this.picking = null;
    this.cursor = { c: 0, r: 0, side: /** @type {Side} */ ("east"), shown: false, was: false, from: /** @type {Point|null} */ (null) };
    /** @type {Record<string, ((detail: any) => void)[]>} */
    this.listeners = {};
    this.chunks = new Chunks();
    this.scene = new Scene(desk.plan, desk.tiles);
    /** @type {{letter: string, name: string, at: Point, size: number, box: Box, over?: boolean}[]} */
    this.names = [];
    /** @type {Inks} */
    this.ink = /** @type {any} */ ({});
    /** @type {{list: Pin[], found: (Pin & {index: number})[]}|null} */
    this.thin = null;
    /** @type {Pin|null} */
    this.opened = null;
    /** @type {{scene: Scene, scale: number, all: ReturnType<typeof placeNames>}|null} */
    this.placed = null; // the names, as long as neither plan nor scale change
    this.touch = false;
    this.followed = true; // whether the window goes on showing all of it
    this.words = ""; // of the hint while a point is picked
    this.named = ""; // the room whose name is being typed
    /** @type {Intent|null} */
    this.previewed = null; // the ghost that a button of the chip shows
    this.badUntil = 0;
    this.zoomedAt = 0;
    this.stateShown = "";
    this.due = 0;
    /** @type {any} */
    this.resting = 0;
    /** @type {any} */
    this.telling = 0;
    this.hand = new Hand(this);
    // The page's parts.
    const make = (/** @type {string} */ tag, /** @type {string} */ name) => { const found = document.createElement(tag); found.className = name; this.box.append(found); return found; };
    this.box.classList.add("sheet-box");
    this.stage = make("div", "sheet-stage");
    this.stage.id = "sheet";
    this.stage.tabIndex = 0;
    this.stage.setAttribute("role", "application");
    this.stage.setAttribute("aria-label", "Map");
    this.stage.setAttribute("aria-describedby", "sheet-keys");
    this.canvas = document.createElement("canvas");
    this.canvas.setAttribute("aria-hidden", "true");
    this.stage.append(this.canvas);
    this.pen = /** @type {CanvasRenderingContext2D} */ (this.canvas.getContext("2d", { alpha: false }));
    this.hint = make("p", "sheet-hint");
    this.hint.id = "sheet-hint";
    const keys = make("p", "sheet-unseen");
    keys.id = "sheet-keys";
    keys.textContent = "Arrow keys move the square cursor; towards a wall they turn it first. Enter begins a room and ends it, or selects the room below. D adds a doorway ahead. Comma and full stop walk through everything drawn. Shift and arrows move what is selected. F2 renames, R turns, Delete deletes. Plus and minus zoom, 0 shows all. Tab leaves the map.";
    this.said = make("p", "sheet-unseen");
    this.said.setAttribute("aria-live", "polite");
    this.shelf = new Shelf(make("div", ""), (tool) => { this.arm(this.armed === tool ? "room" : tool); this.stage.focus({ preventScroll: true }); }, {
      carried: (e) => this.hand.carried(this.#touchOf(e)),
      dropped: (e) => { if (this.#over(e)) this.hand.dropped(this.#touchOf(e)); else this.arm("room"); },
    });
    this.chip = new Chip(make("div", ""));
    this.naming = /** @type {HTMLInputElement} */ (make("input", "sheet-naming"));
    this.naming.hidden = true;
    this.naming.maxLength = 80;
    this.naming.setAttribute("aria-label", "Name of the room");
    this.bubble = make("div", "sheet-bubble");
    this.bubble.hidden = true;
    this.bubble.setAttribute("role", "group");
    this.bubble.setAttribute("aria-label", "What is wrong here");
    this.#inks();
    this.#listen();
    this.#replan();
    this.fitToWindow();
  }

  // ---- what the page asks for

  /** All of the drawing in the window. */
  fitToWindow() {
    const box = this.scene.empty ? this.ghostRoom : this.scene.box;
    if (this.size[0]) this.look(fitted(box || FIRST_BOX, this.size, { most: this.scene.empty ? 48 : 64 }));
    this.followed = true;
  }

  /** @param {number} by factor, about the middle of the window */
  zoom(by) { this.look(zoomed(this.eye, by, this.size[0] / 2, this.size[1] / 2)); }

  /** @param {string[]|null} ids of tile shapes that are to stand out; null: none */
  light(ids) { this.lit = ids?.length ? new Set(ids) : null; this.draw(); }

  /** @param {Pin[]} list what is wrong, where */
  pins(list) { this.allPins = (list || []).filter((pin) => pin.x !== null); this.draw(); }

  /** @param {any} record of a figure, as in the answers; null: none */
  showFit(record) { this.fit = record; this.draw(); }

  /** @param {Underlay|null} picture that lies under the drawing, to trace */
  underlay(picture) {
    const through = !!this.picture !== !!picture;
    this.picture = picture;
    if (through) this.chunks.spoil(null);
    this.draw();
  }

  /**
   * The next press gives a point instead of drawing: a corner of a picture underneath, a place to look from.
   * @param {string} words for the hint line @returns {Promise<Point|null>} in cells; null: Esc
   */
  pick(words) {
    this.picking?.(/** @type {any} */ (null));
    this.#hint(words);
    this.stage.style.cursor = "crosshair";
    this.words = words;
    return new Promise((resolve) => {
      this.picking = (at) => { this.picking = null; this.words = ""; this.hand.again(); resolve(at); };
    });
  }

  /** @param {Thing|Thing[]|null} thing */
  select(thing) {
    const wanted = (Array.isArray(thing) ? thing : thing ? [thing] : []).filter((t) => this.scene.holds(t));
    const changed = wanted.length !== this.selection.length || wanted.some((t, i) => !same(t, this.selection[i]));
    this.selection = wanted;
    if (changed) this.adding = null;
    if (changed) this.chip.near();
    this.#chip();
    this.draw();
    if (changed) this.#emit("select", wanted.length === 1 ? wanted[0] : null);
  }

  /** @param {"select"|"hover"|"view"} what @param {(detail: any) => void} fn select: the thing or null; hover: {thing, at}; view: the camera */
  on(what, fn) { (this.listeners[what] ||= []).push(fn); }

  /** @param {number} x @param {number} y @returns {Point} where a point in cells is in the window of the browser */
  screen(x, y) { const box = this.stage.getBoundingClientRect(), [px, py] = toScreen(this.eye, x, y); return [box.left + px, box.top + py]; }

  /** @param {string} tool from the shelf */
  arm(tool) {
    this.armed = tool;
    this.adding = null;
    this.quarters = 0;
    this.shelf.show(tool);
    if (tool !== "room") this.select(null);
    this.hand.again();
    if (!this.ghost) this.#hint(tool === "room" ? "" : hover(this.world(this.touch, noKeys()), toPlan(this.eye, -1e6, -1e6)).hint);
  }

  /** Esc: drops what is under way, else puts the tool back, else selects nothing. @returns {boolean} whether there was anything */
  escape() {
    if (!this.naming.hidden) { this.#endNaming(false); return true; }
    if (this.picking) { this.picking(/** @type {any} */ (null)); return true; }
    if (!this.bubble.hidden) { this.#closeBubble(); return true; }
    if (this.hand.drop()) return true;
    if (this.cursor.from) { this.cursor.from = null; this.#keyed(); return true; }
    if (this.adding) { this.adding = null; this.#chip(); this.hand.again(); this.draw(); return true; }
    if (this.armed !== "room") { this.arm("room"); return true; }
    if (this.selection.length) { this.select(null); this.hand.again(); return true; }
    return false;
  }

  // ---- the hand's host

  /** @param {boolean} touch @param {import("./intent.js").Keys} keys @returns {import("./intent.js").World} */
  world(touch, keys) {
    return {
      scene: this.scene, scale: this.eye.scale, touch, armed: this.armed, selection: this.selection, names: this.names, pins: this.shownPins(), keys, quarters: this.quarters,
      adding: this.adding, leaf: this.leaf, free: () => this.#free(), tools: this.desk.tools, ghostRoom: this.ghostRoom,
    };
  }

  /** @param {Intent|null} intent */
  show(intent) {
    this.ghost = intent;
    this.stage.style.cursor = this.picking ? "crosshair" : this.hand.state === "pull" || this.hand.pulling ? "grab" : intent?.look || "default";
    if (intent) { this.cursor.shown = false; this.#hint(intent.hint); } else if (this.picking) this.#hint(this.words || ""); else this.#hint("");
    this.draw();
  }

  /** @param {Intent} intent @param {import("./intent.js").Keys} keys */
  act(intent, keys) {
    this.#closeBubble();
    if (intent.pin !== undefined) { this.#openBubble(intent.pin); return; }
    if (intent.rename) { this.rename(intent.rename); return; }
    if (intent.edits?.length) {
      const used = this.armed, adding = this.adding;
      this.send(intent.edits, { ...intent, door: isWay(intent.edits[0]) });
      if (used !== "room" && !keys.shift) this.arm("room");
      if (adding && !keys.shift) { this.adding = null; this.#chip(); }
    } else if (intent.wrong) this.#say(intent.wrong);
    if (intent.select !== undefined) this.select(intent.select);
  }

  /** @param {import("./camera.js").Camera} eye */
  look(eye) {
    if (eye.scale !== this.eye.scale) { this.zoomedAt = performance.now(); this.thin = null; }
    this.eye = eye;
    this.followed = false;
    this.#placeChip();
    this.#placeNaming();
    this.draw();
    this.#emit("view", eye);
  }

  // ---- edits

  /**
   * Sends edits, and shows at once what they do.
   * @param {any[]} edits @param {{said?: string, marks?: Mark[], goesOn?: boolean, door?: boolean}} [how] door: a doorway is added, which is selected then
   */
  send(edits, how = {}) {
    const kept = { edits, marks: (how.marks || []).filter((m) => m.form !== "tag" && (m.form !== "cells" || edits[0].do !== "paint")), coming: comingOf(edits, how.marks || []), bad: false };
    this.pending.push(kept);
    this.badUntil = 0;
    this.#replan();
    Promise.resolve(this.desk.edit(edits, { said: how.said, goesOn: how.goesOn })).then((answer) => answer?.refused, (error) => ({ text: String(error?.message || error) })).then((refused) => {
      if (refused) this.#refused(kept, refused);
      else this.pending = this.pending.filter((p) => p !== kept);
      this.#replan();
      if (how.door && !refused && !this.pending.length && !this.hand.busy) this.select({ what: "door", index: this.scene.doors.length - 1 });
    });
  }

  /** @param {{edits: any[], marks: Mark[], coming: any[], bad?: boolean}} kept @param {any} refused the ghost turns to the colour of faults, and only this edit is taken back */
  #refused(kept, refused) {
    const text = [refused.text, refused.cure].filter(Boolean).map((t) => `${t[0].toUpperCase()}${t.slice(1)}`.replace(/\.?$/, ".")).join(" ");
    const cells = kept.edits.filter((e) => e.do === "paint").flatMap((e) => e.cells.map((/** @type {Point} */ [c, r]) => /** @type {Point} */ ([c - 1, r - 1])));
    kept.bad = true;
    kept.marks = [...kept.marks, ...(cells.length ? [/** @type {Mark} */ ({ form: "cells", cells, tone: "fault" })] : [])].map((m) => ({ ...m, tone: "fault" }));
    kept.edits = [];
    kept.coming = [];
    this.#say(text);
    this.#hint(text, true);
    setTimeout(() => { this.pending = this.pending.filter((p) => p !== kept); this.draw(); }, REFUSED_MS);
  }

  /** @returns {string} a letter that no room has yet, not even one that is only painted */
  #free() {
    const painted = new Set(this.pending.flatMap((p) => p.edits.map((e) => e.room || e.to)));
    return freeLetter((letter) => this.scene.rooms.has(letter) || painted.has(letter));
  }

  /** @returns {Map<string, string>} squares painted by edits that are not answered yet */
  #painted() {
    /** @type {Map<string, string>} */
    const painted = new Map();
    if (!this.pending.some((p) => p.edits.length)) return painted;
    const plan = new Scene(this.desk.plan);
    const set = (/** @type {Point[]} */ cells, /** @type {string} */ room) => cells.forEach(([c, r]) => painted.set(`${c},${r}`, room));
    for (const { edits } of this.pending) for (const edit of edits) {
      if (edit.do === "paint") set(edit.cells.map((/** @type {Point} */ [c, r]) => [c - 1, r - 1]), edit.room);
      else if (["move", "copy", "delete"].includes(edit.do)) {
        const own = plan.cellsOf(edit.room);
        if (edit.do !== "copy") set(own, ".");
        if (edit.do !== "delete") set(own.map(([c, r]) => [c + edit.by[0], r + edit.by[1]]), edit.to || edit.room);
      }
    }
    return painted;
  }

  /** The plan has changed, or what waits for its answer has. */
  #replan() {
    const was = this.scene;
    this.scene = new Scene(this.desk.plan, this.desk.tiles, this.#painted(), this.pending.flatMap((p) => p.coming));
    const all = was.tiles !== this.scene.tiles || was.coming.length || this.scene.coming.length;
    this.chunks.spoil(all ? null : changedBox(was, this.scene));
    const still = this.selection.filter((t) => this.scene.holds(t));
    if (still.length !== this.selection.length) this.select(still); else this.#chip();
    this.thin = null;
    this.shelf.fill(this.desk.tools?.features);
    this.hand.again();
    this.draw();
  }

  // ---- things

  /** @param {string} letter a room; its name is typed where it stands */
  rename(letter) {
    const room = this.scene.rooms.get(letter);
    if (!room) return;
    this.named = letter;
    this.naming.value = this.scene.plan.letters?.[letter]?.title || "";
    this.naming.placeholder = room.name;
    this.naming.hidden = false;
    this.#placeNaming();
    this.naming.focus();
    this.naming.select();
    this.#hint("Type the room's name. Enter keeps it, Esc leaves it.");
  }

  #placeNaming() {
    const room = this.named && this.scene.rooms.get(this.named);
    if (this.naming.hidden || !room) return;
    const [x, y] = toScreen(this.eye, ...room.centre), wide = Math.max(160, Math.min(260, room.box[2] * this.eye.scale - 20));
    this.naming.style.width = `${wide}px`;
    this.naming.style.transform = `translate(${Math.max(4, Math.min(this.size[0] - wide - 4, x - wide / 2))}px, ${Math.max(4, Math.min(this.size[1] - 44, y - 18))}px)`;
  }

  /** @param {boolean} keep */
  #endNaming(keep) {
    if (this.naming.hidden) return;
    const title = this.naming.value.trim(), letter = this.named || "";
    this.naming.hidden = true;
    this.stage.focus({ preventScroll: true });
    const old = this.scene.plan.letters?.[letter]?.title || "";
    if (keep && title !== old) this.send([{ do: "title", room: letter, title }], { said: "Renamed." });
  }

  /** Deletes what is selected. */
  remove() {
    const edits = [], doors = this.selection.filter((t) => t.what === "room").reduce((n, t) => n + this.scene.doorsOf(/** @type {any} */ (t).letter), 0);
    const indices = (/** @type {string} */ what) => this.selection.filter((t) => t.what === what).map((t) => /** @type {any} */ (t).index).sort((a, b) => b - a);
    for (const index of indices("stamp")) edits.push({ do: "feature-away", index });
    for (const index of indices("door")) edits.push({ do: "way-away", index });
    for (const t of this.selection) if (t.what === "room") edits.push({ do: "delete", room: t.letter });
    if (!edits.length) return;
    const names = this.selection.length === 1 ? this.scene.says(this.selection[0]) : `${this.selection.length} things`;
    const said = `${names[0].toUpperCase()}${names.slice(1)} deleted${doors ? `, with ${doors} ${doors === 1 ? "doorway" : "doorways"} to other rooms` : ""}.`;
    this.select(null);
    this.send(edits, { said });
    this.#say(said);
  }

  /** A quarter turn: of what is about to be put, or of what is selected. */
  turn() {
    if (this.armed !== "room") { this.quarters = (this.quarters + 1) % 4; this.hand.again(); this.#keyed(); return; }
    const [thing] = this.selection;
    if (this.selection.length !== 1) return;
    if (thing.what === "room") this.send([{ do: "turn", room: thing.letter, quarters: 1 }], { said: "Turned." });
    if (thing.what === "stamp") this.send([{ do: "feature-turn", index: thing.index, quarters: 1 }], { said: "Turned." });
  }

  /** A copy of the selected thing, to be put where the pointer goes next. */
  copy() {
    const [thing] = this.selection;
    if (this.selection.length !== 1) return;
    if (thing.what === "stamp") {
      const stamp = this.scene.stamps[thing.index];
      this.arm(stamp.kind);
      this.quarters = ["north", "east", "south", "west"].indexOf(stamp.side || "north");
      this.hand.again();
    } else if (thing.what === "room") this.#mode("copy");
  }

  /** @param {"add"|"take"|"copy"} how */
  #mode(how) {
    this.adding = this.adding === how ? null : how;
    this.#chip();
    this.hand.again();
    this.#hint({ add: "Drag over free squares to add them.", take: "Drag over squares to take them away.", copy: "Click where the copy goes." }[how]);
    this.stage.focus({ preventScroll: true });
    this.draw();
  }

  #chip() {
    const [thing] = this.selection;
    if (this.previewed && this.ghost === this.previewed) this.#preview(null);
    if (!thing) { this.chip.hide(); return; }
    const bin = { label: "Delete", act: () => this.remove(), bad: true };
    const world = () => this.world(this.touch, noKeys()), see = (/** @type {() => Intent} */ intent) => (/** @type {boolean} */ on) => this.#preview(on ? intent() : null);
    if (this.selection.length > 1) this.chip.fill(`${this.selection.length} things`, [bin]);
    else if (thing.what === "room") {
      const room = this.scene.rooms.get(thing.letter), [, , w, h] = room?.box || FIRST_BOX, number = (/** @type {number} */ v) => String(Math.round(v * 10) / 10);
      this.chip.fill(`${number(w)} × ${number(h)}`, [
        { label: "Rename", act: () => this.rename(thing.letter) }, { label: "Copy", act: () => this.copy(), pressed: this.adding === "copy" }, { label: "Turn", act: () => this.turn(), shows: see(() => turned(world(), thing.letter, "turn")) },
        { label: "Mirror", act: () => this.send([{ do: "mirror", room: thing.letter, axis: "x" }], { said: "Mirrored." }), shows: see(() => turned(world(), thing.letter, "mirror")) },
        { label: "Add squares", act: () => this.#mode("add"), pressed: this.adding === "add" }, { label: "Take squares", act: () => this.#mode("take"), pressed: this.adding === "take" }, bin]);
    } else if (thing.what === "stamp") {
      const stamp = this.scene.stamps[thing.index];
      this.chip.fill(`${stamp.kind[0].toUpperCase()}${stamp.kind.slice(1)}${stamp.side ? `, up to the ${stamp.side}` : ""}`, [...(stamp.side ? [{ label: "Turn", act: () => this.turn(), shows: see(() => turnedStamp(world(), thing.index)) }] : []), { label: "Copy", act: () => this.copy() }, bin]);
    } else {
      const door = this.scene.doors[thing.index], { ways, leaves, heads } = this.desk.tools || {}, change = (/** @type {any} */ keys) => this.send([{ do: "way-change", index: thing.index, ...keys }], { said: "Doorway changed." });
      const kinds = ways ? Object.keys(ways) : ["doorway", "open", "saddle"], closes = /** @type {[string, string, string?][]} */ ([["none", "no door"], ...Object.entries(leaves || { sliding: "", hinged: "", "lift-out": "" }).map(([word, says]) => [word, `${word} door`, says])]);
      const choices = [{ label: "Kind", value: door.kind, options: /** @type {[string, string, string?][]} */ (kinds.map((k) => [k, k === "saddle" ? "door piece" : k, ways?.[k]])), change: (/** @type {string} */ kind) => change({ kind }) }];
      const now = length(door.width * this.scene.cell, this.scene.plan), widths = this.scene.widths(door).map((mm) => length(mm, this.scene.plan));
      if (widths.length) choices.push({ label: "Width", value: now, options: /** @type {[string, string, string?][]} */ ([...(widths.includes(now) ? [] : [now]), ...widths].map((width) => [width, `${width} wide`])), change: (width) => change({ width }) });
      if (door.kind === "doorway") choices.push({ label: "Door", value: door.leaf, options: closes, change: (leaf) => { this.leaf = leaf === "none" ? "" : leaf; change({ leaf }); } });
      if (door.kind === "doorway") choices.push({ label: "Top", value: door.head, options: /** @type {[string, string, string?][]} */ (Object.entries(heads || { flat: "" }).map(([word, says]) => [word, `${word} top`, says])), change: (head) => change({ head }) });
      this.chip.fill("", [bin], choices);
    }
    this.#placeChip();
  }

  /** @param {Intent|null} intent what a button of the chip would do, while the pointer or the keyboard is on it */
  #preview(intent) {
    this.ghost = this.previewed = intent;
    this.#hint(intent?.hint || "");
    this.draw();
  }

  #placeChip() {
    if (this.chip.box.hidden || !this.selection.length) return;
    const box = this.selection.reduce((/** @type {Box|null} */ all, t) => joined(all, this.scene.boxOf(t)), null);
    if (!box) return;
    const [x, y] = toScreen(this.eye, box[0], box[1]), { scale } = this.eye, own = this.selection.filter((t) => t.what === "room").map((t) => /** @type {any} */ (t).letter);
    const cost = (/** @type {Box} */ at) => {
      const there = /** @type {Box} */ ([...toPlan(this.eye, at[0], at[1]), at[2] / scale, at[3] / scale]);
      let sum = 0;
      for (const room of this.scene.rooms.values()) if (!own.includes(room.letter) && overlap(room.box, there)) sum += 400;
      // Not under the pointer: a second click would land on it.
      const t = this.hand.last;
      if (t && overlap([t.x - 8, t.y - 8, 16, 16], at)) sum += 2000;
      return sum;
    };
    this.chip.place([x, y, box[2] * scale, box[3] * scale], this.size, cost, this.size[0] < DOCK_BELOW || this.touch === true);
  }

  // ---- pins

  /** @returns {(Pin & {index: number})[]} those that are shown: none before the first door, and not too close to each other */
  shownPins() {
    if (!this.scene.doors.length) return [];
    if (this.thin?.list !== this.allPins) this.thin = { list: this.allPins, found: thinned(this.allPins, this.eye.scale) };
    return this.thin.found;
  }

  /** @param {number} index */
  #openBubble(index) {
    const pin = this.allPins[index];
    if (!pin) return;
    const text = document.createElement("p"), row = document.createElement("div"), later = document.createElement("button");
    const brief = pin.cure.length <= 36;
    text.textContent = [pin.text, brief && pin.edits?.length ? "" : pin.cure].filter(Boolean).map((t) => t.replace(/\.?$/, ".")).join(" ");
    row.className = "row";
    if (pin.edits?.length) {
      const cure = document.createElement("button");
      cure.type = "button";
      cure.className = "main";
      cure.textContent = brief && pin.cure ? pin.cure : "Mend this";
      cure.addEventListener("click", () => { this.#closeBubble(); this.send(/** @type {any[]} */ (pin.edits), { said: "Mended.", door: pin.edits?.length === 1 && isWay(pin.edits[0]) }); });
      row.append(cure);
    }
    later.type = "button";
    later.textContent = "Later";
    later.addEventListener("click", () => this.#closeBubble());
    row.append(later);
    this.bubble.replaceChildren(text, row);
    this.bubble.hidden = false;
    this.opened = pin;
    const [x, y] = toScreen(this.eye, pin.x, pin.y), w = this.bubble.offsetWidth, h = this.bubble.offsetHeight;
    // Where the cure would work stays in sight.
    const [gx, gy] = pin.ghost ? toScreen(this.eye, (pin.ghost[0] + pin.ghost[2]) / 2, (pin.ghost[1] + pin.ghost[3]) / 2) : [x, y];
    const left = Math.max(8, Math.min(this.size[0] - w - 8, gx < x - 8 ? Math.max(x - w / 2, gx + 24) : gx > x + 8 ? Math.min(x - w / 2, gx - 24 - w) : x - w / 2));
    const below = Math.max(y, gy > y && Math.abs(gx - x) < 8 ? gy + 8 : y) + 14, top = below + h < this.size[1] - 90 ? below : Math.max(8, y - 40 - h);
    this.bubble.style.transform = `translate(${left}px, ${top}px)`;
    /** @type {HTMLElement|null} */ (row.firstElementChild)?.focus({ preventScroll: true });
    this.draw();
  }

  #closeBubble() {
    if (this.bubble.hidden) return;
    this.bubble.hidden = true;
    this.opened = null;
    this.stage.focus({ preventScroll: true });
    this.draw();
  }

  // ---- the page's parts

  #listen() {
    const { stage } = this;
    stage.addEventListener("pointerdown", (e) => {
      this.touch = e.pointerType === "touch";
      this.#endNaming(true);
      stage.classList.remove("by-keys");
      stage.focus({ preventScroll: true });
      stage.setPointerCapture(e.pointerId);
      if (e.button === 1) e.preventDefault();
      this.cursor.shown = false;
      this.hand.begin(this.#touchOf(e));
    });
    stage.addEventListener("pointermove", (e) => {
      const t = this.#touchOf(e);
      if (e.pointerType !== "touch") this.chip.look(t.x, t.y);
      this.hand.move(t);
      this.#hovered(t);
    });
    stage.addEventListener("pointerup", (e) => this.hand.end(this.#touchOf(e)));
    stage.addEventListener("pointercancel", (e) => this.hand.lost(this.#touchOf(e)));
    stage.addEventListener("pointerleave", () => { this.hand.left(); this.#emit("hover", { thing: null, at: null }); });
    stage.addEventListener("contextmenu", (e) => e.preventDefault());
    stage.addEventListener("wheel", (e) => {
      e.preventDefault();
      const t = this.#touchOf(/** @type {any} */ (e)), step = e.deltaMode === 1 ? 24 : 1;
      if (e.shiftKey && !e.ctrlKey) { this.look(pulled(this.eye, -(e.deltaX || e.deltaY) * step, 0)); return; }
      this.hand.wheel(Math.exp(-Math.max(-120, Math.min(120, e.deltaY * step)) * (e.ctrlKey ? 0.008 : 0.002)), t.x, t.y);
    }, { passive: false });
    this.box.addEventListener("keydown", (e) => this.#key(e));
    window.addEventListener("keyup", (e) => {
      if (e.key === " ") { this.hand.pulling = false; this.hand.again(); }
      if (["Shift", "Alt", "Control", "Meta"].includes(e.key)) this.hand.keys(keysOf(e));
    });
    window.addEventListener("keydown", (e) => { if (["Shift", "Alt", "Control", "Meta"].includes(e.key)) this.hand.keys(keysOf(e)); });
    this.naming.addEventListener("keydown", (e) => {
      e.stopPropagation();
      if (e.key === "Enter") this.#endNaming(true);
      if (e.key === "Escape") this.#endNaming(false);
    });
    this.naming.addEventListener("blur", () => this.#endNaming(true));
    this.chip.box.addEventListener("pointerenter", () => this.chip.near());
    this.chip.box.addEventListener("focusin", () => this.chip.near());
    new ResizeObserver(() => this.#resized()).observe(this.box);
    new MutationObserver(() => { this.#inks(); this.chunks.spoil(null); this.draw(); }).observe(document.documentElement, { attributes: true, attributeFilter: ["data-look", "class", "style"] });
    matchMedia("(prefers-color-scheme: dark)").addEventListener("change", () => { this.#inks(); this.chunks.spoil(null); this.draw(); });
    this.desk.on("plan", (/** @type {any} */ detail) => {
      const [west, north] = detail?.grown || [0, 0];
      if (west || north) this.#grown(west, north);
      this.#replan();
      if (detail?.fresh) { this.select(null); this.fitToWindow(); }
    });
    this.desk.on("tiles", () => this.#replan());
    this.desk.on("tools", () => this.shelf.fill(this.desk.tools?.features));
    this.desk.on("answers", () => { if (!this.desk.answers?.stale) this.pins(this.desk.answers?.pins || []); });
  }

  /** @param {number} west @param {number} north the drawing has so many more squares there; what is seen stays where it is */
  #grown(west, north) {
    this.eye = grown(this.eye, west, north);
    this.cursor.c += west; this.cursor.r += north;
    if (this.cursor.from) this.cursor.from = [this.cursor.from[0] + west, this.cursor.from[1] + north];
    if (this.hand.press) { this.hand.press.at = [this.hand.press.at[0] + west, this.hand.press.at[1] + north]; this.hand.press.path = this.hand.press.path.map(([x, y]) => [x + west, y + north]); }
    for (const p of this.pending) {
      p.edits = p.edits.map((edit) => shifted(edit, west, north));
      p.coming = p.coming.map(({ room, ring }) => ({ room, ring: ring.map(([x, y]) => [x + west, y + north]) }));
      p.marks = [];
    }
    this.chunks.clear();
  }

  #resized() {
    const box = this.box.getBoundingClientRect(), first = !this.size[0];
    this.dense = Math.min(3, window.devicePixelRatio || 1);
    this.size = [box.width, box.height];
    this.canvas.width = Math.round(box.width * this.dense);
    this.canvas.height = Math.round(box.height * this.dense);
    if (first || this.followed) this.fitToWindow();
    this.#placeChip();
    this.draw(true);
  }

  #inks() {
    const style = getComputedStyle(this.box), found = /** @type {any} */ ({});
    for (const ink of INKS) found[ink] = style.getPropertyValue(`--sheet-${ink.replace(/[A-Z]/g, (l) => `-${l.toLowerCase()}`)}`).trim() || "#888888";
    this.ink = found;
  }

  /** @param {PointerEvent} e @returns {import("./hand.js").Touch} */
  #touchOf(e) {
    const box = this.stage.getBoundingClientRect();
    return { id: e.pointerId, x: e.clientX - box.left, y: e.clientY - box.top, touch: e.pointerType === "touch", button: e.button, keys: keysOf(e) };
  }

  /** @param {PointerEvent} e */
  #over(e) { const [box, shelf] = [this.stage, this.shelf.box].map((b) => b.getBoundingClientRect()), inside = (/** @type {DOMRect} */ b) => e.clientX > b.left && e.clientX < b.right && e.clientY > b.top && e.clientY < b.bottom; return inside(box) && !inside(shelf); }

  /** @param {import("./hand.js").Touch} t */
  #hovered(t) {
    if (t.touch || !this.listeners.hover) return;
    const at = toPlan(this.eye, t.x, t.y);
    this.#emit("hover", { thing: thingOf(hit(this.world(false, t.keys), at)), at });
  }

  /** @param {string} what @param {any} detail */
  #emit(what, detail) { for (const fn of this.listeners[what] || []) fn(detail); }

  /** @param {string} words @param {boolean} [bad] */
  #hint(words, bad = false) {
    if (this.touch) words = words.replace(" Esc cancels.", "").replace(/^Release/, "Lift");
    if (bad) this.badUntil = performance.now() + REFUSED_MS;
    else if (performance.now() < (this.badUntil || 0) && !this.hand.busy) return;
    else this.badUntil = 0;
    if (this.hint.textContent !== words) this.hint.textContent = words;
    this.hint.classList.toggle("bad", bad);
    this.hint.hidden = !words;
  }

  /** @param {string} words for those who listen */
  #say(words) { this.said.textContent = words; }

  // ---- keys

  /** @param {KeyboardEvent} e */
  #key(e) {
    if (e.key === "Escape") {
      const inside = document.activeElement !== this.stage && this.box.contains(document.activeElement);
      if (this.escape() || inside) { e.preventDefault(); e.stopPropagation(); }
      if (inside) { this.stage.focus({ preventScroll: true }); this.stage.classList.add("by-keys"); }
      return;
    }
    if (e.target !== this.stage) return;
    const done = this.#pressed(e);
    if (done) { e.preventDefault(); this.stage.classList.add("by-keys"); }
  }

  /** @param {KeyboardEvent} e @returns {boolean} whether the key means something here */
  #pressed(e) {
    const command = e.ctrlKey || e.metaKey, key = e.key.length === 1 ? e.key.toLowerCase() : e.key;
    if (command && key === "d") { this.copy(); return true; }
    if (command) return false;
    if (key === " ") { this.hand.pulling = true; this.show(null); return true; }
    if (ARROWS[key]) { this.#arrow(ARROWS[key], e.shiftKey); return true; }
    if (key === "Enter") { this.#enter(e); return true; }
    if (key === "d") { this.#doorAhead(); return true; }
    if (key === "," || key === ".") { this.#walk(key === "." ? 1 : -1); return true; }
    if (key === "F2") { const [t] = this.selection; if (t?.what === "room") this.rename(t.letter); return true; }
    if (key === "Delete" || key === "Backspace") { this.remove(); return true; }
    if (key === "r") { this.turn(); return true; }
    if (key === "+" || key === "=") { this.zoom(1.25); return true; }
    if (key === "-") { this.zoom(0.8); return true; }
    if (key === "0") { this.fitToWindow(); return true; }
    return false;
  }

  /** @param {Side} side @param {boolean} things whether the selected things move instead of the cursor */
  #arrow(side, things) {
    const [dx, dy] = STEP[side];
    if (things && this.selection.length) {
      const intent = movedBy(this.world(false, noKeys()), this.selection, [dx, dy], false);
      if (intent.edits) this.send(intent.edits, { said: "Moved." }); else this.#hint(intent.hint, true);
      return;
    }
    if (!this.cursor.shown) { this.#showCursor(); this.cursor.side = side; }
    else if (this.cursor.from || this.armed !== "room" || this.adding) Object.assign(this.cursor, { c: this.cursor.c + dx, r: this.cursor.r + dy, side });
    else Object.assign(this.cursor, stepped(this.scene, this.cursor, side));
    this.#reveal();
    this.#keyed();
  }

  /** The cursor appears where the pointer was last, or in the middle of what is seen. */
  #showCursor() {
    const [thing] = this.selection, box = thing && this.scene.boxOf(thing);
    const at = box ? [box[0] + box[2] / 2, box[1] + box[3] / 2] : this.scene.empty && this.ghostRoom ? [this.ghostRoom[0] + 0.5, this.ghostRoom[1] + 0.5] : null;
    const inView = this.cursor.was && this.#visible([this.cursor.c + 0.5, this.cursor.r + 0.5]);
    if (at && !inView) [this.cursor.c, this.cursor.r] = at.map(Math.floor);
    else if (!inView) [this.cursor.c, this.cursor.r] = toPlan(this.eye, this.size[0] / 2, this.size[1] / 2).map(Math.floor);
    this.cursor.shown = this.cursor.was = true;
  }

  /** @param {Point} p */
  #visible(p) { const [x, y] = toScreen(this.eye, ...p); return x > 0 && y > 0 && x < this.size[0] && y < this.size[1]; }

  /** The sheet follows the cursor. */
  #reveal() {
    const [x, y] = toScreen(this.eye, this.cursor.c + 0.5, this.cursor.r + 0.5), edge = 70;
    const dx = x < edge ? edge - x : x > this.size[0] - edge ? this.size[0] - edge - x : 0, dy = y < edge ? edge - y : y > this.size[1] - 130 ? this.size[1] - 130 - y : 0;
    if (dx || dy) this.look(pulled(this.eye, dx, dy));
  }

  /** @returns {Point} the middle of the cursor's square */
  get #middle() { return [this.cursor.c + 0.5, this.cursor.r + 0.5]; }

  /** @returns {Intent} what Enter would do */
  #intent() {
    const world = this.world(false, noKeys()), at = this.#middle;
    if (this.cursor.from) return drag(world, { at: this.cursor.from, hit: { on: "ground" }, path: [this.cursor.from] }, at);
    const intent = hover({ ...world, scale: 1e3, pins: [], names: [], ghostRoom: null }, at);
    return this.armed === "wall" ? { ...intent, hint: "Enter begins the wall. D puts one on the line ahead." } : intent;
  }

  #keyed() {
    if (!this.cursor.shown) return;
    const intent = this.#intent(), room = this.scene.roomAt(this.#middle), where = room === "." ? "ground" : this.scene.rooms.get(room)?.name;
    this.ghost = this.cursor.from || this.armed !== "room" || this.adding ? intent : null;
    const words = this.cursor.from ? "Arrows size it, Enter ends it, Esc cancels." : this.armed !== "room" || this.adding ? intent.hint.replace(/^(Click|Drag)/, "Enter") : room === "." ? "Enter begins a room." : this.scene.standing(this.#ahead) ? "Enter selects the room. D puts a doorway in the wall ahead." : "Enter selects the room.";
    this.#hint(`${words}`);
    this.#say(`Column ${this.cursor.c + 1}, row ${this.cursor.r + 1}, ${where}. ${words}`);
    this.draw();
  }

  /** @param {KeyboardEvent} e */
  #enter(e) {
    if (!this.cursor.shown) { this.#showCursor(); if (!this.scene.empty) { this.#keyed(); return; } }
    const intent = this.#intent(), begins = ["hall", "bent", "wall"].includes(this.armed) || (this.armed === "room" && !this.adding && this.scene.roomAt(this.#middle) === ".") || this.adding === "add" || this.adding === "take";
    if (!this.cursor.from && begins) { this.cursor.from = this.#middle; this.#keyed(); return; }
    this.cursor.from = null;
    if (intent.select?.length && same(intent.select[0], this.selection[0])) { const [t] = this.selection; if (t.what === "room") { this.rename(t.letter); return; } }
    this.act(intent, keysOf(e));
    this.#keyed();
  }

  /** The line in front of the cursor. */
  get #ahead() { return lineOf([this.cursor.c + 1, this.cursor.r + 1], this.cursor.side); }

  /** A doorway in the line in front of the cursor, or none if one is there; with the wall from the shelf, a wall. */
  #doorAhead() {
    if (!this.cursor.shown) this.#showCursor();
    const { c, r, side } = this.cursor, line = this.#ahead;
    const own = this.scene.at(c, r), door = this.scene.doorAt(line), place = own === "." ? placeOf(line) : { cell: [c + 1, r + 1], side };
    if (this.armed === "wall") { this.send([{ do: "wall", ...place, stands: !this.scene.walls.has(lineKey(line)) }], { said: "Wall changed." }); return; }
    if (door) { this.send([{ do: "way-away", index: door.index }], { said: "Doorway removed." }); this.#say("Doorway removed."); return; }
    if (!this.scene.standing(line)) { this.#hint("There is no wall ahead. An arrow key turns the cursor towards one.", true); this.#say("There is no wall ahead."); return; }
    const [a, b] = endsOf(line), mark = /** @type {Mark} */ ({ form: "door", at: [(a[0] + b[0]) / 2, (a[1] + b[1]) / 2], along: line.level ? [1, 0] : [0, 1], width: this.scene.usualDoor, tone: "do" });
    this.send([{ do: "way", ...place, kind: "doorway", ...(this.leaf ? { leaf: this.leaf } : {}) }], { said: "Doorway added.", marks: [mark] });
    this.#say("Doorway added.");
  }

  /** @param {number} by to the next thing, or the one before */
  #walk(by) {
    const things = this.scene.things();
    if (!things.length) return;
    const at = things.findIndex((t) => same(t, this.selection[0])), next = things[at < 0 ? (by > 0 ? 0 : things.length - 1) : (at + by + things.length) % things.length];
    this.select(next);
    const box = /** @type {Box} */ (this.scene.boxOf(next));
    [this.cursor.c, this.cursor.r] = [box[0] + box[2] / 2, box[1] + box[3] / 2].map(Math.floor);
    this.cursor.was = true;
    if (!this.#visible([box[0] + box[2] / 2, box[1] + box[3] / 2])) this.#reveal();
    const words = this.scene.says(next);
    this.#hint(`${words[0].toUpperCase()}${words.slice(1)}. Enter renames a room, Delete deletes, Shift and arrows move.`);
    this.#say(`${words}, ${things.indexOf(next) + 1} of ${things.length}.`);
  }

  // ---- drawing

  /** @returns {Box|null} the room that a click on an empty sheet makes */
  get ghostRoom() {
    if (!this.scene.empty || this.pending.some((p) => p.edits.length)) return null;
    const { width, height } = this.scene;
    return [Math.max(0, Math.floor((width - 4) / 2)), Math.max(0, Math.floor((height - 3) / 2)), 4, 3];
  }

  /** Draws soon. @param {boolean} [now] */
  draw(now = false) {
    if (now) { this.#frame(); return; }
    if (this.due) return;
    this.due = requestAnimationFrame(() => { this.due = 0; this.#frame(); });
  }

  #frame() {
    if (!this.size[0]) return;
    const { pen, eye, size, ink, scene } = this, begun = performance.now(), zooming = begun - (this.zoomedAt || 0) < 90;
    pen.setTransform(this.dense, 0, 0, this.dense, 0, 0);
    pen.fillStyle = ink.ground;
    pen.fillRect(0, 0, ...size);
    if (this.picture) this.#drawPicture(this.picture);
    const through = this.picture ? 0.55 : 0;
    const drawPart = (/** @type {CanvasRenderingContext2D} */ to, /** @type {number} */ scale, /** @type {Box} */ part) => drawPlan(to, scene, ink, scale, part, through);
    const whole = this.chunks.show(pen, eye, size, this.dense, drawPart, zooming);
    if (this.lit) this.#drawLit();
    for (const kept of this.pending) for (const mark of kept.marks) drawMark(pen, ink, eye, scene, mark);
    if (this.placed?.scene !== scene || this.placed.scale !== eye.scale) this.placed = { scene, scale: eye.scale, all: placeNames(pen, scene, eye.scale) };
    const seen = /** @type {Box} */ ([eye.x, eye.y, size[0] / eye.scale, size[1] / eye.scale]);
    this.names = this.placed.all.filter((name) => overlap(name.box, seen));
    pen.textAlign = "center";
    pen.textBaseline = "middle";
    pen.fillStyle = ink.name;
    for (const { name, at, size: font, letter, over, upright } of this.names) {
      if (!this.naming.hidden && letter === this.named) continue;
      const [x, y] = toScreen(eye, ...at);
      pen.font = nameFont(font);
      pen.save();
      pen.translate(x, y);
      if (upright) pen.rotate(-Math.PI / 2);
      if (over) { pen.strokeStyle = ink.floor; pen.lineWidth = 4; pen.lineJoin = "round"; pen.strokeText(name, 0, 0); }
      pen.fillText(name, 0, 0);
      pen.restore();
    }
    this.#drawNumbers();
    if (this.fit) this.#drawFit();
    this.#drawSelection();
    if (this.ghostRoom && !this.hand.press) this.#drawGhostRoom(this.ghostRoom);
    if (this.ghost) for (const mark of this.ghost.marks) drawMark(pen, ink, eye, scene, mark);
    if (this.opened?.ghost) this.#drawCure(this.opened.ghost);
    this.#drawPins();
    if (this.cursor.shown) this.#drawCursor();
    if (!whole || zooming) { this.draw(); return; }
    const state = `${eye.x} ${eye.y} ${eye.scale}`;
    if (!this.resting) this.resting = setTimeout(() => { this.resting = 0; this.#idle(drawPart); }, 60);
    if (this.stateShown !== state) { this.stateShown = state; clearTimeout(this.telling); this.telling = setTimeout(() => { this.stage.dataset.eye = state; }, 120); }
  }

  /** @param {(pen: CanvasRenderingContext2D, scale: number, part: Box) => void} drawPart what lies just outside of the window, drawn while nobody moves */
  #idle(drawPart) {
    if (this.due || this.resting) return;
    if (this.chunks.ahead(this.eye, this.size, this.dense, drawPart)) this.resting = setTimeout(() => { this.resting = 0; this.#idle(drawPart); }, 16);
  }

  /** @param {Underlay} picture */
  #drawPicture({ image, corners: [a, b], fade }) {
    const { pen, eye } = this, wide = image.width, high = image.height, [x, y] = toScreen(eye, ...a), [ex, ey] = toScreen(eye, ...b);
    const scale = Math.hypot(ex - x, ey - y) / Math.hypot(wide, high), turn = Math.atan2(ey - y, ex - x) - Math.atan2(high, wide);
    pen.save();
    pen.globalAlpha = 1 - fade;
    pen.translate(x, y);
    pen.rotate(turn);
    pen.scale(scale, scale);
    pen.drawImage(image, 0, 0);
    pen.restore();
  }

  #drawLit() {
    const tiles = this.desk.tiles, { pen, eye, ink } = this;
    if (!tiles) return;
    const unit = eye.scale / tiles.cell_mm, paths = new Map();
    pen.save();
    pen.fillStyle = ink.doSoft;
    pen.strokeStyle = ink.do;
    for (const [shape, a, b, c, d, e, f] of tiles.lie) {
      const found = tiles.shapes[shape];
      if (!found || !this.lit?.has(found.id)) continue;
      const [x, y] = [(e / tiles.cell_mm - eye.x) * eye.scale, (f / tiles.cell_mm - eye.y) * eye.scale];
      if (x < -300 || y < -300 || x > this.size[0] + 300 || y > this.size[1] + 300) continue;
      if (!paths.has(shape)) paths.set(shape, new Path2D(found.floor));
      pen.setTransform(a * unit * this.dense, b * unit * this.dense, c * unit * this.dense, d * unit * this.dense, x * this.dense, y * this.dense);
      pen.lineWidth = 2 / unit;
      pen.fill(paths.get(shape));
      pen.stroke(paths.get(shape));
    }
    pen.restore();
  }

  /** Numbers of columns and rows, as messages name them: beside the drawing, or at the window's edge where that is nearer. */
  #drawNumbers() {
    const { pen, eye, size, ink, scene } = this, { scale } = eye, every = scale >= 44 ? 1 : scale >= NUMBERS_FROM ? 5 : 0;
    if (!every || scene.empty) return;
    const { x0, y0, width, height } = scene, [left, top] = toScreen(eye, x0, y0), px = Math.max(14, left - 14), py = Math.max(12, top - 12);
    pen.save();
    pen.globalAlpha = 0.6;
    pen.fillStyle = ink.name;
    pen.font = '11px system-ui, "Noto Sans", sans-serif';
    pen.textAlign = "center";
    pen.textBaseline = "middle";
    const numbers = (/** @type {number} */ from, /** @type {number} */ count, /** @type {number} */ least, /** @type {number} */ most, /** @type {(n: number) => void} */ put) => {
      for (let n = Math.max(from, Math.floor(least)); n < Math.min(from + count, most); n++) if (every === 1 || n === 0 || (n + 1) % every === 0) put(n);
    };
    if (py < size[1]) numbers(x0, width, eye.x, eye.x + size[0] / scale, (n) => pen.fillText(String(n + 1), (n + 0.5 - eye.x) * scale, py));
    if (px < size[0]) numbers(y0, height, eye.y, eye.y + size[1] / scale, (n) => pen.fillText(String(n + 1), px, (n + 0.5 - eye.y) * scale));
    pen.restore();
  }

  #drawFit() {
    const { pen, eye, ink } = this, radius = Math.max(6, ((this.fit.base_mm || 25.4) / this.scene.cell / 2) * eye.scale);
    pen.fillStyle = ink.faultSoft;
    pen.strokeStyle = "transparent";
    // Which rooms it misses, if it gets into any.
    for (const { room } of this.fit.rooms_reached ? this.fit.unreached || [] : []) drawThing(pen, eye, this.scene, { what: "room", letter: room }, [0, 0], true);
    for (const stop of this.fit.stops || []) {
      const [x, y] = toScreen(eye, stop.x, stop.y);
      pen.beginPath();
      pen.arc(x, y, radius, 0, 7);
      pen.fillStyle = ink.faultSoft;
      pen.fill();
      pen.strokeStyle = ink.fault;
      pen.lineWidth = 2;
      pen.stroke();
      pen.beginPath();
      pen.moveTo(x - radius * 0.45, y);
      pen.lineTo(x + radius * 0.45, y);
      pen.lineWidth = 3;
      pen.stroke();
    }
  }

  #drawSelection() {
    const { pen, eye, ink, scene } = this;
    pen.strokeStyle = ink.do;
    pen.fillStyle = ink.doSoft;
    pen.lineWidth = 2.5;
    for (const thing of this.selection) drawThing(pen, eye, scene, thing, [0, 0], thing.what === "room");
    if (this.selection.length !== 1 || this.hand.state === "stroke") return;
    pen.lineWidth = 2;
    pen.fillStyle = ink.paper;
    for (const knob of knobsOf(scene, this.selection[0], eye.scale)) {
      const [x, y] = toScreen(eye, ...knob.at);
      pen.beginPath();
      pen.roundRect(x - 4.5, y - 4.5, 9, 9, 2);
      pen.fill();
      pen.stroke();
    }
  }

  /** @param {Box} box */
  #drawGhostRoom(box) {
    const { pen, eye, ink } = this;
    drawMark(pen, ink, eye, this.scene, { form: "ring", ring: corners(box), tone: "do", dashed: true });
    const [x, y] = toScreen(eye, box[0] + box[2] / 2, box[1] + box[3] / 2);
    pen.fillStyle = ink.name;
    pen.font = nameFont(Math.min(19, eye.scale * 0.36));
    pen.textAlign = "center";
    pen.textBaseline = "middle";
    pen.fillText("Drag to draw a room", x, y - eye.scale * 0.25);
    pen.fillText(`a square is ${this.scene.plan.scale || "10 ft"}`, x, y + eye.scale * 0.25);
  }

  /** @param {[number, number, number, number]} ghost where a cure would work: a line or a box from corner to corner */
  #drawCure([x, y, ex, ey]) {
    const { pen, ink, eye, scene } = this;
    if (x === ex || y === ey) drawMark(pen, ink, eye, scene, { form: "door", at: [(x + ex) / 2, (y + ey) / 2], along: y === ey ? [1, 0] : [0, 1], width: scene.usualDoor, tone: "do" });
    else drawMark(pen, ink, eye, scene, { form: "ring", ring: corners([x, y, ex - x, ey - y]), tone: "do" });
  }

  #drawPins() {
    const { answers } = this.desk, first = answers?.fit?.[0], small = !!first && first.rooms > 0 && first.rooms_reached * 2 < first.rooms;
    for (const pin of this.shownPins()) drawPin(this.pen, this.ink, toScreen(this.eye, pin.x, pin.y), small && this.opened?.x !== pin.x);
  }

  #drawCursor() {
    const { pen, eye, ink } = this, { c, r, side } = this.cursor, [x, y] = toScreen(eye, c, r), s = eye.scale, [dx, dy] = STEP[side];
    pen.strokeStyle = ink.do;
    pen.lineWidth = 2;
    pen.strokeRect(x + 3, y + 3, s - 6, s - 6);
    pen.lineWidth = 5;
    pen.beginPath();
    const mx = x + s / 2 + (dx * s) / 2 - dx * 4, my = y + s / 2 + (dy * s) / 2 - dy * 4;
    pen.moveTo(mx - (dy * s) / 4, my - (dx * s) / 4);
    pen.lineTo(mx + (dy * s) / 4, my + (dx * s) / 4);
    pen.stroke();
  }
}

/** @param {any[]} edits @param {Mark[]} marks @returns {import("./scene.js").Coming[]} the outlines that edits draw, as their ghost showed them */
export const comingOf = (edits, marks) => (["shape", "hall"].includes(edits[0]?.do) ? marks.flatMap((m) => (m.form === "ring" && m.tone === "do" ? [{ room: edits[0].room, ring: m.ring }] : [])) : []);

/** @param {any} edit @returns {boolean} whether it adds a way */
const isWay = (edit) => ["way", "point-way"].includes(edit.do) && Boolean(edit.kind);

/** @returns {import("./intent.js").Keys} */
const noKeys = () => ({ shift: false, alt: false, ctrl: false });

/** @param {{shiftKey: boolean, altKey: boolean, ctrlKey: boolean, metaKey: boolean}} e @returns {import("./intent.js").Keys} */
const keysOf = (e) => ({ shift: e.shiftKey, alt: e.altKey, ctrl: e.ctrlKey || e.metaKey });

/** @param {any} edit @param {number} west @param {number} north @returns {any} the same edit on a drawing that has grown */
export function shifted(edit, west, north) {
  const on = (/** @type {Point} */ [x, y]) => /** @type {Point} */ ([x + west, y + north]), moved = { ...edit };
  if (edit.cells) moved.cells = edit.cells.map(on);
  for (const key of ["cell", "to"]) if (Array.isArray(edit[key])) moved[key] = on(/** @type {any} */ (edit[key]));
  if (edit.do === "hall") moved.from = on(edit.from);
  if (edit.do === "point-way" || edit.do === "way-slide") { if (edit.at) moved.at = on(edit.at); }
  if (edit.box) moved.box = [edit.box[0] + west, edit.box[1] + north, edit.box[2], edit.box[3]];
  return moved;
}

/** @param {Scene} was @param {Scene} now @returns {Box|null} where squares differ; null: more than squares may */
export function changedBox(was, now) {
  for (const key of ["ways", "walls", "features", "shapes"]) if (was.plan[key] !== now.plan[key] && JSON.stringify(was.plan[key]) !== JSON.stringify(now.plan[key])) return null;
  if (was.cell !== now.cell || was.wall !== now.wall) return null;
  let [west, north, east, south] = [Infinity, Infinity, -Infinity, -Infinity];
  const top = Math.min(was.y0, now.y0), foot = Math.max(was.y0 + was.height, now.y0 + now.height), left = Math.min(was.x0, now.x0), right = Math.max(was.x0 + was.width, now.x0 + now.width);
  for (let r = top; r < foot; r++) {
    if (was.x0 === now.x0 && was.rows[r - was.y0] === now.rows[r - now.y0]) continue;
    for (let c = left; c < right; c++) if (was.at(c, r) !== now.at(c, r)) { west = Math.min(west, c); east = Math.max(east, c + 1); north = Math.min(north, r); south = Math.max(south, r + 1); }
  }
  return west === Infinity ? [0, 0, 0, 0] : [west, north, east - west, south - north];
}
