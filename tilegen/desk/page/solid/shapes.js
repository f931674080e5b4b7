// @ts-check
// From outlines and STL files to triangles: no page, no library.
import { inside, ringsOf, signedArea } from "../sheet/squares.js";

/** @typedef {[number, number]} Point */

/** Regions of rings by the even-odd rule: each an outline, anticlockwise, and its holes. @param {Point[][]} all */
export function regions(all) {
  const depth = all.map((ring, k) => all.filter((other, j) => j !== k && Math.abs(signedArea(other)) > Math.abs(signedArea(ring)) && inside(between(ring), other)).length);
  return all.flatMap((ring, k) => depth[k] % 2 ? [] : [{
    outline: turned(ring, true),
    holes: all.filter((hole, j) => depth[j] === depth[k] + 1 && inside(between(hole), ring)).map((hole) => turned(hole, false)),
  }]);
}

/** A point just inside a ring. @param {Point[]} ring @returns {Point} */
function between(ring) {
  const [[a, b], [c, d]] = ring, long = Math.hypot(c - a, d - b) || 1, by = signedArea(ring) > 0 ? 1e-3 : -1e-3;
  return [(a + c) / 2 - ((d - b) / long) * by, (b + d) / 2 + ((c - a) / long) * by];
}

/** @param {Point[]} ring @param {boolean} round anticlockwise */
const turned = (ring, round) => (signedArea(ring) > 0 === round ? ring : [...ring].reverse());

/**
 * Triangles of outlines that are raised from one height to another.
 * @param {string} path @param {number} low @param {number} high
 * @param {(outline: Point[], holes: Point[][]) => number[][]} cut triangles of a region, as numbers of its corners
 * @returns {number[]} corners of triangles, x, y, z
 */
export function prism(path, low, high, cut) {
  const found = /** @type {number[]} */ ([]);
  for (const { outline, holes } of regions(ringsOf(path))) {
    const corners = [outline, ...holes].flat();
    for (const [a, b, c] of cut(outline, holes)) {
      found.push(...corners[a], high, ...corners[b], high, ...corners[c], high);
      found.push(...corners[c], low, ...corners[b], low, ...corners[a], low);
    }
    for (const ring of [outline, ...holes]) ring.forEach(([x, y], k) => {
      const [u, v] = ring[(k + 1) % ring.length];
      found.push(x, y, low, u, v, low, u, v, high, x, y, low, u, v, high, x, y, high);
    });
  }
  return found;
}

/** The triangles of a binary STL: 80 bytes, a count, 50 bytes each (normal, three corners). @param {ArrayBuffer} buffer */
export function readStl(buffer) {
  const data = new DataView(buffer), count = data.getUint32(80, true), corners = new Float32Array(count * 9);
  for (let t = 0; t < count; t += 1) for (let k = 0; k < 9; k += 1) corners[t * 9 + k] = data.getFloat32(84 + 50 * t + 12 + 4 * k, true);
  return corners;
}

/** A normal for each corner: that of its triangle. @param {Float32Array} corners */
export function normals(corners) {
  const found = new Float32Array(corners.length);
  for (let t = 0; t < corners.length; t += 9) {
    const [ax, ay, az, bx, by, bz, cx, cy, cz] = corners.subarray(t, t + 9);
    const x = (by - ay) * (cz - az) - (bz - az) * (cy - ay), y = (bz - az) * (cx - ax) - (bx - ax) * (cz - az), z = (bx - ax) * (cy - ay) - (by - ay) * (cx - ax);
    const long = Math.hypot(x, y, z) || 1;
    for (let k = 0; k < 9; k += 3) { found[t + k] = x / long; found[t + k + 1] = y / long; found[t + k + 2] = z / long; }
  }
  return found;
}

/**
 * Which of the tiles lies under a point of the map.
 * @param {import("../types.js").Tiles} tiles @param {Point} point in mm @param {Map<string, Point[][]>} known rings by path
 * @returns {number | null} its number in `lie`
 */
export function tileUnder(tiles, [x, y], known = new Map()) {
  for (let k = tiles.lie.length - 1; k >= 0; k -= 1) {
    const [shape, a, b, c, d, e, f] = tiles.lie[k];
    if (Math.abs(x - e) > 6 * tiles.cell_mm || Math.abs(y - f) > 6 * tiles.cell_mm) continue;
    const { floor } = tiles.shapes[shape], turn = a * d - b * c, dx = x - e, dy = y - f;
    if (!known.has(floor)) known.set(floor, ringsOf(floor));
    const own = /** @type {Point} */ ([(d * dx - c * dy) / turn, (a * dy - b * dx) / turn]);
    if ((known.get(floor) || []).filter((ring) => inside(own, ring)).length % 2) return k;
  }
  return null;
}
