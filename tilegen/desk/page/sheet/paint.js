// @ts-check
// Draws the sheet. What stands still is kept in squares of 256 pixels, so that pulling the sheet only copies them.
import { toScreen } from "./camera.js";
import { endsOf, lineKey } from "./scene.js";
import { overlap } from "./squares.js";

/**
 * @typedef {import("./squares.js").Point} Point
 * @typedef {import("./squares.js").Box} Box
 * @typedef {import("./camera.js").Camera} Camera
 * @typedef {import("./scene.js").Scene} Scene
 * @typedef {import("./intent.js").Mark} Mark
 * @typedef {Record<"ground"|"dot"|"floor"|"shade"|"line"|"half"|"wall"|"name"|"do"|"doSoft"|"fault"|"faultSoft"|"paper"|"dark"|"step"|"leaf", string>} Inks
 * @typedef {CanvasRenderingContext2D} Pen
 */

/** Pixels per square from which lines of squares, of half squares, and single dots are drawn. */
export const LINES_FROM = 16, HALVES_FROM = 40, DOTS_FROM = 9;
const EXACT_FROM = 10;
const CHUNK = 256, MOST_CHUNKS = 280, BUDGET_MS = 3.5;
const NAME_LEAST = 12, NAME_MOST = 17;

// ---- what stands still

/**
 * Floors, lines, walls, doors and stamps of a part of the drawing.
 * @param {Pen} pen with cells as its unit @param {Scene} scene @param {Inks} inks @param {number} scale @param {Box} part @param {number} through how much of a picture underneath shows
 */
export function drawPlan(pen, scene, inks, scale, part, through = 0) {
  const px = 1 / scale, [x, y, w, h] = part;
  const west = Math.floor(x) - 1, north = Math.floor(y) - 1, east = Math.ceil(x + w) + 1, south = Math.ceil(y + h) + 1;
  const c0 = Math.max(west, scene.x0), r0 = Math.max(north, scene.y0), c1 = Math.min(east, scene.x0 + scene.width), r1 = Math.min(south, scene.y0 + scene.height);
  const shapes = scene.outlines.filter((/** @type {any} */ s) => s.rings.length && overlap(s.box, part));
  const floor = new Path2D(), lines = new Path2D(), halves = new Path2D(), walls = new Path2D();
  const thick = Math.max(scene.wall, 1.1 * px), withLines = scale >= LINES_FROM, withHalves = scale >= HALVES_FROM && scene.spaces === 2;
  if (scale >= DOTS_FROM) dots(pen, inks, px, [west, north, east, south], scale);
  for (let r = r0; r < r1; r++) {
    for (let c = c0, from = c0; c <= c1; c++) {
      if (c < c1 && scene.at(c, r) !== ".") continue;
      if (c > from) floor.rect(from, r, c - from, 1);
      from = c + 1;
    }
    if (scale > 3) wallsOfRow(scene, walls, lines, r, c0, c1, thick, withLines);
    if (withHalves) for (let c = c0; c < c1; c++) if (scene.at(c, r) !== ".") { halves.moveTo(c, r + 0.5); halves.lineTo(c + 1, r + 0.5); halves.moveTo(c + 0.5, r); halves.lineTo(c + 0.5, r + 1); }
  }
  const outlines = shapes.map((/** @type {any} */ s) => ({ shape: s, path: ringPath(s.rings) }));
  pen.save();
  pen.globalAlpha = 1 - through;
  pen.fillStyle = inks.shade;
  pen.translate(0, Math.min(3 * px, 0.08));
  pen.fill(floor);
  for (const { path } of outlines) pen.fill(path);
  pen.translate(0, -Math.min(3 * px, 0.08));
  pen.fillStyle = inks.floor;
  pen.fill(floor);
  pen.restore();
  pen.lineWidth = px;
  if (withHalves) { pen.strokeStyle = inks.half; pen.stroke(halves); }
  if (withLines) { pen.strokeStyle = inks.line; pen.stroke(lines); }
  // Walls stand over what fills a square up to its sides.
  const stamps = scale > 5 ? scene.stamps.filter((/** @type {any} */ s) => overlap(s.box, part)) : [], within = (/** @type {any} */ s) => shapes.some((/** @type {any} */ o) => overlap(o.box, s.box));
  const put = (/** @type {any} */ s) => drawStamp(pen, inks, s.kind, s.box, s.side, s.round, px);
  stamps.filter((s) => !within(s)).forEach(put);
  const exact = scale >= EXACT_FROM ? scene.tiles : null;
  pen.fillStyle = inks.wall;
  if (!exact) pen.fill(walls);
  for (const { shape, path } of outlines) drawShape(pen, scene, inks, shape, path, outlines, exact ? 0 : thick, withLines, withHalves, px, through);
  stamps.filter(within).forEach(put);
  if (exact) drawWalls(pen, inks, exact, part, px);
  if (scale > 3) for (const door of scene.doors) if (near(door.at, part, 1)) drawDoor(pen, inks, door, thick, px, scale, !exact);
}

