// @ts-check
// What lies under the pointer: pin, knob, door, stamp, name, wall, floor, ground, in this order.
import { beside, lineKey, same } from "./scene.js";
import { distance, inBox } from "./squares.js";

/**
 * @typedef {import("./scene.js").Scene} Scene
 * @typedef {import("./scene.js").Thing} Thing
 * @typedef {import("./scene.js").Line} Line
 * @typedef {import("./squares.js").Point} Point
 * @typedef {import("./squares.js").Box} Box
 * @typedef {{knob: string, at: Point, turn: string, point?: number}} Knob  at: in cells; turn: the pointer's look
 * @typedef {{on: "pin", index: number}
 *   | {on: "knob", knob: Knob, thing: Thing}
 *   | {on: "door", index: number}
 *   | {on: "stamp", index: number}
 *   | {on: "name", letter: string}
 *   | {on: "wall", line: Line|null, at: Point, along: Point, room: string, others: string[]}
 *   | {on: "floor", letter: string}
 *   | {on: "ground"}} Hit
 * @typedef {{scene: Scene, scale: number, touch: boolean, armed: string, selection: Thing[], names?: {letter: string, box: Box}[], pins?: {x: number, y: number, index: number}[]}} Seen
 */

/** How far outside its thing a knob stands, and from which size on there are knobs at the sides; pixels. */
export const KNOB_OUT = 15, SIDES_FROM = 96;
/** An opening that looks narrower, in pixels, has none: a finger could not slide it any more. */
const OPENING_FROM = 16;
const KNOB_REACH = 10, KNOB_TOUCH = 20, PIN_REACH = 14;

/** @param {number} scale @param {boolean} touch @returns {number} how near to a wall the pointer is on it, in cells; 0: never */
export const wallReach = (scale, touch) => (scale < 15 ? 0 : touch ? Math.min(16 / scale, 0.3) : Math.min(8 / scale, 0.24));

/** @param {Scene} scene @param {Thing|undefined} thing @param {number} scale @returns {Knob[]} */
export function knobsOf(scene, thing, scale) {
  if (!thing || !scene.holds(thing)) return [];
  if (thing.what === "door") return doorKnobs(scene.doors[thing.index], scale);
  if (thing.what === "room") {
    const room = scene.rooms.get(thing.letter);
    if (room && !room.cells && room.shapes.length === 1) return shapeKnobs(scene.outlines[room.shapes[0]], scale);
    if (!room || room.shapes.length) return [];
  }
  const box = /** @type {Box} */ (scene.boxOf(thing));
  const small = thing.what === "stamp" || Math.min(box[2], box[3]) * scale < SIDES_FROM;
  const out = (thing.what === "stamp" ? 9 : KNOB_OUT) / scale, [x, y, w, h] = box;
  const at = { x: { w: x - out, "": x + w / 2, e: x + w + out }, y: { n: y - out, "": y + h / 2, s: y + h + out } };
  const names = small ? ["nw", "ne", "se", "sw"] : ["nw", "n", "ne", "e", "se", "s", "sw", "w"];
  return names.map((knob) => {
    const across = knob.includes("w") ? "w" : knob.includes("e") ? "e" : "", down = knob.includes("n") ? "n" : knob.includes("s") ? "s" : "";
    return { knob, at: [at.x[across], at.y[down]], turn: { nw: "nwse", se: "nwse", ne: "nesw", sw: "nesw", n: "ns", s: "ns", e: "ew", w: "ew" }[knob] + "-resize" };
  });
}

/** @param {import("./scene.js").Door} door @param {number} scale @returns {Knob[]} one beyond each end of an opening that has a width */
function doorKnobs({ kind, at, along: [dx, dy], width }, scale) {
  const out = width / 2 + KNOB_OUT / scale, turn = Math.abs(dx) > 0.9 ? "ew-resize" : Math.abs(dy) > 0.9 ? "ns-resize" : "move";
  return kind === "open" || width * scale < OPENING_FROM ? [] : [-1, 1].map((end) => ({ knob: "opening", at: [at[0] + end * dx * out, at[1] + end * dy * out], turn }));
}

