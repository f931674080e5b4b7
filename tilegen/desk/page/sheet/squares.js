// @ts-check
// Arithmetic of squares, lines and outlines: no page, no plan.

/**
 * @typedef {[number, number]} Point
 * @typedef {[number, number, number, number]} Box  x, y, width, height in cells
 * @typedef {"north"|"east"|"south"|"west"} Side
 */

/** @type {Side[]} */
export const SIDES = ["north", "east", "south", "west"];
/** @type {Record<Side, Point>} */
export const STEP = { north: [0, -1], east: [1, 0], south: [0, 1], west: [-1, 0] };

/** @param {Side} side @param {number} quarters clockwise @returns {Side} */
export const turnedSide = (side, quarters) => SIDES[(SIDES.indexOf(side) + quarters + 8) % 4];

/**
 * How much of a square must be touched before it counts: a quarter, and more where squares are small, so that a hand
 * that misses a corner by 8 pixels still draws what it aimed at.
 * @param {number} scale pixels per cell
 */
export const leastTouched = (scale) => Math.min(0.45, Math.max(0.25, 9 / scale));

/** @param {number} a @param {number} b @param {number} least @returns {Point} the first whole number covered and how many */
function covered(a, b, least) {
  const [low, high] = a < b ? [a, b] : [b, a];
  let first = Math.floor(low), last = Math.ceil(high) - 1;
  if (last > first && first + 1 - low < least) first++;
  if (last > first && high - last < least) last--;
  return [first, Math.max(1, last - first + 1)];
}

/**
 * The squares of a stroke from corner to corner: rows and columns that it hardly touches don't count.
 * @param {Point} from @param {Point} to @param {number} scale @returns {Box}
 */
export function strokeBox(from, to, scale) {
  const least = leastTouched(scale), [x, w] = covered(from[0], to[0], least), [y, h] = covered(from[1], to[1], least);
  return [x, y, w, h];
}

/** @param {Box} box @returns {Point[]} its squares, row by row */
export function cellsOf([x, y, w, h]) {
  const found = /** @type {Point[]} */ ([]);
  for (let r = y; r < y + h; r++) for (let c = x; c < x + w; c++) found.push([c, r]);
  return found;
}

/** @param {Point[]} points @returns {Box} */
export function boxOf(points) {
  let [west, north, east, south] = [Infinity, Infinity, -Infinity, -Infinity];
  for (const [x, y] of points) {
    west = Math.min(west, x); east = Math.max(east, x);
    north = Math.min(north, y); south = Math.max(south, y);
  }
  return points.length ? [west, north, east - west, south - north] : [0, 0, 0, 0];
}

/** @param {Box|null} a @param {Box|null} b @returns {Box|null} the box round both */
export function joined(a, b) {
  if (!a || !b) return a || b;
  const x = Math.min(a[0], b[0]), y = Math.min(a[1], b[1]);
  return [x, y, Math.max(a[0] + a[2], b[0] + b[2]) - x, Math.max(a[1] + a[3], b[1] + b[3]) - y];
}

/** @param {Box} a @param {Box} b */
export const overlap = (a, b) => a[0] < b[0] + b[2] && b[0] < a[0] + a[2] && a[1] < b[1] + b[3] && b[1] < a[1] + a[3];

/** @param {Box} box @param {Point} p */
export const inBox = ([x, y, w, h], [px, py]) => px >= x && py >= y && px <= x + w && py <= y + h;

/** @param {number} value @param {number} step */
export const snapped = (value, step) => Math.round(value / step) * step;

/** @param {Point} p @param {number} step @returns {Point} */
export const snappedPoint = (p, step) => [snapped(p[0], step), snapped(p[1], step)];

/** @param {Point} a @param {Point} b */
export const distance = (a, b) => Math.hypot(a[0] - b[0], a[1] - b[1]);

/**
 * The nearest point of a segment.
 * @param {Point} p @param {Point} a @param {Point} b @returns {{at: Point, far: number, along: Point}} along: the segment's direction, of length 1
 */
export function nearestOn(p, a, b) {
  const dx = b[0] - a[0], dy = b[1] - a[1], long = Math.hypot(dx, dy) || 1e-9;
  const share = Math.max(0, Math.min(1, ((p[0] - a[0]) * dx + (p[1] - a[1]) * dy) / (long * long)));
  const at = /** @type {Point} */ ([a[0] + share * dx, a[1] + share * dy]);
  return { at, far: distance(p, at), along: [dx / long, dy / long] };
}

/** @param {Point} p @param {Point[]} ring closed @returns {boolean} whether a point lies inside (even-odd) */
export function inside(p, ring) {
  let found = false;
  for (let i = 0, j = ring.length - 1; i < ring.length; j = i++) {
    const [ax, ay] = ring[i], [bx, by] = ring[j];
    if (ay > p[1] !== by > p[1] && p[0] < ((bx - ax) * (p[1] - ay)) / (by - ay) + ax) found = !found;
  }
  return found;
}

