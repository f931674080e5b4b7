// The parts of the sheet that need no page: camera, squares, what lies under the pointer, what a press would do, the hand.
import assert from "node:assert/strict";
import { test } from "node:test";
import { fitted, grown, pinched, pulled, toPlan, toScreen, zoomed } from "../page/sheet/camera.js";
import { Hand } from "../page/sheet/hand.js";
import { hit, knobsOf, wallReach } from "../page/sheet/hit.js";
import { drag, hover, movedBy, turned, turnedStamp } from "../page/sheet/intent.js";
import { thinned } from "../page/sheet/paint.js";
import { Scene, lineOf, placeOf, stepped } from "../page/sheet/scene.js";
import { changedBox, comingOf, shifted } from "../page/sheet/sheet.js";
import { arcRing, caveRing, cavePatch, cellsOf, circleRing, covers, crosses, distance, freeLetter, hallRing, inside, pulledBox, quarterArc, ringsOf, signedArea, strokeBox } from "../page/sheet/squares.js";

/** Equal numbers from a seed (Numerical Recipes, 2nd ed., 7.1: the quick and dirty generator). */
function random(seed) {
  let state = seed >>> 0;
  return () => { state = (Math.imul(state, 1664525) + 1013904223) >>> 0; return state / 2 ** 32; };
}
const near = (a, b, by = 1e-9) => assert.ok(Math.abs(a - b) <= by, `${a} is not ${b}`);
const PLAN = { name: "A trial", scale: "10 ft", cell_mm: 63.5, spaces: 2, letters: {}, shapes: [], ways: [], walls: [], features: [], stamps: { pillar: { across: 0.2, round: false }, well: { across: 0.5, round: true } } };
const way = (cell, side, spot, along, more = {}) => ({ cell, side, kind: "doorway", leaf: "", spot, along, span: 0.44, ...more });
const TWO = { ...PLAN, rows: ["AAABB.", "AAABB.", "......"], ways: [way([3, 1], "east", [3, 0.5], [0, 1])] };
const KEYS = { shift: false, alt: false, ctrl: false };

function world(plan, more = {}) {
  const scene = more.scene || new Scene(plan);
  return { scene, scale: 40, touch: false, armed: "room", selection: [], keys: KEYS, quarters: 0, adding: null, free: () => "Z", tools: null, ghostRoom: null, ...more };
}
const press = (w, at) => ({ at, hit: hit(w, at), path: [at] });

const area = (ring) => Math.abs(signedArea(ring));

test("a point on the sheet goes to the screen and back", () => {
  const next = random(1);
  for (let i = 0; i < 200; i++) {
    const eye = { x: next() * 99 - 50, y: next() * 99 - 50, scale: 2 + next() * 200 }, p = [next() * 900, next() * 900];
    const [x, y] = toScreen(eye, ...toPlan(eye, ...p));
    near(x, p[0], 1e-6); near(y, p[1], 1e-6);
  }
});

test("zooming keeps what is under the pointer, pinching what is under both fingers", () => {
  const eye = { x: 3, y: -2, scale: 40 }, at = toPlan(eye, 300, 200);
  near(toPlan(zoomed(eye, 1.7, 300, 200), 300, 200)[0], at[0]);
  const before = [[100, 100], [300, 250]], now = [[80, 120], [480, 420]], found = pinched(eye, before, now);
  for (const i of [0, 1]) for (const axis of [0, 1]) near(toPlan(found, ...now[i])[axis], toPlan(eye, ...before[i])[axis], 1e-9);
  assert.equal(zoomed(eye, 1e9, 0, 0).scale, 240);
});

test("all of a drawing is in the window, and a drawing that grows stays where it is seen", () => {
  const eye = fitted([-2, 3, 40, 20], [800, 600]), [x, y] = toScreen(eye, -2, 3), [ex, ey] = toScreen(eye, 38, 23);
  assert.ok(x >= 0 && y >= 0 && ex <= 800 && ey <= 600);
  assert.deepEqual(toScreen(grown(eye, 5, 2), 3, 5), toScreen(eye, -2, 3));
  assert.deepEqual(toPlan(pulled(eye, 10, -4), 10, -4), toPlan(eye, 0, 0));
});

