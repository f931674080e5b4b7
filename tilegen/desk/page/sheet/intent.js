// @ts-check
// What a press would do, worked out before it is done: marks for the ghost, words for the hint, edits for the program.
import { KNOB_OUT, chosen, hit, thingOf, wallAt } from "./hit.js";
import { length } from "./lengths.js";
import { beside, endsOf, placeOf, same, stampBox } from "./scene.js";
import { STEP, arcRing, boxOf, cavePatch, caveRing, cellsOf, circleRing, distance, freeLetter, hallRing, inBox, overlap, pulledBox, quarterArc, snapped, snappedPoint, strokeBox, turnedSide } from "./squares.js";

/**
 * @typedef {import("./squares.js").Point} Point
 * @typedef {import("./squares.js").Box} Box
 * @typedef {import("./squares.js").Side} Side
 * @typedef {import("./scene.js").Scene} Scene
 * @typedef {import("./scene.js").Thing} Thing
 * @typedef {import("./scene.js").Line} Line
 * @typedef {import("./hit.js").Hit} Hit
 * @typedef {{shift: boolean, alt: boolean, ctrl: boolean}} Keys
 * @typedef {import("./hit.js").Seen & {keys: Keys, quarters: number, adding: "add"|"take"|"copy"|null, leaf?: string, free: () => string, tools: any, ghostRoom: Box|null}} World
 * @typedef {{form: "cells", cells: Point[], tone: Tone}
 *   | {form: "ring", ring: Point[], tone: Tone, dashed?: boolean, open?: boolean}
 *   | {form: "door", at: Point, along: Point, width: number, tone: Tone}
 *   | {form: "lines", lines: Line[], tone: Tone}
 *   | {form: "moved", thing: Thing, by: Point, tone: Tone}
 *   | {form: "stamp", kind: string, box: Box, side: Side|null, tone: Tone}
 *   | {form: "tag", at: Point, text: string, tone: Tone}} Mark
 * @typedef {"do"|"fault"|"quiet"} Tone
 * @typedef {{marks: Mark[], hint: string, look: string, edits?: any[], said?: string, select?: Thing[]|null, rename?: string, pin?: number, wrong?: string, pan?: boolean}} Intent
 *   edits: what happens when the pointer is lifted; none: nothing is drawn
 * @typedef {{at: Point, hit: Hit, path: Point[], kind?: "room"|"move"}} Press  kind: what a stroke that began on a wall has turned out to be
 */

/** Tools that draw an outline; anything else on the shelf but "room" is a stamp. */
export const OUTLINES = ["round", "hall", "bent", "cave", "wall"];
const HALL_WIDE = 1, DROP_AFTER = 64;
const plain = (/** @type {number} */ v) => Math.round(v * 100) / 100;
const cellEdit = (/** @type {Point} */ [c, r]) => [c + 1, r + 1];
const squares = (/** @type {number} */ n) => (n === 1 ? "1 square" : `${n} squares`);
const size = (/** @type {Box} */ [, , w, h]) => `${plain(w)} × ${plain(h)}`;

/**
 * What a click here would do.
 * @param {World} world @param {Point} p @returns {Intent}
 */
export function hover(world, p) {
  if (world.adding) return adding(world, p, p, true);
  const found = hit(world, p);
  if (found.on === "pin") return { marks: [], hint: "Click to see what is wrong here and how to mend it.", look: "pointer", pin: found.index };
  if (found.on === "knob") return { marks: found.thing.what === "door" ? openingMarks(world, world.scene.doors[found.thing.index]) : [], hint: knobHint(found.knob.knob), look: found.knob.turn };
  if (world.armed !== "room") return use(world, { at: p, hit: found, path: [p] }, p, false);
  if (found.on === "door") return doorHover(world, found.index);
  if (found.on === "stamp") return stampHover(world, found.index);
  if (found.on === "wall") return wallHover(world, found);
  if (found.on === "floor" || found.on === "name") return floorHover(world, found.letter);
  return groundHover(world, p);
}

/**
 * What a lift here would do, after a press somewhere else.
 * @param {World} world @param {Press} press @param {Point} now @returns {Intent}
 */
export function drag(world, press, now) {
  const { hit: found } = press;
  if (found.on === "knob") return pull(world, found.thing, found.knob, press.at, now);
  if (world.adding && world.adding !== "copy") return adding(world, press.at, now, false);
  if (world.armed !== "room") return use(world, press, now, true);
  if (found.on === "door") return slide(world, found.index, now);
  if (found.on === "stamp") return moveStamp(world, found.index, press.at, now);
  const mine = world.selection.length === 1 && world.selection[0].what === "room" ? world.selection[0].letter : "";
  if (mine && world.keys.shift) return stroke(world, mine, press.at, now, "add");
  if (mine && world.keys.ctrl) return stroke(world, mine, press.at, now, "take");
  if (found.on === "wall") return world.touch ? touchWall(world, press, now) : fromWall(world, press, found, now);
  if (found.on === "floor" || found.on === "name") return move(world, found.letter, press.at, now);
  if (world.keys.shift) return band(world, press.at, now);
  return newRoom(world, press.at, now);
}

// ---- ground

/** @param {World} world @param {Point} p @returns {Intent} */
function groundHover(world, p) {
  if (world.ghostRoom && inBox(world.ghostRoom, p)) {
    const cells = cellsOf(world.ghostRoom), room = world.free();
    return { marks: [], hint: "Drag to draw a room, or click for this one.", look: "crosshair", edits: [{ do: "paint", cells: cells.map(cellEdit), room }], said: "Room drawn." };
  }
  const cell = /** @type {Point} */ (p.map(Math.floor));
  return { marks: [{ form: "cells", cells: [cell], tone: "quiet" }], hint: "Drag to draw a room.", look: "crosshair", select: world.selection.length ? [] : undefined };
}