/**
 * Whether a side runs through the inside of a box (Liang and Barsky 1984, from memory).
 * @param {Point} a @param {Point} b @param {Box} box
 */
function through(a, b, [x, y, w, h]) {
  const dx = b[0] - a[0], dy = b[1] - a[1];
  let from = 0, to = 1;
  for (const [p, q] of [[-dx, a[0] - x], [dx, x + w - a[0]], [-dy, a[1] - y], [dy, y + h - a[1]]]) {
    if (p === 0) { if (q <= 0) return false; } else if (p < 0) from = Math.max(from, q / p); else to = Math.min(to, q / p);
  }
  return from < to;
}

/** What only touches a square does not cover it, in squares. */
const TOUCHING = 0.004;

/** @param {Point[]} ring @param {Point} cell @returns {boolean} whether an outline covers a part of a square */
export function covers(ring, [c, r]) {
  const box = /** @type {Box} */ ([c + TOUCHING, r + TOUCHING, 1 - 2 * TOUCHING, 1 - 2 * TOUCHING]);
  return inside([c + 0.5, r + 0.5], ring) || ring.some((p, i) => through(p, ring[(i + 1) % ring.length], box));
}

/** @param {Point[]} ring @returns {number} its area; below 0 if it runs clockwise while y runs up */
export function signedArea(ring) {
  let sum = 0;
  for (let i = 0, j = ring.length - 1; i < ring.length; j = i++) sum += ring[j][0] * ring[i][1] - ring[i][0] * ring[j][1];
  return sum / 2;
}

/** @param {string} path SVG path data of moves, lines and closings @returns {Point[][]} its rings of three corners and more */
export function ringsOf(path) {
  return path.split("M").filter(Boolean).map((ring) => {
    const points = /** @type {Point[]} */ (ring.replace(/[Zz\s]+$/, "").split("L").map((p) => p.trim().split(/[ ,]+/).map(Number)));
    if (points.length > 1 && distance(points[0], points[points.length - 1]) < 1e-9) points.pop();
    return points;
  }).filter((ring) => ring.length > 2);
}

/** @param {Box} box @param {number[]} matrix a, b, c, d, e, f of SVG @returns {Box} the box round a box that is turned and moved */
export const turnedBox = ([x, y, w, h], [a, b, c, d, e = 0, f = 0]) => boxOf([[x, y], [x + w, y], [x, y + h], [x + w, y + h]].map(([u, v]) => [a * u + c * v + e, b * u + d * v + f]));

/** The letters that rooms get, and in which order. */
const LETTERS = "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789";

/** @param {(letter: string) => boolean} taken @returns {string} the first letter that is free, beyond the Latin ones if it must be */
export function freeLetter(taken) {
  for (const letter of LETTERS) if (!taken(letter)) return letter;
  for (let code = 0xc0; code < 0x2000; code++) {
    const letter = String.fromCharCode(code);
    if (/^\p{L}$/u.test(letter) && !taken(letter)) return letter;
  }
  return "A";
}

/** @param {Point} centre @param {number} radius @param {number} [count] @returns {Point[]} a circle as corners */
export function circleRing(centre, radius, count = 72) {
  return Array.from({ length: count }, (_, i) => /** @type {Point} */ ([
    centre[0] + radius * Math.cos((2 * Math.PI * i) / count), centre[1] + radius * Math.sin((2 * Math.PI * i) / count)]));
}

/** @param {Point} from @param {Point} to @param {number} width @returns {Point[]} a straight hall as corners */
export function hallRing(from, to, width) {
  const long = distance(from, to) || 1e-9, nx = (-(to[1] - from[1]) / long) * (width / 2), ny = ((to[0] - from[0]) / long) * (width / 2);
  return [[from[0] + nx, from[1] + ny], [to[0] + nx, to[1] + ny], [to[0] - nx, to[1] - ny], [from[0] - nx, from[1] - ny]];
}

/**
 * The quarter circle between two points.
 * @param {Point} from @param {Point} to @param {boolean} other whether it bends to the other hand
 * @returns {{centre: Point, radius: number, from: number, to: number}} angles in degrees, clockwise from the east, the way y runs south; from < to
 */