/** @param {Pen} pen @param {Inks} inks @param {import("./scene.js").TilesByPlace} tiles @param {Box} part @param {number} px walls as they stand on the tiles, a hair wider so that no seam shines through */
function drawWalls(pen, inks, tiles, part, px) {
  pen.fillStyle = pen.strokeStyle = inks.wall;
  pen.lineWidth = 0.8 * px * tiles.cell;
  for (const [shape, a, b, c, d, e, f] of tiles.near(part)) {
    let path = tiles.paths.get(shape);
    if (!path) tiles.paths.set(shape, (path = new Path2D(tiles.walls[shape])));
    pen.save();
    pen.transform(a / tiles.cell, b / tiles.cell, c / tiles.cell, d / tiles.cell, e / tiles.cell, f / tiles.cell);
    pen.fill(path, "evenodd");
    pen.stroke(path);
    pen.restore();
  }
}

/** @param {Pen} pen @param {Inks} inks @param {number} px @param {number[]} part @param {number} scale */
function dots(pen, inks, px, [west, north, east, south], scale) {
  const size = Math.min(2.4, scale / 14) * px;
  pen.fillStyle = inks.dot;
  for (let r = north; r <= south; r++) for (let c = west; c <= east; c++) pen.fillRect(c - size / 2, r - size / 2, size, size);
}

/**
 * Walls stand within the squares of their room; where two meet around an inner corner, a post fills it.
 * @param {Scene} scene @param {Path2D} walls @param {Path2D} lines @param {number} r @param {number} c0 @param {number} c1 @param {number} t @param {boolean} withLines
 */
function wallsOfRow(scene, walls, lines, r, c0, c1, t, withLines) {
  const extra = scene.walls.size > 0;
  const shapes = scene.outlines.length > 0;
  const parted = (/** @type {string} */ a, /** @type {string} */ b, /** @type {boolean} */ level, /** @type {number} */ c, /** @type {number} */ row) => (
    a !== b ? !shapes || !scene.joinedAcross({ level, c, r: row }) : extra && scene.walls.has(lineKey({ level, c, r: row })));
  let north = c0, south = c0;
  for (let c = c0; c <= c1; c++) {
    const own = c < c1 ? scene.at(c, r) : ".";
    const up = own !== "." && parted(own, scene.at(c, r - 1), true, c, r), down = own !== "." && parted(own, scene.at(c, r + 1), true, c, r + 1);
    if (!up) { if (c > north) walls.rect(north, r, c - north, t); north = c + 1; }
    if (!down) { if (c > south) walls.rect(south, r + 1 - t, c - south, t); south = c + 1; }
    if (own === ".") continue;
    const left = parted(own, scene.at(c - 1, r), false, c, r), right = parted(own, scene.at(c + 1, r), false, c + 1, r);
    if (left) walls.rect(c, r, t, 1);
    if (right) walls.rect(c + 1 - t, r, t, 1);
    if (!up && !left && scene.at(c - 1, r - 1) !== own) walls.rect(c, r, t, t);
    if (!up && !right && scene.at(c + 1, r - 1) !== own) walls.rect(c + 1 - t, r, t, t);
    if (!down && !left && scene.at(c - 1, r + 1) !== own) walls.rect(c, r + 1 - t, t, t);
    if (!down && !right && scene.at(c + 1, r + 1) !== own) walls.rect(c + 1 - t, r + 1 - t, t, t);
    if (!withLines) continue;
    if (!right) { lines.moveTo(c + 1, r); lines.lineTo(c + 1, r + 1); }
    if (!down) { lines.moveTo(c, r + 1); lines.lineTo(c + 1, r + 1); }
  }
}