/** @param {World} world @param {Point} from @param {Point} now @returns {Intent} */
export function newRoom(world, from, now) {
  const box = strokeBox(from, now, world.scale), cells = cellsOf(box).filter((cell) => world.scene.owner(cell) === ".");
  const tag = /** @type {Mark} */ ({ form: "tag", at: [box[0] + box[2] / 2, box[1]], text: size(box), tone: "do" });
  if (!cells.length) return { marks: [{ form: "ring", ring: corners(box), tone: "fault", dashed: true }], hint: "All of these squares belong to rooms. Draw on free ground.", look: "crosshair" };
  const room = world.free();
  return { marks: [{ form: "cells", cells, tone: "do" }, tag], hint: "Release to draw the room. Esc cancels.", look: "crosshair", edits: [{ do: "paint", cells: cells.map(cellEdit), room }], said: "Room drawn." };
}

/** @param {World} world @param {Point} from @param {Point} now @returns {Intent} */
function band(world, from, now) {
  const box = boxOf([from, now]);
  const select = world.scene.things().filter((thing) => {
    const [x, y, w, h] = /** @type {Box} */ (world.scene.boxOf(thing));
    return inBox(box, [x + w / 2, y + h / 2]) && thing.what !== "door";
  });
  return { marks: [{ form: "ring", ring: corners(box), tone: "quiet", dashed: true }, ...select.map((thing) => /** @type {Mark} */ ({ form: "moved", thing, by: [0, 0], tone: "do" }))], hint: `Release to select ${select.length === 1 ? world.scene.says(select[0]) : `${select.length} things`}.`, look: "crosshair", select };
}

// ---- rooms

/** @param {World} world @param {string} letter @returns {Intent} */
function floorHover(world, letter) {
  const thing = /** @type {Thing} */ ({ what: "room", letter }), name = world.scene.rooms.get(letter)?.name || "";
  if (chosen(world.selection, thing)) {
    const hint = world.touch ? "Tap again to rename. Drag to move." : "Click again to rename. Drag to move, Alt copies. Shift-drag adds squares, Ctrl-drag takes some.";
    return { marks: [], hint, look: "move", rename: letter };
  }
  return { marks: [], hint: `${name}. ${world.touch ? "Tap to select." : "Click to select, drag to move."}`, look: "pointer", select: [thing] };
}

/** @param {World} world @param {string} letter @param {Point} from @param {Point} now @returns {Intent} */
function move(world, letter, from, now) {
  const copy = world.keys.alt || world.adding === "copy";
  const things = /** @type {Thing[]} */ (chosen(world.selection, { what: "room", letter }) ? world.selection : [{ what: "room", letter }]);
  const by = /** @type {Point} */ ([Math.round(now[0] - from[0]), Math.round(now[1] - from[1])]);
  return movedBy(world, things, by, copy);
}

/** @param {World} world @param {Thing[]} things @param {Point} by @param {boolean} copy @returns {Intent} */
export function movedBy(world, things, by, copy) {
  const { scene } = world, rooms = things.filter((t) => t.what === "room").map((t) => /** @type {any} */ (t).letter);
  const wall = rooms.map((letter) => blocked(scene, letter, by, copy, rooms)).find((there) => there) || null;
  const tone = /** @type {Tone} */ (wall ? "fault" : "do"), marks = things.map((thing) => /** @type {Mark} */ ({ form: "moved", thing, by, tone }));
  const box = /** @type {Box} */ (scene.boxOf(things[0]));
  if (wall) {
    const name = scene.rooms.get(wall)?.name || wall;
    return { marks: [...marks, { form: "tag", at: [box[0] + by[0] + box[2] / 2, box[1] + by[1]], text: `${name} is in the way`, tone }], hint: `${name} is in the way. Release to leave the room where it was.`, look: "not-allowed", wrong: `${name} is in the way` };
  }
  if (!by[0] && !by[1]) return { marks, hint: copy ? "Drag to where the copy goes." : "Drag to move. Esc cancels.", look: "move" };
  const used = new Set(scene.rooms.keys());
  const edits = things.map((thing) => moveEdit(world, thing, by, copy, used)).filter(Boolean);
  return { marks, hint: copy ? "Release for a copy. Esc cancels." : "Release to move. Hold Alt for a copy. Esc cancels.", look: copy ? "copy" : "move", edits, said: copy ? "Copied." : "Moved." };
}

/** @param {World} world @param {Thing} thing @param {Point} by @param {boolean} copy @param {Set<string>} used */
function moveEdit(world, thing, by, copy, used) {
  if (thing.what === "room") {
    if (!copy) return { do: "move", room: thing.letter, by };
    const to = used.size === world.scene.rooms.size ? world.free() : freeLetter((letter) => used.has(letter));
    used.add(to);
    return { do: "copy", room: thing.letter, to, by };
  }
  if (thing.what === "stamp" && world.selection.length && !copy) {
    const stamp = world.scene.stamps[thing.index];
    if (world.selection.some((s) => s.what === "room" && s.letter === stamp.room)) return null;
    const feature = world.scene.plan.features[thing.index];
    return { do: "feature-move", index: thing.index, cell: [feature.cell[0] + by[0], feature.cell[1] + by[1]], ...(feature.at && { at: feature.at }) };
  }
  return null;
}

/** @param {Scene} scene @param {string} letter @param {Point} by @param {boolean} copy @param {string[]} along @returns {string|null} */
function blocked(scene, letter, by, copy, along) {
  const there = scene.inTheWay(letter, by);
  if (there && !along.includes(there)) return there;
  if (!copy || (!by[0] && !by[1])) return null;
  const own = new Set(scene.cellsOf(letter).map(String));
  return scene.cellsOf(letter).some(([c, r]) => own.has(String([c + by[0], r + by[1]]))) ? letter : null;
}