test("a hand that aims at corners of squares and misses by 8 pixels draws what it aimed at", () => {
  const next = random(7);
  let wrong = 0;
  for (const scale of [24, 40, 56]) for (let i = 0; i < 2000; i++) {
    const miss = () => ((next() * 2 - 1) * 8) / scale, w = 1 + Math.floor(next() * 8), h = 1 + Math.floor(next() * 8), c = Math.floor(next() * 9), r = Math.floor(next() * 9);
    const [east, south] = [next() < 0.5, next() < 0.5];
    const from = [east ? c : c + w, south ? r : r + h], to = [east ? c + w : c, south ? r + h : r];
    const box = strokeBox([from[0] + miss(), from[1] + miss()], [to[0] + miss(), to[1] + miss()], scale);
    if (String(box) !== String([c, r, w, h])) wrong++;
  }
  assert.equal(wrong, 0);
});

test("a stroke within one square is that square", () => {
  assert.deepEqual(strokeBox([2.4, 3.3], [2.5, 3.4], 40), [2, 3, 1, 1]);
  assert.equal(cellsOf([0, 0, 3, 2]).length, 6);
});

test("outlines: a circle, a hall, a quarter circle, and a cave drawn by hand", () => {
  near(area(circleRing([0, 0], 2, 720)), Math.PI * 4, 1e-3);
  near(area(hallRing([0, 0], [3, 4], 1)), 5);
  for (const other of [false, true]) {
    const arc = quarterArc([0, 0], [4, 0], other), ends = [arc.from, arc.to].map((d) => [arc.centre[0] + arc.radius * Math.cos((d * Math.PI) / 180), arc.centre[1] + arc.radius * Math.sin((d * Math.PI) / 180)]);
    near(arc.to - arc.from, 90, 1e-6);
    assert.ok(ends.some((p) => distance(p, [0, 0]) < 1e-6) && ends.some((p) => distance(p, [4, 0]) < 1e-6));
    near(area(arcRing(arc, 1)), (Math.PI / 2) * arc.radius, 0.01);
  }
  const drawn = Array.from({ length: 120 }, (_, i) => [5 + 3 * Math.cos(i / 19.1), 5 + 2 * Math.sin(i / 19.1)]), ring = caveRing(drawn);
  assert.ok(ring && ring.length < 60 && !crosses(ring));
  near(area(ring), Math.PI * 6, 0.6);
  assert.equal(caveRing([[0, 0], [5, 0], [0, 0.01], [5, 0.01], [0, 0]]), null);
  assert.ok(!crosses(cavePatch()) && area(cavePatch()) > 4);
});

test("path data with commas and without is read, holes as rings of their own", () => {
  assert.deepEqual(ringsOf("M0 0L4,0L4 4L0 4ZM1 1L2 1L2 2L1 1Z"), [[[0, 0], [4, 0], [4, 4], [0, 4]], [[1, 1], [2, 1], [2, 2]]]);
  assert.ok(inside([1, 1], [[0, 0], [4, 0], [4, 4], [0, 4]]));
});

test("a line has one name from both of its squares", () => {
  assert.deepEqual(lineOf([2, 3], "south"), lineOf([2, 4], "north"));
  assert.deepEqual(lineOf([2, 3], "east"), lineOf([3, 3], "west"));
  assert.deepEqual(placeOf(lineOf([2, 3], "east")), { cell: [3, 3], side: "west" });
});

test("what lies under the pointer: door, wall, floor, ground", () => {
  const w = world(TWO);
  assert.deepEqual(hit(w, [3.05, 0.5]), { on: "door", index: 0 });
  assert.equal(hit(w, [2.9, 1.5]).on, "wall");
  assert.deepEqual(hit(w, [1.5, 1.3]), { on: "floor", letter: "A" });
  assert.equal(hit(w, [5.5, 0.5]).on, "ground");
  assert.equal(hit(w, [2.5, 2.1]).on, "wall");
  assert.equal(hit({ ...w, scale: 14 }, [2.95, 1.5]).on, "floor", "no walls where squares are under 15 pixels");
  assert.equal(wallReach(24, false), 0.24);
  assert.equal(wallReach(40, false), 0.2);
  assert.equal(wallReach(40, true), 0.3);
});

test("knobs outrank all, and stand 15 pixels outside; small rooms have corners only", () => {
  const selection = [{ what: "room", letter: "A" }], w = world(TWO, { selection });
  const knobs = knobsOf(w.scene, selection[0], 56);
  assert.equal(knobs.length, 8);
  near(knobs.find((k) => k.knob === "nw").at[0], -15 / 56);
  assert.equal(knobsOf(w.scene, selection[0], 24).length, 4);
  assert.equal(hit(w, [-15 / 40, -15 / 40]).on, "knob");
});