/** @param {Point[][]} rings @returns {Path2D} */
function ringPath(rings) {
  const path = new Path2D();
  for (const ring of rings) { ring.forEach(([x, y], i) => (i ? path.lineTo(x, y) : path.moveTo(x, y))); path.closePath(); }
  return path;
}

/**
 * A shape's floor, and its walls within it, but none where it joins the rest of its room.
 * @param {Pen} pen @param {Scene} scene @param {Inks} inks @param {any} shape @param {Path2D} path @param {{shape: any, path: Path2D}[]} all @param {number} t
 * @param {boolean} withLines @param {boolean} withHalves @param {number} px @param {number} through
 */
function drawShape(pen, scene, inks, shape, path, all, t, withLines, withHalves, px, through) {
  const [x, y, w, h] = shape.box, west = Math.floor(x), north = Math.floor(y), east = Math.ceil(x + w), south = Math.ceil(y + h);
  pen.save();
  pen.clip(path, "evenodd");
  pen.globalAlpha = 1 - through;
  pen.fillStyle = inks.floor;
  pen.fillRect(x, y, w, h);
  pen.globalAlpha = 1;
  pen.lineWidth = px;
  if (withLines) for (const odd of withHalves ? [true, false] : [false]) {
    pen.beginPath();
    for (let c = west + (odd ? 0.5 : 0); c < east; c += 1) { pen.moveTo(c, north); pen.lineTo(c, south); }
    for (let r = north + (odd ? 0.5 : 0); r < south; r += 1) { pen.moveTo(west, r); pen.lineTo(east, r); }
    pen.strokeStyle = odd ? inks.half : inks.line;
    pen.stroke();
  }
  if (!t) { pen.restore(); return; }
  // No wall where squares of the same room lie beside it or below it.
  for (let r = north - 1; r <= south; r++) for (let c = west - 1; c <= east; c++) if (scene.at(c, r) === shape.room) {
    const rest = new Path2D();
    rest.rect(x - 2, y - 2, w + 4, h + 4);
    rest.rect(c - t, r - t, 1 + 2 * t, 1 + 2 * t);
    pen.clip(rest, "evenodd");
  }
  for (const other of all) if (other.shape !== shape && other.shape.room === shape.room) {
    const beyond = new Path2D();
    beyond.rect(x - 1, y - 1, w + 2, h + 2);
    beyond.addPath(other.path);
    pen.clip(beyond, "evenodd");
  }
  pen.strokeStyle = inks.wall;
  pen.lineWidth = 2 * t;
  pen.lineJoin = "miter";
  pen.stroke(path);
  pen.restore();
}

/** @param {Point} p @param {Box} part @param {number} by */
const near = (p, [x, y, w, h], by) => p[0] > x - by && p[1] > y - by && p[0] < x + w + by && p[1] < y + h + by;

/**
 * A gap in the wall, and in it what closes it: a leaf, a sill for a loose piece, nothing for an open side.
 * @param {Pen} pen @param {Inks} inks @param {any} door @param {number} t @param {number} px @param {number} scale @param {boolean} gap whether the wall is still whole
 */
function drawDoor(pen, inks, door, t, px, scale, gap) {
  const half = door.width / 2, [above, below] = door.rooms, over = 0.6 * px;
  pen.save();
  pen.transform(door.along[0], door.along[1], -door.along[1], door.along[0], door.at[0], door.at[1]);
  const up = above !== "." ? t + over : 0, down = below !== "." ? t + over : 0;
  pen.fillStyle = inks.floor;
  if (gap) pen.fillRect(-half, -up, door.width, up + down);
  if (scale > 8) {
    const y0 = -up, high = up + down, mid = (down - up) / 2;
    pen.fillStyle = inks.leaf;
    if (door.kind === "open") {
      pen.fillStyle = inks.line;
      pen.fillRect(-half, mid - 0.5 * px, door.width, px);
    } else if (door.kind === "saddle") {
      for (const y of [0.3, 0.7]) pen.fillRect(-half, y0 + high * y - 0.6 * px, door.width, 1.2 * px);
    } else if (door.leaf && door.leaf !== "none") {
      const thin = Math.max(2.5 * px, t * 0.4);
      pen.fillRect(-half, mid - thin / 2, door.leaf === "sliding" ? door.width * 1.25 : door.width, thin);
      if (door.leaf === "hinged") { pen.beginPath(); pen.arc(-half, mid, Math.max(2.5 * px, t * 0.45), 0, 7); pen.fill(); }
    } else if (gap) {
      for (const x of [-half, half - 1.5 * px]) pen.fillRect(x, y0, 1.5 * px, high);
    }
  }
  pen.restore();
}