/** @param {World} world @param {string} letter @param {Point} from @param {Point} now @param {"add"|"take"} how @returns {Intent} */
function stroke(world, letter, from, now, how) {
  const { scene } = world, name = scene.rooms.get(letter)?.name || letter;
  const cells = cellsOf(strokeBox(from, now, world.scale)).filter((cell) => (how === "add" ? scene.at(...cell) === "." && scene.owner(cell, letter) === "." : scene.at(...cell) === letter));
  if (!cells.length) return { marks: [], hint: how === "add" ? `Drag over free squares to add them to ${name}.` : `Drag over squares of ${name} to take them away.`, look: "crosshair" };
  const edits = [{ do: "paint", cells: cells.map(cellEdit), room: how === "add" ? letter : "." }];
  const hint = how === "add" ? `Release to add ${squares(cells.length)} to ${name}.` : `Release to take ${squares(cells.length)} from ${name}.`;
  return { marks: [{ form: "cells", cells, tone: how === "add" ? "do" : "fault" }], hint, look: "crosshair", edits, said: how === "add" ? "Squares added." : "Squares taken away." };
}

/** @param {World} world @param {Point} from @param {Point} now @param {boolean} hovering @returns {Intent} */
function adding(world, from, now, hovering) {
  const thing = world.selection[0];
  if (!thing || thing.what !== "room") return { marks: [], hint: "", look: "crosshair" };
  if (world.adding === "copy") return move(world, thing.letter, hovering ? middle(world.scene, thing) : from, now);
  return stroke(world, thing.letter, from, now, /** @type {"add"|"take"} */ (world.adding));
}

/** @param {Scene} scene @param {Thing} thing @returns {Point} */
const middle = (scene, thing) => { const [x, y, w, h] = /** @type {Box} */ (scene.boxOf(thing)); return [x + w / 2, y + h / 2]; };

/**
 * What a quarter turn or a mirroring makes of a room, as the program does it: its box keeps its north-west corner.
 * @param {World} world @param {string} letter @param {"turn"|"mirror"} how @returns {Intent}
 */
export function turned(world, letter, how) {
  const { scene } = world, room = scene.rooms.get(letter), hint = how === "turn" ? "A quarter turn clockwise." : "West becomes east.", look = "default";
  if (!room) return { marks: [], hint: "", look };
  const [x, y, w, h] = room.box, whole = (/** @type {number} */ from, /** @type {number} */ long) => (room.cells ? [Math.floor(from), Math.ceil(from + long)] : [from, from + long]);
  const [west, east] = whole(x, w), [north, south] = whole(y, h);
  const put = (/** @type {Point} */ [px, py]) => /** @type {Point} */ (how === "turn" ? [west + south - py, px + north - west] : [west + east - px, py]);
  const cells = scene.cellsOf(letter).map(([c, r]) => /** @type {Point} */ (put([c + 0.5, r + 0.5]).map(Math.floor))), rings = room.shapes.flatMap((index) => scene.outlines[index].rings.map((/** @type {Point[]} */ ring) => ring.map(put)));
  const there = cells.map((cell) => scene.owner(cell, letter)).find((other) => other !== ".") || rings.map((ring) => scene.under(ring, letter)).find((other) => other);
  const tone = /** @type {Tone} */ (there ? "fault" : "do"), marks = /** @type {Mark[]} */ (rings.map((ring) => ({ form: "ring", ring, tone })));
  if (cells.length) marks.unshift({ form: "cells", cells, tone });
  return { marks, hint: there ? `${scene.rooms.get(there)?.name || there} is in the way.` : hint, look };
}

/** @param {World} world @param {number} index @returns {Intent} the same of a stamp */
export function turnedStamp(world, index) {
  const { kind, box: [x, y, w, h], side, free } = world.scene.stamps[index], box = /** @type {Box} */ (free ? [x + (w - h) / 2, y + (h - w) / 2, h, w] : [x, y, w, h]);
  return { marks: [{ form: "stamp", kind, box, side: side && turnedSide(side, 1), tone: "do" }], hint: "A quarter turn clockwise.", look: "default" };
}

// ---- knobs

/** @param {string} knob */
const knobHint = (knob) => (knob === "from" || knob === "to" ? "Drag to move this end." : knob === "point" ? "Drag to move this corner." : knob.startsWith("radius") ? "Drag to change the radius." : knob === "width" || knob === "opening" ? "Drag to change the width." : "Drag to resize.");

/** @param {World} world @param {Thing} thing @param {import("./hit.js").Knob} knob @param {Point} from @param {Point} now @returns {Intent} */
function pull(world, thing, knob, from, now) {
  const { scene } = world, by = /** @type {Point} */ ([now[0] - from[0], now[1] - from[1]]), look = knob.turn;
  const hint = "Release to resize. Esc cancels.";
  if (thing.what === "stamp") return pullStamp(world, thing.index, knob.knob, by, look);
  if (thing.what === "door") return pullDoor(world, thing.index, from, now, look);
  const room = scene.rooms.get(thing.letter);
  if (!room) return { marks: [], hint, look };
  if (!room.cells) return pullShape(world, scene.outlines[room.shapes[0]], knob, now);
  const box = pulledBox(room.box, knob.knob, by), [x, y, w, h] = box;
  const there = room.cells === room.box[2] * room.box[3] && cellsOf(box).map((cell) => scene.owner(cell, thing.letter)).find((l) => l !== ".");
  const tag = /** @type {Mark} */ ({ form: "tag", at: [x + w / 2, y], text: there ? `${scene.rooms.get(there)?.name} is in the way` : size(box), tone: there ? "fault" : "do" });
  const marks = /** @type {Mark[]} */ ([{ form: "ring", ring: corners(box), tone: there ? "fault" : "do" }, tag]);
  if (there) return { marks, hint: `${scene.rooms.get(there)?.name} is in the way.`, look: "not-allowed", wrong: "" };
  return { marks, hint, look, edits: String(box) === String(room.box) ? undefined : [{ do: "resize", room: thing.letter, box: [x, y, w, h] }], said: "Resized." };
}