/** @param {import("./scene.js").Outline} shape @param {number} scale @returns {Knob[]} */
function shapeKnobs(shape, scale) {
  const values = shape.values, out = KNOB_OUT / scale;
  if (values.circle) {
    const { centre: [x, y], radius } = values.circle, r = radius + out;
    return [["e", x + r, y, "ew"], ["s", x, y + r, "ns"], ["w", x - r, y, "ew"], ["n", x, y - r, "ns"]].map(([knob, kx, ky, turn]) => (
      { knob: `radius-${knob}`, at: /** @type {Point} */ ([kx, ky]), turn: `${turn}-resize` }));
  }
  if (values.hall) {
    const { from, to, width } = values.hall, long = distance(from, to) || 1, dx = (to[0] - from[0]) / long, dy = (to[1] - from[1]) / long;
    return [
      { knob: "from", at: [from[0] - dx * out, from[1] - dy * out], turn: "move" }, { knob: "to", at: [to[0] + dx * out, to[1] + dy * out], turn: "move" },
      { knob: "width", at: [(from[0] + to[0]) / 2 - dy * (width / 2 + out), (from[1] + to[1]) / 2 + dx * (width / 2 + out)], turn: "move" }];
  }
  if (values.polygon && values.polygon.length <= 40) return values.polygon.map((/** @type {number[]} */ p, /** @type {number} */ point) => ({ knob: "point", at: [p[0], p[1]], turn: "move", point }));
  return [];
}

/** @param {Seen} seen @param {Point} p in cells @returns {Hit} */
export function hit(seen, p) {
  const { scene, scale, touch, armed, selection } = seen;
  for (const pin of seen.pins || []) if (distance(p, [pin.x, pin.y - 10 / scale]) * scale <= PIN_REACH + (touch ? 8 : 0)) return { on: "pin", index: pin.index };
  if (selection.length === 1) {
    const reach = (touch ? KNOB_TOUCH : KNOB_REACH) / scale;
    const knob = knobsOf(scene, selection[0], scale).find((k) => distance(k.at, p) <= reach);
    if (knob) return { on: "knob", knob, thing: selection[0] };
  }
  if (armed === "room") {
    const near = Math.max(wallReach(scale, touch), 5 / scale);
    const door = scale < 8 ? null : doorNear(scene, p, near);
    if (door) return { on: "door", index: door.index };
    const stamp = [...scene.stamps].reverse().find((s) => inBox(s.box, p));
    if (stamp && !stamp.kind.startsWith("open")) return { on: "stamp", index: stamp.index };
    const name = (seen.names || []).find((n) => inBox(n.box, p));
    const wall = wallAt(scene, p, wallReach(scale, touch));
    if (name && !(wall && scale < 24)) return { on: "name", letter: name.letter };
    if (wall) return wall;
  }
  const letter = scene.roomAt(p);
  return letter === "." ? { on: "ground" } : { on: "floor", letter };
}

/** @param {Scene} scene @param {Point} p @param {number} reach */
function doorNear(scene, p, reach) {
  return scene.doors.find((door) => {
    const dx = p[0] - door.at[0], dy = p[1] - door.at[1];
    const along = Math.abs(dx * door.along[0] + dy * door.along[1]), off = Math.abs(dx * door.along[1] - dy * door.along[0]);
    return off <= reach && along <= Math.max(door.width / 2, reach);
  });
}

/** @param {Scene} scene @param {Point} p @param {number} reach @returns {Extract<Hit, {on: "wall"}>|null} */
export function wallAt(scene, p, reach) {
  if (!reach) return null;
  const outline = scene.outlineNear(p, reach), near = scene.wallsNear(p, reach), lines = near.filter((n) => !scene.doorAt(n.line));
  if (outline && (!near.length || outline.far < near[0].far)) {
    return { on: "wall", line: null, at: outline.at, along: outline.along, room: outline.room, others: [scene.beyond(outline.at, outline.along, outline.room)] };
  }
  if (!lines.length || lines[0].far > near[0].far + 1e-9) return null;
  const { line, at } = lines[0], rooms = beside(line).map(([c, r]) => scene.at(c, r));
  const inner = scene.at(Math.floor(p[0]), Math.floor(p[1])), room = inner !== "." ? inner : rooms[0] !== "." ? rooms[0] : rooms[1];
  return { on: "wall", line, at, along: line.level ? [1, 0] : [0, 1], room, others: rooms.filter((r) => r !== room) };
}

/** @param {Hit} a @param {Hit} b @returns {boolean} whether both are the same place */
export const sameHit = (a, b) => a.on === b.on && (a.on !== "wall" || (!!a.line && b.on === "wall" && !!b.line && lineKey(a.line) === lineKey(b.line)));

/** @param {Hit} found @returns {Thing|null} the thing that a click on it selects */
export function thingOf(found) {
  if (found.on === "door") return { what: "door", index: found.index };
  if (found.on === "stamp") return { what: "stamp", index: found.index };
  if (found.on === "floor" || found.on === "name") return { what: "room", letter: found.letter };
  return null;
}

/** @param {Thing[]} selection @param {Thing|null} thing */
export const chosen = (selection, thing) => selection.some((s) => same(s, thing));