/** @type {Record<string, number>} */
const QUARTER = { north: 0, east: 1, south: 2, west: 3 };

/**
 * What stands on a floor, as seen from above; a stair grows darker as it climbs, its wedge points up.
 * @param {Pen} pen @param {Inks} inks @param {string} kind @param {Box} box @param {string|null} side @param {boolean} round @param {number} px
 */
export function drawStamp(pen, inks, kind, [x, y, w, h], side, round, px) {
  const cx = x + w / 2, cy = y + h / 2;
  pen.save();
  pen.lineWidth = 1.4 * px;
  pen.strokeStyle = inks.wall;
  if (kind === "stair") {
    const quarter = QUARTER[side || "north"], across = quarter % 2 ? h : w, run = quarter % 2 ? w : h;
    pen.translate(cx, cy);
    pen.rotate((quarter * Math.PI) / 2);
    const steps = Math.max(3, Math.round(run / 0.16));
    for (let i = 0; i < steps; i++) {
      pen.globalAlpha = 0.08 + (0.5 * i) / steps;
      pen.fillStyle = inks.wall;
      pen.fillRect(-across / 2, run / 2 - ((i + 1) * run) / steps, across, run / steps);
    }
    pen.globalAlpha = 1;
    pen.beginPath();
    for (let i = 0; i <= steps; i++) { const at = run / 2 - (i * run) / steps; pen.moveTo(-across / 2, at); pen.lineTo(across / 2, at); }
    pen.lineWidth = px;
    pen.stroke();
    pen.strokeRect(-across / 2, -run / 2, across, run);
    const tip = Math.min(across, run) * 0.2;
    pen.fillStyle = inks.paper;
    pen.beginPath();
    pen.moveTo(0, -tip); pen.lineTo(tip * 0.9, tip * 0.8); pen.lineTo(-tip * 0.9, tip * 0.8);
    pen.closePath();
    pen.fill();
    pen.stroke();
  } else if (kind === "pit") {
    pen.fillStyle = inks.dark;
    pen.fillRect(x, y, w, h);
    pen.strokeRect(x, y, w, h);
  } else if (kind === "dais") {
    pen.fillStyle = inks.step;
    for (const inset of [0, 0.14]) { const d = Math.min(w, h) * inset; pen.fillRect(x + d, y + d, w - 2 * d, h - 2 * d); pen.strokeRect(x + d, y + d, w - 2 * d, h - 2 * d); }
  } else if (kind === "well") {
    for (const [r, ink] of /** @type {[number, string][]} */ ([[w / 2, inks.step], [w * 0.32, inks.dark]])) { pen.beginPath(); pen.ellipse(cx, cy, r, (r * h) / w, 0, 0, 7); pen.fillStyle = ink; pen.fill(); pen.stroke(); }
  } else if (kind === "pillar") {
    pen.fillStyle = inks.wall;
    if (round) { pen.beginPath(); pen.ellipse(cx, cy, w / 2, h / 2, 0, 0, 7); pen.fill(); } else pen.fillRect(x, y, w, h);
  } else {
    pen.fillStyle = inks.step;
    pen.fillRect(x, y, w, h);
    pen.strokeRect(x, y, w, h);
    pen.fillStyle = inks.wall;
    pen.font = `${Math.min(w, h) * 0.6}px serif`;
    pen.textAlign = "center";
    pen.textBaseline = "middle";
    pen.fillText(kind[0]?.toUpperCase() || "", cx, cy);
  }
  pen.restore();
}

// ---- kept squares of pixels

export class Chunks {
  constructor() {
    /** @type {Map<string, {canvas: HTMLCanvasElement, scale: number, i: number, j: number, fresh: boolean, used: number}>} */
    this.kept = new Map();
    this.tick = 0;
  }