test("every hover says what a click does, and a click does what the hover showed", () => {
  const w = world(TWO);
  const door = hover(w, [2.95, 1.5]);
  assert.deepEqual(door.edits, [{ do: "way", cell: [4, 2], side: "west", kind: "doorway" }]);
  assert.equal(door.marks[0].form, "door");
  assert.match(door.hint, /doorway between Room A and Room B/);
  assert.deepEqual(hover(w, [1.5, 1.3]).select, [{ what: "room", letter: "A" }]);
  assert.equal(hover(world(TWO, { selection: [{ what: "room", letter: "A" }] }), [1.5, 1.3]).rename, "A");
  assert.equal(hover(w, [5.5, 2.5]).edits, undefined);
  const ghost = hover(world({ ...PLAN, rows: ["....", "...."] }, { ghostRoom: [0, 0, 4, 3] }), [1, 1]);
  assert.equal(ghost.edits[0].cells.length, 12);
});

test("a door to solid ground is written from the side of the floor", () => {
  assert.deepEqual(hover(world(TWO), [0.05, 1.5]).edits, [{ do: "way", cell: [1, 2], side: "west", kind: "doorway" }]);
  assert.deepEqual(hover(world(TWO), [2.5, 2.05]).edits, [{ do: "way", cell: [3, 2], side: "south", kind: "doorway" }]);
});

test("a new room takes free squares only", () => {
  const w = world(TWO), intent = drag(w, press(w, [5.5, 2.5]), [2.1, 0.1]);
  assert.deepEqual(intent.edits[0].cells.map(String).sort(), ["3,3", "4,3", "5,3", "6,1", "6,2", "6,3"]);
  assert.equal(drag(w, { at: [0.5, 0.5], hit: { on: "ground" }, path: [] }, [2.5, 1.5]).edits, undefined);
});

test("a room moves with its doors, and not onto another one, whose name is said", () => {
  const w = world(TWO), found = press(w, [1.5, 1.3]);
  assert.deepEqual(drag(w, found, [1.5, 4.2]).edits, [{ do: "move", room: "A", by: [0, 3] }]);
  const refused = drag(w, found, [3.4, 1.3]);
  assert.equal(refused.edits, undefined);
  assert.equal(refused.wrong, "Room B is in the way");
  assert.equal(refused.look, "not-allowed");
  assert.deepEqual(drag({ ...w, keys: { ...KEYS, alt: true } }, found, [1.5, 4.2]).edits, [{ do: "copy", room: "A", to: "Z", by: [0, 3] }]);
  assert.equal(drag({ ...w, keys: { ...KEYS, alt: true } }, found, [1.5, 2.2]).edits, undefined, "a copy on itself");
  assert.deepEqual(movedBy(w, [{ what: "room", letter: "B" }], [1, 0], false).edits, [{ do: "move", room: "B", by: [1, 0] }]);
});

test("from a bare wall outwards a room is drawn, inwards the room moves", () => {
  const w = world(TWO);
  const out = press(w, [1.5, 1.98]), down = drag(w, out, [0.1, 4.9]);
  assert.equal(down.edits[0].do, "paint");
  const inward = press(w, [4.95, 1.5]);
  drag(w, inward, [4.5, 1.6]);
  const moved = drag(w, inward, [3.9, 3.6]);
  assert.equal(moved.edits?.[0].do, "move");
  assert.equal(moved.edits[0].room, "B");
});

test("squares are added with Shift and taken with Ctrl", () => {
  const w = world(TWO, { selection: [{ what: "room", letter: "A" }], keys: { ...KEYS, shift: true } });
  assert.deepEqual(drag(w, press(w, [0.2, 2.2]), [1.9, 2.9]).edits, [{ do: "paint", cells: [[1, 3], [2, 3]], room: "A" }]);
  const taking = { ...w, keys: { ...KEYS, ctrl: true } };
  assert.deepEqual(drag(taking, press(taking, [0.5, 0.5]), [0.6, 0.6]).edits, [{ do: "paint", cells: [[1, 1]], room: "." }]);
});

test("with Shift and nothing selected a band selects", () => {
  const w = world(TWO, { keys: { ...KEYS, shift: true } });
  assert.deepEqual(drag(w, press(w, [5.9, 2.9]), [0, 0]).select.map((t) => t.letter), ["A", "B"]);
});