export function quarterArc(from, to, other) {
  const sign = other ? -1 : 1, mx = (from[0] + to[0]) / 2, my = (from[1] + to[1]) / 2;
  const hx = (to[0] - from[0]) / 2, hy = (to[1] - from[1]) / 2;
  const centre = /** @type {Point} */ ([mx - sign * hy, my + sign * hx]), radius = Math.hypot(hx, hy) * Math.SQRT2;
  const degrees = (/** @type {Point} */ p) => (Math.atan2(p[1] - centre[1], p[0] - centre[0]) * 180) / Math.PI;
  let [a, b] = other ? [degrees(to), degrees(from)] : [degrees(from), degrees(to)];
  a = ((Math.round(a * 1e6) / 1e6 % 360) + 360) % 360; b = ((Math.round(b * 1e6) / 1e6 % 360) + 360) % 360;
  if (b <= a) b += 360;
  return { centre, radius, from: a, to: b };
}

/** @param {{centre: Point, radius: number, from: number, to: number}} arc @param {number} width @returns {Point[]} a curved hall as corners */
export function arcRing({ centre, radius, from, to }, width) {
  const steps = Math.max(4, Math.ceil((to - from) / 5)), ring = /** @type {Point[]} */ ([]);
  const at = (/** @type {number} */ i, /** @type {number} */ r) => {
    const angle = ((from + ((to - from) * i) / steps) * Math.PI) / 180;
    ring.push([centre[0] + r * Math.cos(angle), centre[1] + r * Math.sin(angle)]);
  };
  for (let i = 0; i <= steps; i++) at(i, radius + width / 2);
  for (let i = steps; i >= 0; i--) at(i, Math.max(0, radius - width / 2));
  return ring;
}

/**
 * A line drawn by hand with only the corners that matter.
 * @param {Point[]} line @param {number} off the most that may be left out @returns {Point[]}
 */
export function simplified(line, off) {
  if (line.length < 3) return line;
  const first = line[0], last = line[line.length - 1];
  let worst = 0, where = 0;
  for (let i = 1; i < line.length - 1; i++) {
    const { far } = nearestOn(line[i], first, last);
    if (far > worst) { worst = far; where = i; }
  }
  if (worst <= off) return [first, last];
  return [...simplified(line.slice(0, where + 1), off).slice(0, -1), ...simplified(line.slice(where), off)];
}

/** @param {Point[]} ring @returns {boolean} whether two of its sides cross */
export function crosses(ring) {
  const side = (/** @type {Point} */ a, /** @type {Point} */ b, /** @type {Point} */ c) => Math.sign((b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0]));
  const n = ring.length;
  for (let i = 0; i < n; i++) for (let j = i + 2; j < n; j++) {
    if (i === 0 && j === n - 1) continue;
    const [a, b, c, d] = [ring[i], ring[(i + 1) % n], ring[j], ring[(j + 1) % n]];
    if (side(a, b, c) !== side(a, b, d) && side(c, d, a) !== side(c, d, b)) return true;
  }
  return false;
}

/** @param {Point[]} line drawn by hand round a cave @returns {Point[]|null} its corners, half a quarter square apart at most; null if there is no area */
export function caveRing(line) {
  if (line.length < 4) return null;
  const half = Math.floor(line.length / 2);
  const ring = [...simplified(line.slice(0, half + 1), 0.09).slice(0, -1), ...simplified(line.slice(half), 0.09)]
    .map((p) => snappedPoint(p, 0.05)).filter((p, i, all) => i === 0 || distance(p, all[i - 1]) > 0.12);
  if (ring.length > 3 && distance(ring[0], ring[ring.length - 1]) < 0.3) ring.pop();
  return ring.length < 3 || Math.abs(signedArea(ring)) < 0.75 || crosses(ring) ? null : ring;
}

/** @param {Point} [at] its middle @param {number} [wide] @returns {Point[]} a cave for those who only click: ten corners, the same every time */
export function cavePatch(at = [0, 0], wide = 4) {
  const bulges = [1, 0.82, 0.95, 0.74, 0.9, 1, 0.8, 0.93, 0.72, 0.88];
  return bulges.map((b, i) => snappedPoint([
    at[0] + (wide / 2) * b * Math.cos((2 * Math.PI * i) / bulges.length), at[1] + (wide / 2) * b * Math.sin((2 * Math.PI * i) / bulges.length)], 0.05));
}

/**
 * A box pulled by one of its knobs, in whole squares; it never turns inside out.
 * @param {Box} box @param {string} knob "n", "ne", ... @param {Point} by @param {number} [step] @param {number} [least] @returns {Box}
 */
export function pulledBox(box, knob, by, step = 1, least = step) {
  let [west, north] = box, [east, south] = [box[0] + box[2], box[1] + box[3]];
  if (knob.includes("w")) west = Math.min(snapped(west + by[0], step), east - least);
  if (knob.includes("e")) east = Math.max(snapped(east + by[0], step), west + least);
  if (knob.includes("n")) north = Math.min(snapped(north + by[1], step), south - least);
  if (knob.includes("s")) south = Math.max(snapped(south + by[1], step), north + least);
  return [west, north, east - west, south - north];
}
