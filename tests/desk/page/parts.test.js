// What stands round the sheet, as far as it needs no page: outlines to triangles, lengths, sentences, a picture squared.
import assert from "node:assert/strict";
import { test } from "node:test";
import { rowsOf } from "../page/plans.js";
import { gridSays, narrow, short, verdict } from "../page/side/fit.js";
import { mm } from "../page/sheet/lengths.js";
import { inside, ringsOf } from "../page/sheet/squares.js";
import { normals, prism, readStl, regions, tileUnder } from "../page/solid/shapes.js";
import { figures } from "../page/strip.js";
import { squared } from "../page/trace.js";

const near = (a, b, by = 1e-9) => assert.ok(Math.abs(a - b) <= by, `${a} is not ${b}`);
const SQUARE = "M0 0L10 0L10 10L0 10Z", FRAME = `${SQUARE}M2 2L8 2L8 8L2 8Z`;

/** Triangles of a region without holes as a fan, of one with a square hole by its eight corners. */
function cut(outline, holes) {
  if (!holes.length) return outline.slice(2).map((_, k) => [0, k + 1, k + 2]);
  // The hole's corners run the other way round from its nearest corner: each side is two triangles.
  const found = [], mate = outline.map(([x, y]) => 4 + holes[0].reduce((best, [u, v], k) => (Math.hypot(u - x, v - y) < Math.hypot(holes[0][best][0] - x, holes[0][best][1] - y) ? k : best), 0));
  for (let k = 0; k < 4; k += 1) { const n = (k + 1) % 4; found.push([k, n, mate[n]], [k, mate[n], mate[k]]); }
  return found;
}

/** Volume inside a closed mesh, by the divergence theorem. */
function volume(corners) {
  let sum = 0;
  for (let t = 0; t < corners.length; t += 9) {
    const [ax, ay, az, bx, by, bz, cx, cy, cz] = corners.slice(t, t + 9);
    sum += ax * (by * cz - bz * cy) - ay * (bx * cz - bz * cx) + az * (bx * cy - by * cx);
  }
  return sum / 6;
}

test("rings and regions of path data, whichever way round they are written", () => {
  assert.equal(ringsOf(FRAME).length, 2);
  for (const path of [FRAME, "M0 0L0 10L10 10L10 0ZM2 2L8 2L8 8L2 8Z", `M2 2L2 8L8 8L8 2Z${SQUARE}`]) {
    const found = regions(ringsOf(path));
    assert.equal(found.length, 1);
    assert.equal(found[0].holes.length, 1);
  }
  const island = regions(ringsOf(`${FRAME}M4 4L6 4L6 6L4 6Z`));
  assert.deepEqual(island.map((one) => one.holes.length), [1, 0]);
  assert.ok(inside([5, 5], ringsOf(SQUARE)[0]) && !inside([11, 5], ringsOf(SQUARE)[0]));
});

test("a prism holds its area times its height, and is closed", () => {
  near(volume(prism(SQUARE, 1, 4, cut)), 300);
  const frame = prism(FRAME, 0, 5, cut);
  near(volume(frame), (100 - 36) * 5);
  const edges = new Map();
  for (let t = 0; t < frame.length; t += 9) for (let k = 0; k < 3; k += 1) {
    const [a, b] = [k, (k + 1) % 3].map((j) => frame.slice(t + 3 * j, t + 3 * j + 3).join());
    edges.set(`${a}>${b}`, (edges.get(`${a}>${b}`) || 0) + 1);
  }
  for (const [edge, count] of edges) { const [a, b] = edge.split(">"); assert.equal(edges.get(`${b}>${a}`), count); }
});

test("a binary STL is read and its normals are one long", () => {
  const data = new DataView(new ArrayBuffer(84 + 50));
  data.setUint32(80, 1, true);
  [0, 0, 0, 2, 0, 0, 0, 3, 0].forEach((v, k) => data.setFloat32(96 + 4 * k, v, true));
  const corners = readStl(data.buffer);
  assert.deepEqual([...corners], [0, 0, 0, 2, 0, 0, 0, 3, 0]);
  assert.deepEqual([...normals(corners)], [0, 0, 1, 0, 0, 1, 0, 0, 1]);
});

test("lengths as they are written in a plan", () => {
  // 1 in = 25.4 mm exactly: international yard and pound agreement, 1959.
  for (const [text, wanted] of [["1.5 in", 38.1], ["1/4 in", 6.35], ["1 1/2 in", 38.1], ["31.75 mm", 31.75], ["2 cm", 20], ["12", 12], ['1"', 25.4], ["", 7], ["a lot", 7], [undefined, 7]]) near(mm(text, 7), wanted);
});