test("a door slides along walls, but not onto another door", () => {
  const plan = { ...TWO, ways: [...TWO.ways, way([4, 2], "west", [3, 1.5], [0, 1])] }, w = world(plan);
  assert.equal(drag(w, press(w, [3, 0.5]), [3.1, 1.6]).edits, undefined);
  assert.deepEqual(drag(w, press(w, [3, 0.5]), [1.4, 1.9]).edits, [{ do: "way-slide", index: 0, cell: [2, 2], side: "south" }]);
  assert.equal(drag(w, press(w, [3, 0.5]), [3.02, 0.6]).edits, undefined, "where it was");
});

test("a room is resized by its knobs, and never turned inside out", () => {
  const w = world(TWO, { selection: [{ what: "room", letter: "A" }], scale: 56 }), knob = knobsOf(w.scene, w.selection[0], 56).find((k) => k.knob === "s");
  const found = { at: knob.at, hit: hit(w, knob.at), path: [] };
  assert.deepEqual(drag(w, found, [knob.at[0], knob.at[1] + 2.1]).edits, [{ do: "resize", room: "A", box: [0, 0, 3, 4] }]);
  assert.deepEqual(drag(w, found, [knob.at[0], -9]).edits, [{ do: "resize", room: "A", box: [0, 0, 3, 1] }]);
  assert.deepEqual(pulledBox([0, 0, 3, 2], "w", [9, 0]), [2, 0, 1, 2]);
});

test("the shelf: round room, hall, bent hall, cave, walls within a room", () => {
  const armed = (tool, more) => world(TWO, { armed: tool, ...more });
  assert.deepEqual(hover(armed("round"), [9.1, 5.2]).edits, [{ do: "shape", room: "Z", circle: { centre: [9, 5], radius: 1.5 } }]);
  assert.equal(hover(armed("round"), [1, 1]).edits, undefined);
  const round = armed("round");
  assert.deepEqual(drag(round, press(round, [9, 5]), [13.1, 8]).edits[0].circle, { centre: [11, 7], radius: 2 }, "from corner to corner");
  assert.deepEqual(drag(round, press(round, [9, 8]), [8, 5.9]).edits[0].circle, { centre: [8, 7], radius: 1 }, "whichever corner comes first");
  const plan = { ...PLAN, rows: ["AAA...BBB", "AAA...BBB"] }, hall = world(plan, { armed: "hall" });
  assert.deepEqual(drag(hall, press(hall, [1.5, 1]), [7.6, 0.9]).edits, [{ do: "hall", room: "Z", from: [1.5, 1], to: [7.5, 1], width: 1 }]);
  assert.equal(drag(hall, press(hall, [0.5, 1]), [2.5, 1]).edits, undefined, "within one room");
  const bent = armed("bent"), arc = drag(bent, press(bent, [6, 6]), [10, 6]).edits[0].arc;
  near(arc.to - arc.from, 90, 1e-6);
  const wall = armed("wall");
  assert.deepEqual(drag(wall, press(wall, [0.1, 1.05]), [2.9, 1.1]).edits.map((e) => e.cell), [[1, 2], [2, 2], [3, 2]]);
  assert.ok(hover(armed("cave"), [9, 9]).edits[0].polygon.length >= 8);
});

test("stamps go on floors, with a direction, and not onto each other", () => {
  const feature = { kind: "pit", cell: [1, 1], to: null, at: null, size: [], values: {}, front: "", box: [0.1, 0.1, 0.8, 0.8] };
  const w = world({ ...TWO, features: [feature] }, { armed: "stair", quarters: 1 });
  assert.deepEqual(hover(w, [1.5, 1.5]).edits, [{ do: "feature", kind: "stair", cell: [2, 2], values: { side: "east", height: "1/2 in" } }]);
  assert.equal(hover(w, [0.5, 0.5]).edits, undefined);
  assert.equal(hover(w, [5.5, 2.5]).edits, undefined);
  assert.deepEqual(hover({ ...w, armed: "pillar" }, [1.55, 1.45]).edits, [{ do: "feature", kind: "pillar", cell: [2, 2] }]);
  assert.deepEqual(hover({ ...w, armed: "pillar" }, [1.8, 1.45]).edits, [{ do: "feature", kind: "pillar", cell: [2, 2], at: [1.5, 1] }]);
  const dais = { ...w, armed: "dais" };
  assert.deepEqual(drag(dais, press(dais, [1.5, 0.5]), [2.5, 1.5]).edits, [{ do: "feature", kind: "dais", cell: [2, 1], to: [3, 2] }]);
  const idle = { ...w, armed: "room" };
  assert.deepEqual(drag(idle, press(idle, [0.5, 0.5]), [2.5, 1.4]).edits, [{ do: "feature-move", index: 0, cell: [3, 2] }]);
});