  /** @param {Box|null} changed cells; null: all. What is shown stays until it is drawn anew. */
  spoil(changed) {
    for (const chunk of this.kept.values()) {
      const size = CHUNK / chunk.scale;
      if (!changed || overlap([chunk.i * size - 1.2, chunk.j * size - 1.2, size + 2.4, size + 2.4], changed)) chunk.fresh = false;
    }
  }

  clear() { this.kept.clear(); }

  /**
   * Copies what the window shows; draws missing squares as long as there is time.
   * @param {Pen} pen with pixels as its unit @param {Camera} eye @param {[number, number]} size @param {number} dense device pixels per pixel
   * @param {(pen: Pen, scale: number, part: Box) => void} draw @param {boolean} moving whether the window is being zoomed @returns {boolean} whether all of it is drawn
   */
  show(pen, eye, size, dense, draw, moving) {
    const { scale } = eye, left = eye.x * scale, top = eye.y * scale, begun = performance.now();
    let whole = true;
    this.tick++;
    const wanted = [];
    for (let j = Math.floor(top / CHUNK); j * CHUNK < top + size[1]; j++) for (let i = Math.floor(left / CHUNK); i * CHUNK < left + size[0]; i++) wanted.push([i, j]);
    const missing = wanted.filter(([i, j]) => !this.kept.get(`${scale}/${i}/${j}`));
    if (missing.length) this.#stretched(pen, eye, size, scale);
    for (const [i, j] of wanted) {
      const key = `${scale}/${i}/${j}`;
      let chunk = this.kept.get(key);
      const time = performance.now() - begun < BUDGET_MS;
      if ((!chunk || !chunk.fresh) && time && !(moving && !chunk && this.kept.size > wanted.length)) chunk = this.#drawn(key, i, j, scale, dense, draw);
      if (!chunk || !chunk.fresh) whole = false;
      if (!chunk) continue;
      chunk.used = this.tick;
      pen.drawImage(chunk.canvas, Math.round((i * CHUNK - left) * dense) / dense, Math.round((j * CHUNK - top) * dense) / dense, CHUNK, CHUNK);
    }
    if (this.kept.size > MOST_CHUNKS) for (const [key] of [...this.kept].sort((a, b) => a[1].used - b[1].used).slice(0, this.kept.size - MOST_CHUNKS)) this.kept.delete(key);
    return whole;
  }

  /**
   * Draws one more square just outside of the window, for a hand that pulls on.
   * @param {Camera} eye @param {[number, number]} size @param {number} dense @param {(pen: Pen, scale: number, part: Box) => void} draw @returns {boolean} whether there was one to draw
   */
  ahead(eye, size, dense, draw) {
    const { scale } = eye, left = eye.x * scale, top = eye.y * scale;
    for (let j = Math.floor(top / CHUNK) - 1; (j - 1) * CHUNK < top + size[1]; j++) for (let i = Math.floor(left / CHUNK) - 1; (i - 1) * CHUNK < left + size[0]; i++) {
      const key = `${scale}/${i}/${j}`, chunk = this.kept.get(key);
      if (chunk?.fresh) { chunk.used = this.tick; continue; }
      this.#drawn(key, i, j, scale, dense, draw);
      return true;
    }
    return false;
  }

  /** @param {string} key @param {number} i @param {number} j @param {number} scale @param {number} dense @param {(pen: Pen, scale: number, part: Box) => void} draw */
  #drawn(key, i, j, scale, dense, draw) {
    const was = this.kept.get(key), canvas = was?.canvas || document.createElement("canvas"), side = Math.round(CHUNK * dense);
    if (canvas.width !== side) canvas.width = canvas.height = side;
    const pen = /** @type {Pen} */ (canvas.getContext("2d"));
    pen.setTransform(1, 0, 0, 1, 0, 0);
    pen.clearRect(0, 0, side, side);
    pen.setTransform(scale * dense, 0, 0, scale * dense, -i * CHUNK * dense, -j * CHUNK * dense);
    draw(pen, scale, [(i * CHUNK) / scale, (j * CHUNK) / scale, CHUNK / scale, CHUNK / scale]);
    const chunk = { canvas, scale, i, j, fresh: true, used: this.tick };
    this.kept.set(key, chunk);
    return chunk;
  }

  /** @param {Pen} pen @param {Camera} eye @param {[number, number]} size @param {number} scale what was drawn at another scale, until there is better */
  #stretched(pen, eye, size, scale) {
    const other = [...this.kept.values()].filter((c) => c.scale !== scale).sort((a, b) => b.used - a.used)[0];
    if (!other) return;
    for (const chunk of this.kept.values()) {
      if (chunk.scale !== other.scale) continue;
      const side = CHUNK / chunk.scale, [x, y] = toScreen(eye, chunk.i * side, chunk.j * side), wide = side * scale;
      if (x > size[0] || y > size[1] || x + wide < 0 || y + wide < 0) continue;
      chunk.used = this.tick;
      pen.drawImage(chunk.canvas, x, y, wide, wide);
    }
  }
}