test("the tile below a point, turned ones too", () => {
  const shape = { id: "a", floor: "M0 0L20 0L20 10L0 10Z" }, tiles = { cell_mm: 10, shapes: [shape], lie: [[0, 1, 0, 0, -1, 0, 10], [0, 0, 1, 1, 0, 30, 0]] };
  assert.equal(tileUnder(tiles, [15, 5]), 0);
  assert.equal(tileUnder(tiles, [35, 15]), 1);
  assert.equal(tileUnder(tiles, [45, 15]), null);
});

test("a picture is squared: two of its points come to lie where they belong, and its sides keep their proportion", () => {
  const corners = [[1, 2], [9, 8]], points = [[3, 3], [7, 4]], wanted = [[3, 3], [13, 3]], found = squared(corners, points, wanted);
  const moved = squared([points[0], points[1]], points, wanted);
  moved.flat().forEach((v, k) => near(v, wanted.flat()[k]));
  near(Math.hypot(found[1][0] - found[0][0], found[1][1] - found[0][1]), 10 * 10 / Math.hypot(4, 1), 1e-9);
});

test("what is said of figures", () => {
  const all = { word: "1 in", base_mm: 25.4, positions: 9, stands: 9, rooms: 8, rooms_reached: 8, stops: [] };
  assert.equal(verdict(all), "1 in figures reach all 8 rooms.");
  assert.equal(short(all), "everywhere");
  const some = { ...all, word: "2 in", rooms_reached: 3, stops: [{}, {}] };
  assert.equal(verdict({ ...some, from: "A" }, { letters: { A: { title: "Kiln" } } }), "2 in figures reach 3 of 8 rooms from Kiln and stop at 2 places.");
  assert.equal(verdict({ ...some, rooms_reached: 0, stops: [], from: "." }), "2 in figures get into none of the 8 rooms from outside.");
  assert.equal(short(some), "2 stops");
  assert.equal(verdict({ ...all, word: "large", positions: 0 }), "No place is large enough for large figures.");
  assert.equal(verdict({ ...all, rooms: 1, rooms_reached: 1, word: "large" }), "Large figures can stand in the room.");
  assert.equal(verdict({ word: "a cat", wrong: "not a length" }), "a cat: not a length.");
});

test("what is said of a grid that was found, and of rooms that are too narrow", () => {
  const found = { pitch: "1.5 in", tile: "3 in", now: "1.25 in", larger: true, same: false, cannot: [], edits: [] };
  assert.match(gridSays(found), /^Spaces of 1.5 in let these figures stand everywhere.* Squares are then 3 in wide. Your spaces are 1.25 in.$/);
  assert.match(gridSays({ ...found, larger: false, pitch: "1.1 in" }), /^These figures stand everywhere on your spaces of 1.25 in. Spaces of 1.1 in are enough/);
  assert.match(gridSays({ ...found, larger: false, same: true }), /No smaller ones will do/);
  assert.equal(narrow({ what: "room", width_mm: 25.4 }, { measures: {} }), "has room for bases up to 1 in");
  assert.equal(narrow({ what: "room", width_mm: 0 }, { measures: {} }), "is too narrow");
  assert.equal(narrow({ what: "neck", width_mm: 25.4 }, { measures: {} }), "has room in one place for bases up to 1 in");
  assert.equal(narrow({ what: "doorway", width_mm: 25.4 }, { measures: {} }), "doorway, 1 in");
});

test("the strip leaves out what is not known yet", () => {
  const totals = { tiles: 91, types: 1, pieces: 0, own: null, make: null, sheets: null, beds: 3, hours: null, print_hours: 14.53, cost: null };
  assert.deepEqual(figures({ totals, narrowest: { mm: 27.94 } }, { measures: {} }).map(([value, words]) => `${value} ${words}`), ["91 tiles", "1 type", "3 print beds", "15 h printing", "1.1 in narrowest way"]);
  assert.deepEqual(figures({ totals: { ...totals, tiles: 0 }, narrowest: null }, {}), []);
  assert.deepEqual(figures(null, {}), []);
});

test("the rows of a plan's text", () => {
  assert.deepEqual(rowsOf('name = "X"\ndrawing = """\nA A .\n. B B\n"""\n'), ["AA.", ".BB"]);
  assert.deepEqual(rowsOf("no drawing"), ["."]);
});