test("a stair to a higher floor takes its height from there", () => {
  const w = world({ ...TWO, letters: { B: { title: "", floor: "12 mm" } } }, { armed: "stair", quarters: 1 });
  assert.deepEqual(hover(w, [2.5, 1.5]).edits[0].values, { side: "east" });
});

test("squares that wait for an answer are drawn, west and north of the drawing too", () => {
  const scene = new Scene(TWO, null, new Map([["-2,-1", "C"], ["-1,-1", "C"], ["0,0", "."]]));
  assert.equal(scene.at(-2, -1), "C");
  assert.equal(scene.at(0, 0), ".");
  assert.equal(scene.at(1, 0), "A");
  assert.deepEqual(scene.rooms.get("C").box, [-2, -1, 2, 1]);
  assert.deepEqual(changedBox(new Scene(TWO), scene), [-2, -1, 3, 2]);
});

test("edits that wait move along when the drawing grows", () => {
  assert.deepEqual(shifted({ do: "paint", cells: [[1, 1]], room: "A" }, 2, 3), { do: "paint", cells: [[3, 4]], room: "A" });
  assert.deepEqual(shifted({ do: "resize", room: "A", box: [0, 0, 2, 2] }, 2, 3).box, [2, 3, 2, 2]);
  assert.deepEqual(shifted({ do: "move", room: "A", by: [1, 1] }, 2, 3).by, [1, 1]);
});

test("a round room: its wall takes doors, its knobs change its radius", () => {
  const ring = circleRing([9, 5], 2).map((p) => p.join(" ")).join("L"), shape = { room: "R", form: "circle", path: `M${ring}Z`, at: [9, 5], values: { centre: [9, 5], radius: 2 } };
  const w = world({ ...TWO, shapes: [shape] }), found = hit(w, [11.05, 5]);
  assert.equal(found.on, "wall");
  assert.equal(hover(w, [11.05, 5]).edits[0].do, "point-way");
  assert.equal(hit(w, [9.4, 5]).letter, "R");
  const picked = { ...w, selection: [{ what: "room", letter: "R" }] }, knob = knobsOf(w.scene, picked.selection[0], 40)[0];
  const pulledOut = drag(picked, { at: knob.at, hit: hit(picked, knob.at), path: [] }, [knob.at[0] + 1, 5]);
  assert.deepEqual(pulledOut.edits, [{ do: "shape-change", index: 0, circle: { centre: [9, 5], radius: 3 } }]);
  assert.equal(drag(w, press(w, [1.5, 1.3]), [8.5, 4.3]).wrong, "Room R is in the way");
});

test("pins stand at least 110 pixels from each other", () => {
  const next = random(3), pins = Array.from({ length: 400 }, () => ({ x: next() * 60, y: next() * 60 })), found = thinned(pins, 30);
  for (const a of found) for (const b of found) if (a !== b) assert.ok(Math.hypot(a.x - b.x, a.y - b.y) * 30 >= 110);
  assert.equal(found[0].index, 0);
});

// ---- the hand

function hands(plan = TWO, more = {}) {
  const log = [], host = {
    eye: { x: -2, y: -2, scale: 40 }, picking: null, more,
    world: (touch, keys) => world(plan, { touch, keys, ...host.more }),
    show: (intent) => { host.shown = intent; },
    act: (intent) => log.push(intent),
    look: (eye) => { host.eye = eye; },
  };
  return { hand: new Hand(host), host, log };
}
const at = (x, y, more = {}) => ({ id: 1, x: (x + 2) * 40, y: (y + 2) * 40, touch: false, keys: KEYS, ...more });
const finger = (x, y, id = 1) => at(x, y, { touch: true, id });

test("press, stroke, lift: one edit; a click: what the hover showed", () => {
  const { hand, log } = hands();
  hand.move(at(5.5, 2.5)); hand.begin(at(5.2, 2.2)); hand.move(at(5.8, 4.6)); hand.end(at(5.8, 4.6));
  assert.equal(log[0].edits[0].do, "paint");
  hand.begin(at(2.95, 1.5)); hand.end(at(2.95, 1.5));
  assert.equal(log[1].edits[0].do, "way");
});