/** @param {World} world @param {import("./scene.js").Door} door @param {number} [wide] in mm @returns {Mark[]} an opening, and above it how wide it is or would be */
function openingMarks({ scene: { cell, plan, wall }, scale }, { at, along, width }, wide = width * cell) {
  const above = at[1] - wall - Math.abs(along[1]) * (wide / cell / 2 + (KNOB_OUT + 8) / scale);
  return [{ form: "door", at, along, width: wide / cell, tone: "do" }, { form: "tag", at: [at[0], above], text: `${length(wide, plan)} wide`, tone: "do" }];
}

/** @param {World} world @param {number} index @param {Point} from @param {Point} now @param {string} look @returns {Intent} both ends of an opening go out or in, as far as its wall lets them */
function pullDoor(world, index, from, now, look) {
  const { scene, scale } = world, door = scene.doors[index], widths = scene.widths(door);
  const off = (/** @type {Point} */ p) => (p[0] - door.at[0]) * door.along[0] + (p[1] - door.at[1]) * door.along[1], half = off(now) * Math.sign(off(from)) - KNOB_OUT / scale;
  const miss = (/** @type {number} */ mm) => Math.abs(mm - 2 * half * scene.cell), wide = widths.reduce((best, mm) => (miss(mm) < miss(best) ? mm : best), widths[0]);
  if (!wide) return { marks: openingMarks(world, door), hint: "This wall has no room for another width.", look: "not-allowed" };
  const most = wide === widths[widths.length - 1] ? " This wall has no room for more." : "", same = length(wide, scene.plan) === length(door.width * scene.cell, scene.plan);
  return { marks: openingMarks(world, door, wide), hint: `Release for this width.${most} Esc cancels.`, look, edits: same ? undefined : [{ do: "way-change", index, width: length(wide, scene.plan) }], said: "Width changed." };
}

/** @param {World} world @param {import("./scene.js").Outline} shape @param {import("./hit.js").Knob} knob @param {Point} now @returns {Intent} */
function pullShape(world, shape, knob, now) {
  const values = shape.values, out = KNOB_OUT / world.scale, tone = /** @type {Tone} */ ("do");
  let ring = /** @type {Point[]} */ ([]), change = {}, words = "";
  if (values.circle) {
    const { centre } = values.circle, radius = Math.max(0.5, snapped(distance(centre, now) - out, 0.25));
    ring = circleRing(centre, radius); change = { circle: { centre, radius } }; words = `radius ${plain(radius)}`;
  } else if (values.hall) {
    const hall = { ...values.hall };
    if (knob.knob === "width") {
      const far = Math.abs((now[0] - hall.from[0]) * (hall.to[1] - hall.from[1]) - (now[1] - hall.from[1]) * (hall.to[0] - hall.from[0])) / (distance(hall.from, hall.to) || 1);
      hall.width = Math.max(0.5, snapped((far - out) * 2, 0.25));
    } else hall[knob.knob] = snappedPoint(now, 0.25);
    ring = hallRing(hall.from, hall.to, hall.width); change = { hall }; words = `width ${plain(hall.width)}`;
  } else {
    const polygon = values.polygon.map((/** @type {number[]} */ p, /** @type {number} */ i) => (i === knob.point ? [...snappedPoint(now, 0.25), ...p.slice(2)] : p));
    ring = polygon.map((/** @type {number[]} */ p) => [p[0], p[1]]); change = { polygon }; words = "";
  }
  const [x, y, w] = boxOf(ring), marks = /** @type {Mark[]} */ ([{ form: "ring", ring, tone }]);
  if (words) marks.push({ form: "tag", at: [x + w / 2, y], text: words, tone });
  return { marks, hint: "Release to change the shape. Esc cancels.", look: knob.turn, edits: [{ do: "shape-change", index: shape.index, ...change }], said: "Shape changed." };
}

// ---- walls and doors

/** @param {World} world @param {Extract<Hit, {on: "wall"}>} wall @returns {{mark: Mark, edits: any[], words: string}} */
function doorHere(world, wall) {
  const { scene } = world, kind = "doorway";
  const names = [wall.room, ...wall.others].filter((r, i, all) => r && all.indexOf(r) === i).map((r) => (r === "." ? "" : scene.rooms.get(r)?.name || r));
  const [inner, outer] = [names.find(Boolean), names.slice(1)];
  const words = outer.length ? (names.every(Boolean) ? `between ${names[0]} and ${names[1]}` : `out of ${inner}`) : `in ${inner}`;
  if (wall.line) {
    const [a, b] = endsOf(wall.line), at = /** @type {Point} */ ([(a[0] + b[0]) / 2, (a[1] + b[1]) / 2]), { cell, side } = insideOf(scene, wall.line);
    return { mark: { form: "door", at, along: wall.along, width: scene.usualDoor, tone: "do" }, edits: [{ do: "way", cell, side, kind, ...(world.leaf ? { leaf: world.leaf } : {}) }], words };
  }
  return { mark: { form: "door", at: wall.at, along: wall.along, width: scene.usualDoor, tone: "do" }, edits: [{ do: "point-way", room: wall.room, at: wall.at.map(plain), kind }], words };
}

/** @param {Scene} scene @param {Line} line @returns {{cell: Point, side: Side}} the line named from a square that is floor */
function insideOf(scene, line) {
  const [first, second] = beside(line);
  if (scene.at(...second) !== ".") return placeOf(line);
  return { cell: [first[0] + 1, first[1] + 1], side: line.level ? "south" : "east" };
}

/** @param {World} world @param {Extract<Hit, {on: "wall"}>} wall @returns {Intent} */
function wallHover(world, wall) {
  if (wall.line && world.scene.tight(wall.line)) return { marks: [{ form: "lines", lines: [wall.line], tone: "quiet" }], hint: "There is no room for a doorway in this wall.", look: "default" };
  const { mark, edits, words } = doorHere(world, wall);
  const more = wall.others.includes(".") ? " Drag outwards for a room on this wall." : world.touch ? " Slide away to cancel." : "";
  return { marks: [mark], hint: `${world.touch ? "Lift" : "Click"} for a doorway ${words}.${more}`, look: "pointer", edits, said: "Doorway added." };
}