// ---- names

const widths = new Map();

/** @param {Pen} pen @param {string} name @param {number} size @returns {number} its width in pixels */
function nameWidth(pen, name, size) {
  let wide = widths.get(name);
  if (wide === undefined) {
    pen.font = nameFont(16);
    if (widths.size > 4000) widths.clear();
    widths.set(name, (wide = pen.measureText(name).width / 16));
  }
  return wide * size;
}

/** @param {number} size */
export const nameFont = (size) => `italic ${size}px "Iowan Old Style", Charter, "Noto Serif", Georgia, serif`;

/**
 * Where the names of rooms stand: in the middle, or above or below what stands there, or upwards; left out where there is no room for them.
 * @param {Pen} pen @param {Scene} scene @param {number} scale @returns {{letter: string, name: string, at: Point, size: number, box: Box, over?: boolean, upright?: boolean}[]} over: it runs over walls
 */
export function placeNames(pen, scene, scale) {
  const font = Math.max(NAME_LEAST, Math.min(NAME_MOST, scale * 0.34)), found = [];
  if (scale < 6) return [];
  for (const room of scene.rooms.values()) {
    const wide = (nameWidth(pen, room.name, font) + 6) / scale, high = (font * 1.25) / scale;
    const stamps = scene.stamps.filter((/** @type {any} */ s) => overlap(s.box, room.box));
    let best = null;
    for (const [dx, dy] of [[0, 0], [0, -0.75], [0, 0.75], [0, -1.25], [0, 1.25], [-1, 0], [1, 0], [0, -2], [0, 2], [-1.5, -1], [1.5, 1]]) {
      const at = /** @type {Point} */ ([room.centre[0] + dx, room.centre[1] + dy]), box = /** @type {Box} */ ([at[0] - wide / 2, at[1] - high / 2, wide, high]);
      if (stamps.some((/** @type {any} */ s) => overlap(s.box, box)) || walled(scene, box)) continue;
      const inside = (/** @type {number} */ out) => [-out / wide, 0.25, 0.5, 0.75, 1 + out / wide].every((share) => (
        [at[1] - high / 2 - out, at[1] + high / 2 + out].every((y) => scene.roomAt([box[0] + wide * share, y]) === room.letter)));
      if (inside(scene.wall)) { best = { letter: room.letter, name: room.name, at, size: font, box }; break; }
      if (!best && inside(-0.02)) best = { letter: room.letter, name: room.name, at, size: font, box };
    }
    if (!best && !stamps.length && wide > room.box[2] && wide < room.box[3] && high < room.box[2]) best = { letter: room.letter, name: room.name, at: room.centre, size: font, upright: true, over: true, box: /** @type {Box} */ ([room.centre[0] - high / 2, room.centre[1] - wide / 2, high, wide]) };
    if (!best && !stamps.length && wide < room.box[2]) best = { letter: room.letter, name: room.name, at: room.centre, size: font, over: true, box: /** @type {Box} */ ([room.centre[0] - wide / 2, room.centre[1] - high / 2, wide, high]) };
    if (best) found.push(best);
  }
  return found;
}

/** @param {Scene} scene @param {Box} box @returns {boolean} whether a wall within a room runs through a box */
function walled(scene, [x, y, w, h]) {
  if (!scene.walls.size) return false;
  for (let r = Math.floor(y); r <= Math.floor(y + h); r++) for (let c = Math.floor(x); c <= Math.floor(x + w); c++) {
    if (c > x && scene.walls.has(lineKey({ level: false, c, r }))) return true;
    if (r > y && scene.walls.has(lineKey({ level: true, c, r }))) return true;
  }
  return false;
}

// ---- what moves: marks over the plan, in pixels