test("a second finger in mid-stroke drops it: no edit, and the sheet follows both", () => {
  const { hand, host, log } = hands();
  hand.begin(finger(5.2, 2.2)); hand.move(finger(5.8, 4.6)); hand.begin(finger(1, 1, 2));
  const before = host.eye;
  hand.move(finger(2, 2, 2));
  assert.notDeepEqual(host.eye, before);
  hand.end(finger(2, 2, 2)); hand.move(finger(0, 0)); hand.end(finger(0, 0));
  assert.deepEqual(log, []);
  assert.equal(hand.state, "rest");
});

test("by touch a floor that is not selected pulls the sheet; one that is moves", () => {
  const { hand, host, log } = hands();
  hand.begin(finger(1.5, 1.3)); hand.move(finger(1.5, 4.3)); hand.end(finger(1.5, 4.3));
  assert.ok(log.every((i) => !i.edits));
  assert.ok(host.eye.y < -2);
  const picked = hands(TWO, { selection: [{ what: "room", letter: "A" }] });
  picked.hand.begin(finger(1.5, 1.3)); picked.hand.move(finger(1.5, 4.3)); picked.hand.end(finger(1.5, 4.3));
  assert.equal(picked.log[0].edits[0].do, "move");
});

test("a finger on a wall shows a door, slides to choose, lifts to put; 64 pixels outwards it draws a room, inwards it drops", () => {
  const { hand, host, log } = hands();
  hand.begin(finger(1.5, 2));
  assert.equal(host.shown.marks[0].form, "door");
  hand.move(finger(0.5, 2.1)); hand.end(finger(0.5, 2.1));
  assert.deepEqual(log[0].edits, [{ do: "way", cell: [1, 2], side: "south", kind: "doorway" }]);
  hand.begin(finger(1.5, 2)); hand.move(finger(1.5, 3.2)); hand.move(finger(0.5, 4.9));
  assert.equal(host.shown.marks[0].form, "cells");
  hand.end(finger(0.5, 4.9));
  assert.deepEqual(log[1].edits, [{ do: "paint", cells: [[1, 3], [2, 3], [1, 4], [2, 4], [1, 5], [2, 5]], room: "Z" }]);
  hand.begin(finger(1.5, 2)); hand.move(finger(1.5, 0.4)); hand.move(finger(1.5, 0.2)); hand.end(finger(1.5, 0.2));
  assert.ok(!log[2].edits || log[2].edits[0].do === "way", "inwards, near another wall: a doorway there, never a room");
  const deep = hands({ ...PLAN, rows: Array(9).fill("AAAAAAAAA") });
  deep.hand.begin(finger(4.5, 9)); deep.hand.move(finger(4.5, 4.5)); deep.hand.end(finger(4.5, 4.5));
  assert.equal(deep.log[0].edits, undefined);
  hand.begin(finger(1.5, 2)); hand.move(finger(1.5, 4.9)); hand.move(finger(1.5, 2.1)); hand.end(finger(1.5, 2.1));
  assert.equal(log.at(-1).edits[0].do, "way", "back where it began");
});

test("an arrow towards a wall of the room turns the cursor, and goes on when it is pressed again", () => {
  const scene = new Scene(TWO);
  const turns = stepped(scene, { c: 2, r: 1, side: "south" }, "east");
  assert.deepEqual(turns, { c: 2, r: 1, side: "east" });
  assert.deepEqual(stepped(scene, turns, "east"), { c: 3, r: 1, side: "east" });
  assert.deepEqual(stepped(scene, { c: 1, r: 0, side: "south" }, "east"), { c: 2, r: 0, side: "east" }, "on a floor it goes");
  assert.deepEqual(stepped(scene, { c: 5, r: 0, side: "south" }, "west"), { c: 4, r: 0, side: "west" }, "on ground too");
});