/** @param {World} world @param {number} index @returns {Intent} */
function doorHover(world, index) {
  const door = world.scene.doors[index], thing = /** @type {Thing} */ ({ what: "door", index }), words = world.scene.says(thing);
  return { marks: [{ form: "door", at: door.at, along: door.along, width: door.width, tone: "quiet" }], hint: `${words[0].toUpperCase()}${words.slice(1)}. ${chosen(world.selection, thing) ? `Drag to slide it${door.kind === "open" ? "" : ", its knobs to change its width"}. Delete removes it.` : "Click to select, drag to slide."}`, look: "pointer", select: [thing] };
}

/** @param {World} world @param {Press} press @param {Point} now @returns {Intent} a finger on a wall: slides to choose, lifts to put; further outwards it draws a room, further inwards it does nothing */
function touchWall(world, press, now) {
  const { at: from } = press, far = distance(from, now) * world.scale, wall = wallAt(world.scene, now, Math.max(0.6, 40 / world.scale));
  // Once it draws, it goes on along other walls; back where it began it chooses a doorway again.
  if (press.kind && far > DROP_AFTER / 2) return newRoom(world, from, now);
  press.kind = undefined;
  if (far > DROP_AFTER && (!wall || distance(wall.at, now) * world.scale > DROP_AFTER / 2)) {
    const beyond = /** @type {Point} */ (from.map((v, i) => v + ((now[i] - v) * world.scale * 0.5) / far));
    if (world.scene.roomAt(beyond) !== ".") return { marks: [], hint: "Lift to leave the wall as it is.", look: "default" };
    press.kind = "room";
    return newRoom(world, from, now);
  }
  if (!wall) return { marks: [], hint: "Slide along the wall to choose.", look: "default" };
  const intent = wallHover(world, wall), at = intent.marks[0].form === "door" ? intent.marks[0].at : now;
  return { ...intent, marks: [...intent.marks, { form: "tag", at: [at[0], at[1] - 44 / world.scale], text: "Doorway", tone: "do" }] };
}

/** @param {World} world @param {Press} press @param {Extract<Hit, {on: "wall"}>} wall @param {Point} now @returns {Intent} a stroke from a bare wall: a room on it, or the room moves */
function fromWall(world, press, wall, now) {
  const far = distance(press.at, now);
  if (!press.kind) {
    if (far < Math.max(8 / world.scale, 0.3)) return { marks: [], hint: "Drag outwards for a new room, inwards to move this one.", look: "default" };
    const ahead = /** @type {Point} */ ([now[0] + ((now[0] - press.at[0]) / far) * 0.3, now[1] + ((now[1] - press.at[1]) / far) * 0.3]);
    press.kind = world.scene.roomAt(ahead) === "." ? "room" : "move";
    if (press.kind === "move") { const into = world.scene.roomAt(ahead); if (into !== ".") press.hit = { on: "floor", letter: into }; }
  }
  return press.kind === "room" ? newRoom(world, press.at, now) : move(world, press.hit.on === "floor" ? press.hit.letter : wall.room, press.at, now);
}

/** @param {World} world @param {number} index @param {Point} now @returns {Intent} */
function slide(world, index, now) {
  const { scene } = world, door = scene.doors[index], words = "Release to put the doorway here. Esc cancels.";
  if (door.room) {
    const near = scene.onOutline(now, door.room);
    if (!near || near.far > 2) return { marks: [], hint: "Slide along the wall.", look: "default" };
    return { marks: [{ form: "door", at: near.at, along: near.along, width: door.width, tone: "do" }], hint: words, look: "grabbing", edits: [{ do: "way-slide", index, room: door.room, at: near.at.map(plain) }], said: "Doorway moved." };
  }
  const near = scene.wallsNear(now, 0.75)[0] || nearestLine(scene, now, door);
  if (!near) return { marks: [], hint: "Slide along a wall. Release to leave the doorway where it was.", look: "not-allowed" };
  const [a, b] = endsOf(near.line), at = /** @type {Point} */ ([(a[0] + b[0]) / 2, (a[1] + b[1]) / 2]), other = scene.doorAt(near.line);
  const mark = /** @type {Mark} */ ({ form: "door", at, along: near.line.level ? [1, 0] : [0, 1], width: door.width, tone: other && other.index !== index ? "fault" : "do" });
  if (other && other.index !== index) return { marks: [mark], hint: "There is a doorway already. Slide further.", look: "not-allowed" };
  return { marks: [mark], hint: words, look: "grabbing", edits: other ? undefined : [{ do: "way-slide", index, ...insideOf(scene, near.line) }], said: "Doorway moved." };
}

/** @param {Scene} scene @param {Point} now @param {import("./scene.js").Door} door the wall straight along from a door, for a hand that drifts */
function nearestLine(scene, now, door) {
  if (!door.line) return null;
  const along = door.line.level ? Math.floor(now[0]) : Math.floor(now[1]), line = door.line.level ? { level: true, c: along, r: door.line.r } : { level: false, c: door.line.c, r: along };
  const off = Math.abs(door.line.level ? now[1] - door.at[1] : now[0] - door.at[0]);
  return off < 2 && scene.standing(line) ? { line, far: off, at: now } : null;
}

// ---- the shelf

/**
 * The tool from the shelf, at a point or over a stroke.
 * @param {World} world @param {Press} press @param {Point} now @param {boolean} dragging @returns {Intent}
 */
function use(world, press, now, dragging) {
  if (world.armed === "round") return round(world, press.at, now, dragging);
  if (world.armed === "hall") return hall(world, press.at, now, dragging);
  if (world.armed === "bent") return bent(world, press.at, now, dragging);
  if (world.armed === "cave") return cave(world, press, now, dragging);
  if (world.armed === "wall") return walls(world, press.at, now, dragging);
  return stamp(world, press.at, now, dragging);
}