/** @param {Pen} pen @param {Inks} inks @param {Camera} eye @param {Scene} scene @param {Mark} mark */
export function drawMark(pen, inks, eye, scene, mark) {
  const ink = mark.tone === "fault" ? inks.fault : mark.tone === "do" ? inks.do : inks.name, soft = mark.tone === "fault" ? inks.faultSoft : mark.tone === "do" ? inks.doSoft : inks.shade;
  const { scale } = eye;
  pen.save();
  pen.strokeStyle = ink;
  pen.fillStyle = soft;
  pen.lineWidth = 2;
  if (mark.form === "cells") {
    const path = mark.tone === "quiet" ? null : new Path2D();
    const own = new Set(mark.cells.map(String));
    for (const [c, r] of mark.cells) {
      const [x, y] = toScreen(eye, c, r);
      pen.fillRect(x, y, scale, scale);
      if (!path) continue;
      if (!own.has(`${c},${r - 1}`)) { path.moveTo(x, y); path.lineTo(x + scale, y); }
      if (!own.has(`${c},${r + 1}`)) { path.moveTo(x, y + scale); path.lineTo(x + scale, y + scale); }
      if (!own.has(`${c - 1},${r}`)) { path.moveTo(x, y); path.lineTo(x, y + scale); }
      if (!own.has(`${c + 1},${r}`)) { path.moveTo(x + scale, y); path.lineTo(x + scale, y + scale); }
    }
    if (path) { pen.lineCap = "square"; pen.stroke(path); }
  } else if (mark.form === "ring") {
    pen.beginPath();
    mark.ring.forEach((p, i) => { const [x, y] = toScreen(eye, ...p); if (i) pen.lineTo(x, y); else pen.moveTo(x, y); });
    if (mark.dashed) pen.setLineDash([7, 5]);
    if (!mark.open) { pen.closePath(); pen.fill(); }
    pen.stroke();
  } else if (mark.form === "door") {
    const [x, y] = toScreen(eye, ...mark.at), half = Math.max(7, (mark.width * scale) / 2), deep = Math.max(5, scene.wall * scale + 3);
    pen.transform(mark.along[0], mark.along[1], -mark.along[1], mark.along[0], x, y);
    pen.fillStyle = inks.paper;
    pen.beginPath();
    pen.roundRect(-half, -deep, 2 * half, 2 * deep, 3);
    pen.fill();
    pen.fillStyle = soft;
    pen.fill();
    pen.stroke();
    pen.beginPath();
    pen.moveTo(-half + 3, 0);
    pen.lineTo(half - 3, 0);
    pen.stroke();
  } else if (mark.form === "lines") {
    pen.lineWidth = Math.max(4, 2 * scene.wall * scale);
    pen.globalAlpha = mark.tone === "quiet" ? 0.3 : 0.8;
    pen.beginPath();
    for (const line of mark.lines) { const [a, b] = endsOf(line).map((p) => toScreen(eye, ...p)); pen.moveTo(...a); pen.lineTo(...b); }
    pen.stroke();
  } else if (mark.form === "moved") drawThing(pen, eye, scene, mark.thing, mark.by, true);
  else if (mark.form === "stamp") {
    const [x, y] = toScreen(eye, mark.box[0], mark.box[1]);
    pen.fillRect(x - 2, y - 2, mark.box[2] * scale + 4, mark.box[3] * scale + 4);
    pen.globalAlpha = 0.75;
    const tinted = { ...inks, wall: ink, dark: ink, step: soft };
    pen.translate(x, y);
    pen.scale(scale, scale);
    drawStamp(pen, tinted, mark.kind, [0, 0, mark.box[2], mark.box[3]], mark.side, false, 1 / scale);
  } else if (mark.form === "tag") drawTag(pen, inks, toScreen(eye, ...mark.at), mark.text, ink);
  pen.restore();
}

/** @param {Pen} pen @param {Inks} inks @param {Point} at @param {string} text @param {string} ink a label that stands above a point */
export function drawTag(pen, inks, [x, y], text, ink) {
  pen.font = '600 13px system-ui, "Noto Sans", sans-serif';
  const wide = pen.measureText(text).width + 18;
  pen.fillStyle = ink;
  pen.beginPath();
  pen.roundRect(x - wide / 2, y - 31, wide, 24, 5);
  pen.fill();
  pen.fillStyle = inks.paper;
  pen.textAlign = "center";
  pen.textBaseline = "middle";
  pen.fillText(text, x, y - 18.5);
}