test("turning and mirroring are shown beforehand: four turns and two mirrorings give the room back", () => {
  const rows = ["AA...", "A....", "A....", ".....", "....."], w = world({ ...PLAN, rows });
  assert.deepEqual(turned(w, "A", "turn").marks[0].cells.map(String).sort(), ["0,0", "1,0", "2,0", "2,1"]);
  assert.deepEqual(turned(w, "A", "mirror").marks[0].cells.map(String).sort(), ["0,0", "1,0", "1,1", "1,2"]);
  const put = (cells) => rows.map((row, r) => [...row].map((_, c) => (cells.some(([x, y]) => x === c && y === r) ? "A" : ".")).join(""));
  let now = rows;
  for (const how of ["turn", "turn", "turn", "turn", "mirror", "mirror"]) now = put(turned(world({ ...PLAN, rows: now }), "A", how).marks[0].cells);
  assert.deepEqual(now, rows);
  const shut = turned(world({ ...PLAN, rows: ["AAAA", "BBBB"] }), "A", "turn");
  assert.equal(shut.marks[0].tone, "fault");
  assert.match(shut.hint, /Room B is in the way/);
  const ring = [[1, 1], [3, 1], [3, 2]].map((p) => p.join(" ")).join("L"), shape = { room: "H", form: "polygon", path: `M${ring}Z`, at: null, values: [] };
  const mark = turned(world({ ...PLAN, rows, shapes: [shape] }), "H", "mirror").marks[0];
  assert.deepEqual(mark.ring.map(String).sort(), ["1,1", "1,2", "3,1"]);
  const stair = { kind: "stair", cell: [1, 1], to: null, at: null, size: [], values: {}, box: [0, 0, 1, 1], front: "north" };
  assert.equal(turnedStamp(world({ ...PLAN, rows, features: [stair] }), 0).marks[0].side, "east");
});

test("a shape that waits for its answer is known to the next stroke", () => {
  const w = world({ ...PLAN, rows: ["AA....", "AA....", "......", "......"] }, { armed: "round" }), round = drag(w, press(w, [3, 1]), [5, 3]);
  const coming = comingOf(round.edits, round.marks), scene = new Scene(w.scene.plan, null, new Map(), coming), next = world(null, { scene, free: () => "Y" });
  assert.equal(scene.roomAt([4, 2]), "Z");
  assert.deepEqual(drag(next, press(next, [2.1, 0.1]), [5.9, 3.9]).edits[0].cells.map(String).sort(), ["3,1", "3,2", "3,3", "3,4", "4,1", "4,4", "5,1", "5,4", "6,1", "6,2", "6,3", "6,4"]);
  assert.deepEqual(drag(next, press(next, [4, 2]), [4, 7]).edits, [{ do: "move", room: "Z", by: [0, 5] }]);
  assert.deepEqual(comingOf([{ do: "paint" }], round.marks), []);
});

test("a stroke that began before the answer came goes on with what the answer says is there", () => {
  const { hand, host, log } = hands();
  hand.begin(at(5.2, 2.2)); hand.move(at(5.2, 2.6));
  host.more.scene = new Scene({ ...TWO, rows: ["AAABB.", "AAABB.", ".....C"] });
  hand.again(); hand.move(at(5.2, 4.4)); hand.end(at(5.2, 4.4));
  assert.deepEqual(log[0].edits, [{ do: "move", room: "C", by: [0, 2] }]);
});

test("Esc drops a stroke; the middle button and the space bar pull the sheet", () => {
  const { hand, host, log } = hands();
  hand.begin(at(5.2, 2.2)); hand.move(at(5.8, 4.6));
  assert.equal(hand.drop(), true);
  hand.move(at(5.9, 4.9)); hand.end(at(5.9, 4.9));
  assert.deepEqual(log, []);
  hand.begin(at(1.5, 1.3, { button: 1 })); hand.move(at(2.5, 1.3)); hand.end(at(2.5, 1.3));
  assert.equal(host.eye.x, -3);
  hand.pulling = true;
  hand.begin(at(5.5, 2.5)); hand.move(at(5.5, 3.5)); hand.end(at(5.5, 3.5));
  assert.deepEqual(log, []);
  assert.equal(hand.drop(), false);
});