/** @param {World} world @param {Point} from @param {Point} now @param {boolean} dragging @returns {Intent} */
function round(world, from, now, dragging) {
  // Dragged from corner to corner, as rooms are; clicked it is three squares wide.
  const corner = snappedPoint(from, 0.5), [east, south] = [now[0] - corner[0], now[1] - corner[1]];
  const radius = dragging ? Math.max(0.5, snapped(Math.max(Math.abs(east), Math.abs(south)), 0.5) / 2) : 1.5;
  const centre = /** @type {Point} */ (dragging ? [corner[0] + Math.sign(east || 1) * radius, corner[1] + Math.sign(south || 1) * radius] : corner), ring = circleRing(centre, radius);
  const there = world.scene.under(ring), name = there && world.scene.rooms.get(there)?.name, tone = /** @type {Tone} */ (there ? "fault" : "do");
  const marks = /** @type {Mark[]} */ ([{ form: "ring", ring, tone }, { form: "tag", at: [centre[0], centre[1] - radius], text: there ? `${name} is there` : `${plain(radius * 2)} across`, tone }]);
  if (there) return { marks, hint: `${name} is there. Put the round room on free ground.`, look: "not-allowed", wrong: `${name} is there` };
  return { marks, hint: dragging ? "Release for this round room. Esc cancels." : "Click for a round room, or drag from corner to corner to size it. With Shift the tool stays.", look: "crosshair", edits: [{ do: "shape", room: world.free(), circle: { centre, radius } }], said: "Round room drawn." };
}

/** @param {World} world @param {Point} p @returns {Mark} */
const startMark = (world, p) => ({ form: "ring", ring: circleRing(snappedPoint(p, 0.5), Math.max(0.12, 5 / world.scale), 16), tone: "do" });

/** @param {World} world @param {Point} from @param {Point} now @param {boolean} dragging @returns {Intent} */
function hall(world, from, now, dragging) {
  if (!dragging) return { marks: [startMark(world, now)], hint: "Drag from one room to another for a hall between them. With Shift the tool stays.", look: "crosshair" };
  const a = snappedPoint(from, 0.5), b = snappedPoint(now, 0.5), [p, q] = trimmed(world.scene, a, b);
  if (!p || !q || distance(p, q) < 0.2) return { marks: [startMark(world, from), startMark(world, now)], hint: "There is no ground between these ends. Drag from one room to another.", look: "not-allowed" };
  const tag = /** @type {Mark} */ ({ form: "tag", at: [(p[0] + q[0]) / 2, (p[1] + q[1]) / 2 - HALL_WIDE / 2], text: `${plain(distance(p, q))} long`, tone: "do" });
  return { marks: [{ form: "ring", ring: hallRing(p, q, HALL_WIDE), tone: "do" }, tag], hint: "Release for the hall. Its ends open into the rooms.", look: "crosshair", edits: [{ do: "hall", room: world.free(), from: a, to: b, width: HALL_WIDE }], said: "Hall drawn." };
}

/** @param {Scene} scene @param {Point} a @param {Point} b @returns {[Point|null, Point|null]} the part between two rooms, or all on free ground */
function trimmed(scene, a, b) {
  const steps = Math.max(8, Math.ceil(distance(a, b) * 24));
  const at = (/** @type {number} */ i) => /** @type {Point} */ ([a[0] + ((b[0] - a[0]) * i) / steps, a[1] + ((b[1] - a[1]) * i) / steps]);
  let first = 0, last = steps;
  while (first < steps && scene.roomAt(at(first)) !== ".") first++;
  while (last > first && scene.roomAt(at(last)) !== ".") last--;
  return first >= last ? [null, null] : [at(first), at(last)];
}

/** @param {World} world @param {Point} from @param {Point} now @param {boolean} dragging @returns {Intent} */
function bent(world, from, now, dragging) {
  if (!dragging) return { marks: [startMark(world, now)], hint: "Drag from end to end for a hall that bends by a quarter circle. R bends it the other way.", look: "crosshair" };
  // As far across as down, so that its ends lie along the lines of the squares.
  const a = snappedPoint(from, 0.5), far = snapped(Math.max(Math.abs(now[0] - a[0]), Math.abs(now[1] - a[1])), 0.5);
  const b = /** @type {Point} */ ([a[0] + Math.sign(now[0] - a[0] || 1) * far, a[1] + Math.sign(now[1] - a[1] || 1) * far]);
  if (far < 1) return { marks: [startMark(world, from)], hint: "Drag on: the ends are too near to each other.", look: "crosshair" };
  const arc = quarterArc(a, b, world.quarters % 2 === 1), bearing = (/** @type {number} */ d) => plain(d + 90);
  const edit = { do: "shape", room: world.free(), arc: { centre: arc.centre.map(plain), radius: Math.round(arc.radius * 1e4) / 1e4, width: HALL_WIDE, from: bearing(arc.from), to: bearing(arc.to) } };
  const ring = arcRing(arc, HALL_WIDE), there = world.scene.under(ring), name = there && world.scene.rooms.get(there)?.name;
  if (there) return { marks: [{ form: "ring", ring, tone: "fault" }], hint: `${name} is in the way. R bends the hall the other way.`, look: "not-allowed", wrong: `${name} is in the way` };
  return { marks: [{ form: "ring", ring, tone: "do" }], hint: "Release for the bent hall. R bends it the other way.", look: "crosshair", edits: [edit], said: "Bent hall drawn." };
}