/**
 * The outline of a thing, here or moved.
 * @param {Pen} pen with its colours set @param {Camera} eye @param {Scene} scene @param {import("./scene.js").Thing} thing @param {Point} by @param {boolean} filled
 */
export function drawThing(pen, eye, scene, thing, by, filled) {
  const { scale } = eye;
  if (thing.what === "room") {
    const room = scene.rooms.get(thing.letter);
    if (!room) return;
    const edge = new Path2D(), face = new Path2D();
    for (const [c, r] of scene.cellsOf(thing.letter)) {
      const [x, y] = toScreen(eye, c + by[0], r + by[1]);
      face.rect(x, y, scale, scale);
      if (scene.at(c, r - 1) !== thing.letter) { edge.moveTo(x, y); edge.lineTo(x + scale, y); }
      if (scene.at(c, r + 1) !== thing.letter) { edge.moveTo(x, y + scale); edge.lineTo(x + scale, y + scale); }
      if (scene.at(c - 1, r) !== thing.letter) { edge.moveTo(x, y); edge.lineTo(x, y + scale); }
      if (scene.at(c + 1, r) !== thing.letter) { edge.moveTo(x + scale, y); edge.lineTo(x + scale, y + scale); }
    }
    for (const index of room.shapes) for (const ring of scene.outlines[index].rings) {
      const path = new Path2D();
      ring.forEach((/** @type {Point} */ p, /** @type {number} */ i) => { const [x, y] = toScreen(eye, p[0] + by[0], p[1] + by[1]); if (i) path.lineTo(x, y); else path.moveTo(x, y); });
      path.closePath();
      face.addPath(path);
      edge.addPath(path);
    }
    if (filled) pen.fill(face);
    pen.lineCap = "square";
    pen.stroke(edge);
    return;
  }
  if (thing.what === "door") {
    const door = scene.doors[thing.index];
    if (!door) return;
    const [x, y] = toScreen(eye, door.at[0] + by[0], door.at[1] + by[1]), half = (door.width * scale) / 2 + 4, deep = scene.wall * scale + 5;
    pen.save();
    pen.transform(door.along[0], door.along[1], -door.along[1], door.along[0], x, y);
    pen.beginPath();
    pen.roundRect(-half, -deep, 2 * half, 2 * deep, 4);
    pen.stroke();
    pen.restore();
    return;
  }
  const stamp = scene.stamps[thing.index];
  if (!stamp) return;
  const [x, y] = toScreen(eye, stamp.box[0] + by[0], stamp.box[1] + by[1]);
  pen.beginPath();
  pen.roundRect(x - 3, y - 3, stamp.box[2] * scale + 6, stamp.box[3] * scale + 6, 3);
  if (filled) pen.fill();
  pen.stroke();
}

/** @param {Pen} pen @param {Inks} inks @param {Point} at @param {boolean} small a fault where it is */
export function drawPin(pen, inks, [x, y], small) {
  const r = small ? 6 : 11, cy = y - r - 2;
  pen.save();
  pen.translate(x, cy);
  pen.rotate(Math.PI / 4);
  pen.fillStyle = inks.fault;
  pen.strokeStyle = inks.paper;
  pen.lineWidth = 2;
  pen.beginPath();
  pen.roundRect(-r * 0.8, -r * 0.8, r * 1.6, r * 1.6, 2);
  pen.fill();
  pen.stroke();
  pen.restore();
  if (small) return;
  pen.fillStyle = inks.paper;
  pen.fillRect(x - 1.25, cy - 5.5, 2.5, 7);
  pen.fillRect(x - 1.25, cy + 3, 2.5, 2.5);
}

/**
 * Pins that are far enough from each other, the first ones first.
 * @template {{x: number, y: number}} P
 * @param {P[]} pins @param {number} scale @param {number} [apart] pixels @returns {(P & {index: number})[]}
 */
export function thinned(pins, scale, apart = 110) {
  const found = /** @type {(P & {index: number})[]} */ ([]);
  pins.forEach((pin, index) => { if (found.every((p) => Math.hypot(p.x - pin.x, p.y - pin.y) * scale >= apart)) found.push({ ...pin, index }); });
  return found;
}