test("random hands never leave the hand in the middle of something, and never break", () => {
  for (let seed = 1; seed <= 60; seed++) {
    const next = random(seed), selection = next() < 0.4 ? [{ what: "room", letter: "A" }] : [], armed = ["room", "round", "hall", "bent", "cave", "wall", "stair", "pillar"][Math.floor(next() * 8)];
    const { hand, log } = hands(TWO, { selection, armed: selection.length ? "room" : armed, quarters: Math.floor(next() * 4) }), down = new Set();
    for (let i = 0; i < 80; i++) {
      const id = 1 + Math.floor(next() * 2), t = at(next() * 10 - 2, next() * 8 - 2, { id, touch: id === 2 || next() < 0.3, keys: { shift: next() < 0.2, alt: next() < 0.2, ctrl: next() < 0.1 } }), what = next();
      if (what < 0.25 && !down.has(id)) { hand.begin(t); down.add(id); } else if (what < 0.75) hand.move(t); else if (what < 0.95) { hand.end(t); down.delete(id); } else if (what < 0.98) hand.drop(); else { hand.lost(t); down.delete(id); }
    }
    for (const id of down) hand.end(at(0, 0, { id }));
    assert.equal(hand.state, "rest");
    for (const intent of log) for (const edit of intent.edits || []) assert.ok(edit.do && !JSON.stringify(edit).includes("null"), JSON.stringify(edit));
  }
});

test("squares that a slanting hall covers in part are not free", () => {
  const ring = hallRing([5, 3], [9, 6], 1).map((p) => p.join(" ")).join("L"), shape = { room: "H", form: "polygon", path: `M${ring}Z`, at: null, values: [] };
  const scene = new Scene({ ...TWO, shapes: [shape] }), w = world(TWO, { scene });
  const cells = drag(w, { at: [4, 2], hit: { on: "ground" }, path: [] }, [10, 7]).edits[0].cells;
  assert.ok(cells.length > 15 && cells.length < 24);
  for (const [c, r] of cells) for (const p of [[0.1, 0.1], [0.9, 0.1], [0.5, 0.5], [0.1, 0.9], [0.9, 0.9]]) assert.notEqual(scene.roomAt([c - 1 + p[0], r - 1 + p[1]]), "H");
  const tip = [[4.95, 4.95], [9, 3.9], [9, 5]];
  assert.ok(covers(tip, [4, 4]), "a tip that reaches a twentieth into a square");
  assert.ok(!covers([[5, 5], [8, 5], [8, 7]], [4, 4]) && !covers([[5, 4], [6, 4], [6, 5], [5, 5]], [4, 4]), "what only touches it");
  assert.equal(scene.owner([0, 0]), "A");
  assert.equal(scene.owner([0, 0], "A"), ".");
});

test("a letter that no room has", () => {
  assert.equal(freeLetter((letter) => "ABD".includes(letter)), "C");
  assert.equal(freeLetter((letter) => letter < "z" || letter === "z"), "À");
});

test("a doorway's width is pulled at its ends, by steps, as far as its wall has room", () => {
  const tiles = { at: 1, cell_mm: 63.5, wall_mm: 6.35, shapes: [], lie: [], doors: { across: [], down: [], most: { 0: 0.7 }, width: 0.44 } };
  const scene = new Scene({ ...TWO, at: 1 }, tiles), w = world(TWO, { scene, selection: [{ what: "door", index: 0 }], scale: 56 }), [, knob] = knobsOf(scene, w.selection[0], 56);
  near(knob.at[1], 0.5 + 0.22 + 15 / 56);
  assert.equal(hit(w, knob.at).on, "knob");
  assert.deepEqual([hit(w, [3, knob.at[1] + 18 / 56]).on, hit({ ...w, touch: true }, [3, knob.at[1] + 18 / 56]).on], ["wall", "knob"]);
  assert.deepEqual(knobsOf(scene, w.selection[0], 30), []);
  assert.equal(hover(w, knob.at).marks[1].text, "1.1 in wide");
  const pulled = (by, plan = w) => drag(plan, press(plan, knob.at), [3, knob.at[1] + by]);
  assert.equal(pulled(0).edits, undefined);
  assert.deepEqual(pulled(0.06).edits, [{ do: "way-change", index: 0, width: "1.4 in" }]);
  assert.deepEqual(pulled(5).edits, [{ do: "way-change", index: 0, width: "1.7 in" }]);
  assert.match(pulled(5).hint, /no room for more/);
  assert.deepEqual(pulled(-1).edits, [{ do: "way-change", index: 0, width: "0.3 in" }]);
  const metric = world(TWO, { ...w, scene: new Scene({ ...TWO, at: 1, measures: { pitch: "32 mm" } }, tiles) });
  assert.deepEqual(pulled(5, metric).edits, [{ do: "way-change", index: 0, width: "44 mm" }]);
  const open = new Scene({ ...TWO, ways: [way([3, 1], "east", [3, 0.5], [0, 1], { kind: "open" })] });
  assert.deepEqual([knobsOf(open, w.selection[0], 56), open.widths(open.doors[0])], [[], []]);
});