/** @param {World} world @param {Press} press @param {Point} now @param {boolean} dragging @returns {Intent} */
function cave(world, press, now, dragging) {
  const path = dragging ? [...press.path, now] : [], ring = dragging ? caveRing(path) : cavePatch(snappedPoint(now, 0.5));
  const words = dragging ? "Go round the cave and release. Its outline closes by itself." : "Draw round a cave, or click for this one.";
  if (!ring) return { marks: [{ form: "ring", ring: path, tone: "quiet", open: true, dashed: true }], hint: words, look: "crosshair" };
  const there = world.scene.under(ring), name = there && world.scene.rooms.get(there)?.name;
  if (there) return { marks: [{ form: "ring", ring, tone: "fault" }], hint: `${name} is there. Draw the cave on free ground.`, look: "not-allowed", wrong: `${name} is there` };
  return { marks: [{ form: "ring", ring, tone: "do" }], hint: words, look: "crosshair", edits: [{ do: "shape", room: world.free(), polygon: ring.map((p) => p.map(plain)) }], said: "Cave drawn." };
}

/** @param {World} world @param {Point} from @param {Point} now @param {boolean} dragging @returns {Intent} a wall within a room, along the lines of the squares */
function walls(world, from, now, dragging) {
  const { scene } = world, level = dragging ? Math.abs(now[0] - from[0]) >= Math.abs(now[1] - from[1]) : Math.abs(from[1] - Math.round(from[1])) < Math.abs(from[0] - Math.round(from[0]));
  const fixed = Math.round(level ? from[1] : from[0]), [low, high] = dragging ? [from, now].map((p) => (level ? p[0] : p[1])).sort((a, b) => a - b) : [level ? from[0] : from[1], level ? from[0] : from[1]];
  const lines = /** @type {Line[]} */ ([]);
  for (let i = Math.floor(low + (dragging ? 0.3 : 0)); i <= Math.floor(high - (dragging ? 0.3 : 0)); i++) lines.push(level ? { level, c: i, r: fixed } : { level, c: fixed, r: i });
  const within = lines.filter((line) => { const [a, b] = beside(line).map((p) => scene.at(...p)); return a !== "." && a === b; });
  if (!within.length) return { marks: [{ form: "lines", lines, tone: "quiet" }], hint: "Point at a line within a room. Walls between rooms stand by themselves.", look: "crosshair" };
  const all = within.every((line) => scene.standing(line)), edits = within.filter((line) => scene.standing(line) === all).map((line) => ({ do: "wall", ...placeOf(line), stands: !all }));
  const tone = /** @type {Tone} */ (all ? "fault" : "do");
  return { marks: [{ form: "lines", lines: within, tone }], hint: all ? "Release to take this wall away." : dragging ? "Release for the wall." : "Click for a wall on this line, or drag along several.", look: "crosshair", edits, said: all ? "Wall taken away." : "Wall added." };
}

// ---- stamps

const ARTICLE = (/** @type {string} */ word) => `${/^[aeiou]/.test(word) ? "an" : "a"} ${word}`;

/** @param {Scene} scene @param {string} kind @returns {boolean} whether it has a size of its own and stands at a spot, where others fill squares */
const hasSize = (scene, kind) => kind in scene.plan.stamps;

/** @param {World} world @returns {any} what the program says of a kind of feature */
const kindOf = (world) => world.tools?.features?.[world.armed] || {};

/** @param {World} world @param {Point} from @param {Point} now @param {boolean} dragging @returns {Intent} */
function stamp(world, from, now, dragging) {
  const { scene } = world, kind = world.armed, directed = "side" in kindOf(world) || kind === "stair";
  const side = directed ? turnedSide("north", world.quarters) : null, spotted = hasSize(scene, kind);
  const start = /** @type {Point} */ (from.map(Math.floor)), end = /** @type {Point} */ (dragging && !spotted ? now.map(Math.floor) : start);
  const first = /** @type {Point} */ ([Math.min(start[0], end[0]), Math.min(start[1], end[1])]), last = /** @type {Point} */ ([Math.max(start[0], end[0]), Math.max(start[1], end[1])]);
  const edit = /** @type {any} */ ({ do: "feature", kind, cell: cellEdit(first) });
  if (String(first) !== String(last)) edit.to = cellEdit(last);
  if (spotted) {
    const at = spot(dragging ? now : from, scene, stampBox(edit, scene)[2]);
    edit.cell = cellEdit(at.cell);
    if (!at.centre) edit.at = at.at;
  }
  const box = stampBox(edit, scene), floors = cellsOf([first[0], first[1], last[0] - first[0] + 1, last[1] - first[1] + 1]).map(([c, r]) => scene.roomAt([c + 0.5, r + 0.5]));
  const here = spotted ? [scene.roomAt([box[0] + box[2] / 2, box[1] + box[3] / 2])] : floors, other = scene.stamps.find((s) => overlap(s.box, [box[0] + 0.02, box[1] + 0.02, box[2] - 0.04, box[3] - 0.04]));
  const turns = directed ? " The arrow points up; R turns it." : "";
  if (here.includes(".") || other) return { marks: [{ form: "stamp", kind, box, side, tone: "fault" }], hint: other ? `There is ${ARTICLE(other.kind)} already.` : `Put ${ARTICLE(kind)} on a floor.${turns}`, look: "not-allowed" };
  const values = /** @type {any} */ ({});
  if (side) values.side = side;
  if (directed && !climbs(scene, first, last, /** @type {Side} */ (side))) values.height = "1/2 in";
  if (Object.keys(values).length) edit.values = values;
  return { marks: [{ form: "stamp", kind, box, side, tone: "do" }], hint: `Click for ${ARTICLE(kind)} here.${spotted ? "" : " Drag for a larger one."}${turns}`, look: "crosshair", edits: [edit], said: `${kind[0].toUpperCase()}${kind.slice(1)} added.` };
}

/**
 * The nearest half space of a square where a stamp stands clear of walls.
 * @param {Point} p @param {Scene} scene @param {number} wide in cells @returns {{cell: Point, at: Point, centre: boolean}}
 */
function spot(p, { spaces, wall }, wide) {
  const cell = /** @type {Point} */ (p.map(Math.floor)), least = Math.min(spaces / 2, Math.ceil((wide / 2 + wall) * spaces * 2 - 0.02) / 2);
  const at = /** @type {Point} */ (p.map((v, i) => Math.min(spaces - least, Math.max(least, snapped((v - cell[i]) * spaces, 0.5)))));
  return { cell, at, centre: at.every((v) => v === spaces / 2) };
}

/** @param {Scene} scene @param {Point} first @param {Point} last @param {Side} side @returns {boolean} whether a higher floor lies beyond */
function climbs(scene, first, last, side) {
  const [dx, dy] = STEP[side], letters = scene.plan.letters || {};
  const from = scene.roomAt([first[0] + 0.5, first[1] + 0.5]), beyond = scene.roomAt([(dx > 0 ? last[0] : first[0]) + dx + 0.5, (dy > 0 ? last[1] : first[1]) + dy + 0.5]);
  const high = (/** @type {string} */ letter) => parseFloat(letters[letter]?.floor || "0") || 0;
  return beyond !== "." && beyond !== from && high(beyond) > high(from);
}

/** @param {World} world @param {number} index @returns {Intent} */
function stampHover(world, index) {
  const stamp = world.scene.stamps[index], thing = /** @type {Thing} */ ({ what: "stamp", index }), picked = chosen(world.selection, thing), word = stamp.kind;
  const how = picked ? `Drag to move.${stamp.side ? " R turns it." : ""} Delete removes it.` : "Click to select, drag to move.";
  return { marks: picked ? [] : [{ form: "moved", thing, by: [0, 0], tone: "quiet" }], hint: `${word[0].toUpperCase()}${word.slice(1)}. ${how}`, look: picked ? "move" : "pointer", select: [thing] };
}

/** @param {World} world @param {number} index @param {Point} from @param {Point} now @returns {Intent} */
function moveStamp(world, index, from, now) {
  const { scene } = world, stamp = scene.stamps[index], feature = scene.plan.features[index], by = /** @type {Point} */ ([now[0] - from[0], now[1] - from[1]]);
  const edit = /** @type {any} */ ({ do: "feature-move", index });
  if (stamp.free || hasSize(scene, stamp.kind)) {
    const at = spot([stamp.box[0] + stamp.box[2] / 2 + by[0], stamp.box[1] + stamp.box[3] / 2 + by[1]], scene, stamp.box[2]);
    edit.cell = cellEdit(at.cell); edit.at = at.at;
  } else edit.cell = [feature.cell[0] + Math.round(by[0]), feature.cell[1] + Math.round(by[1])];
  const gone = /** @type {Point} */ ([edit.cell[0] - feature.cell[0], edit.cell[1] - feature.cell[1]]);
  const box = stampBox({ ...feature, ...edit, kind: stamp.kind, to: feature.to && [feature.to[0] + gone[0], feature.to[1] + gone[1]] }, scene), off = scene.roomAt([box[0] + box[2] / 2, box[1] + box[3] / 2]) === ".";
  const mark = /** @type {Mark} */ ({ form: "stamp", kind: stamp.kind, box, side: stamp.side, tone: off ? "fault" : "do" });
  if (off) return { marks: [mark], hint: `Put the ${stamp.kind} on a floor.`, look: "not-allowed" };
  const still = String(edit.cell) === String(feature.cell) && (!edit.at || String(edit.at) === String(feature.at || [scene.spaces / 2, scene.spaces / 2]));
  return { marks: [mark], hint: `Release to put the ${stamp.kind} here. Esc cancels.`, look: "grabbing", edits: still ? undefined : [edit], said: "Moved." };
}

/** @param {World} world @param {number} index @param {string} knob @param {Point} by @param {string} look @returns {Intent} */
function pullStamp(world, index, knob, by, look) {
  const { scene } = world, stamp = scene.stamps[index], feature = scene.plan.features[index], word = stamp.kind;
  if (stamp.free || hasSize(scene, word)) {
    const out = Math.max(...["n", "e", "s", "w"].filter((s) => knob.includes(s)).map((s) => by[0] * STEP[/** @type {Side} */ ({ n: "north", e: "east", s: "south", w: "west" }[s])][0] + by[1] * STEP[/** @type {Side} */ ({ n: "north", e: "east", s: "south", w: "west" }[s])][1]));
    const wide = Math.max(3, Math.round((stamp.box[2] + 2 * out) * scene.cell)), half = wide / scene.cell / 2, [x, y] = [stamp.box[0] + stamp.box[2] / 2, stamp.box[1] + stamp.box[3] / 2];
    return { marks: [{ form: "stamp", kind: word, box: [x - half, y - half, 2 * half, 2 * half], side: stamp.side, tone: "do" }, { form: "tag", at: [x, y - half], text: `${wide} mm`, tone: "do" }], hint: "Release to resize. Esc cancels.", look, edits: [{ do: "feature-change", index, size: [`${wide} mm`] }], said: "Resized." };
  }
  const to = feature.to || feature.cell, box = pulledBox([feature.cell[0] - 1, feature.cell[1] - 1, to[0] - feature.cell[0] + 1, to[1] - feature.cell[1] + 1], knob, by);
  const cell = [box[0] + 1, box[1] + 1], end = [box[0] + box[2], box[1] + box[3]];
  return { marks: [{ form: "stamp", kind: word, box: stampBox({ kind: word, cell, to: end }, scene), side: stamp.side, tone: "do" }], hint: "Release to resize. Esc cancels.", look, edits: String([cell, end]) === String([feature.cell, to]) ? undefined : [{ do: "feature-away", index }, { do: "feature", kind: word, cell, to: end, values: feature.values }], said: "Resized." };
}

/** @param {Box} box @returns {Point[]} */
export const corners = ([x, y, w, h]) => [[x, y], [x + w, y], [x + w, y + h], [x, y + h]];

export { same, thingOf };
