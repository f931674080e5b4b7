// @ts-check
// What is drawn on the sheet, ready to be pointed at: rooms, lines, doors, stamps. Built from the plan as written.
import { length, stepOf } from "./lengths.js";
import { STEP, boxOf, covers, inside, joined, nearestOn, ringsOf, turnedBox } from "./squares.js";

/**
 * @typedef {import("./squares.js").Point} Point
 * @typedef {import("./squares.js").Box} Box
 * @typedef {import("./squares.js").Side} Side
 * @typedef {{level: boolean, c: number, r: number}} Line  one side of a square: level: the north side of (c, r), else its west side
 * @typedef {{letter: string, name: string, cells: number, box: Box, shapes: number[], centre: Point}} Room
 * @typedef {{index: number, kind: string, at: Point, along: Point, width: number, leaf: string, head: string, rooms: [string, string], line: Line|null, room: string|null}} Door
 *   at: its middle in cells; along: the direction of its wall; rooms: on the left and on the right of who looks along it, "." for solid ground
 * @typedef {{index: number, kind: string, box: Box, round: boolean, side: Side|null, room: string, free: boolean, values: any}} Stamp
 *   free: stands at a point of its square, not on all of it
 * @typedef {{index: number, room: string, form: string, rings: Point[][], box: Box, at: Point|null, values: any}} Outline
 * @typedef {{room: string, ring: Point[]}} Coming
 * @typedef {{what: "room", letter: string}|{what: "door", index: number}|{what: "stamp", index: number}} Thing
 */

/** Used until the program has said what they are: 1/4 in and 1.1 in. */
const USUAL_WALL_MM = 6.35, USUAL_DOOR_MM = 27.94;
export const EMPTY_PLAN = { name: "", scale: "10 ft", cell_mm: 63.5, spaces: 2, rows: ["."], letters: {}, shapes: [], ways: [], walls: [], features: [], stamps: {}, empty: true };

/** @param {Line} line */
export const lineKey = ({ level, c, r }) => `${level ? "h" : "v"}${c},${r}`;

/** @param {Point} cell counted from 1 @param {Side} side @returns {Line} */
export function lineOf([column, row], side) {
  const c = column - 1, r = row - 1;
  return side === "north" || side === "south"
    ? { level: true, c, r: r + (side === "south" ? 1 : 0) } : { level: false, c: c + (side === "east" ? 1 : 0), r };
}

/** @param {Line} line @returns {{cell: Point, side: Side}} as files name it: the square south or east of it, counted from 1 */
export const placeOf = ({ level, c, r }) => ({ cell: [c + 1, r + 1], side: level ? "north" : "west" });

/** @param {Line} line @returns {[Point, Point]} the squares on both sides */
export const beside = ({ level, c, r }) => (level ? [[c, r - 1], [c, r]] : [[c - 1, r], [c, r]]);

/** @param {Line} line @returns {[Point, Point]} its ends */
export const endsOf = ({ level, c, r }) => (level ? [[c, r], [c + 1, r]] : [[c, r], [c, r + 1]]);

/** @param {Thing|null|undefined} a @param {Thing|null|undefined} b */
export const same = (a, b) => !!a && !!b && a.what === b.what && ("letter" in a ? a.letter === /** @type {any} */ (b).letter : a.index === /** @type {any} */ (b).index);

/**
 * Where an arrow takes the cursor of the keyboard: towards a wall of the room that it is in it only turns at first.
 * @param {Scene} scene @param {{c: number, r: number, side: Side}} cursor @param {Side} side @returns {{c: number, r: number, side: Side}}
 */
export function stepped(scene, { c, r, side: was }, side) {
  const turns = was !== side && scene.at(c, r) !== "." && scene.standing(lineOf([c + 1, r + 1], side)), [dx, dy] = turns ? [0, 0] : STEP[side];
  return { c: c + dx, r: r + dy, side };
}

export class Scene {
  /**
   * @param {any} plan as the store holds it
   * @param {any} [tiles] what its tiles are, if that is known
   * @param {Map<string, string>} [painted] squares that are painted already but not answered yet: "c,r" to a letter
   * @param {Coming[]} [coming] outlines that are drawn already but not answered yet
   */
  constructor(plan, tiles = null, painted = new Map(), coming = []) {
    this.plan = plan || EMPTY_PLAN;
    this.cell = this.plan.cell_mm;
    this.spaces = this.plan.spaces;
    /** Thickness of a wall and width of the usual doorway, in cells. */
    this.wall = (tiles?.wall_mm || USUAL_WALL_MM) / this.cell;
    this.usualDoor = Math.min(0.9, tiles?.doors?.width || USUAL_DOOR_MM / this.cell);
    /** Where a doorway may stand; null while the drawing is ahead of the tiles. */
    this.takes = tiles && tiles.at === this.plan.at && !painted.size && !coming.length ? tiles.doors : null;
    /** The tiles, where walls are drawn as they stand on these: off the grid, and where doorways are nearly as wide as squares. */
    this.tiles = this.takes && (this.plan.shapes.length || this.spaces === 1) ? tilesByPlace(tiles) : null;
    /** @type {string[]} */
    this.rows = this.plan.rows.length ? [...this.plan.rows] : ["."];
    this.x0 = 0; this.y0 = 0;
    this.painted = painted;
    if (painted.size) this.#paint(painted);
    this.width = this.rows[0].length; this.height = this.rows.length;
    this.coming = coming;
    this.outlines = this.plan.shapes.map((/** @type {any} */ s, /** @type {number} */ i) => outline(s, i));
    for (const { room, ring } of coming) this.outlines.push({ index: this.outlines.length, room, form: "", rings: [ring], box: boxOf(ring), at: null, values: {} });
    this.#rooms();
    this.walls = new Set(this.plan.walls.map((/** @type {any} */ w) => lineKey(lineOf(w.cell, w.side))));
    /** @type {Door[]} */
    this.doors = this.plan.ways.map((/** @type {any} */ way, /** @type {number} */ i) => this.#door(way, i));
    this.doorOn = new Map(this.doors.filter((d) => d.line).map((d) => [lineKey(/** @type {Line} */ (d.line)), d]));
    /** @type {Stamp[]} */
    this.stamps = this.plan.features.map((/** @type {any} */ f, /** @type {number} */ i) => this.#stamp(f, i));
    this.empty = this.rooms.size === 0;
    this.box = [...this.rooms.values()].reduce((/** @type {Box|null} */ all, room) => joined(all, room.box), null);
  }

  /** @param {Map<string, string>} painted */
  #paint(painted) {
    const spots = [...painted.keys()].map((key) => /** @type {Point} */ (key.split(",").map(Number)));
    const [x, y, w, h] = boxOf([...spots, [0, 0], [this.rows[0].length - 1, this.rows.length - 1]]);
    this.x0 = x; this.y0 = y;
    const grid = Array.from({ length: h + 1 }, () => Array(w + 1).fill("."));
    this.rows.forEach((row, r) => [...row].forEach((letter, c) => { grid[r - y][c - x] = letter; }));
    for (const [c, r] of spots) grid[r - y][c - x] = painted.get(`${c},${r}`) || ".";
    this.rows = grid.map((row) => row.join(""));
  }

  #rooms() {
    /** @type {Map<string, Room>} */
    this.rooms = new Map();
    const found = new Map();
    this.rows.forEach((row, r) => {
      for (let c = 0; c < row.length; c++) {
        const letter = row[c];
        if (letter === ".") continue;
        let room = found.get(letter);
        if (!room) found.set(letter, (room = { west: c, north: r, east: c, south: r, cells: 0, sx: 0, sy: 0 }));
        room.west = Math.min(room.west, c); room.east = Math.max(room.east, c); room.south = r;
        room.cells++; room.sx += c + 0.5; room.sy += r + 0.5;
      }
    });
    for (const [letter, at] of found) {
      this.rooms.set(letter, {
        letter, name: "", cells: at.cells, shapes: [], centre: [at.sx / at.cells + this.x0, at.sy / at.cells + this.y0],
        box: [at.west + this.x0, at.north + this.y0, at.east - at.west + 1, at.south - at.north + 1],
      });
    }
    for (const shape of this.outlines) {
      const room = this.rooms.get(shape.room);
      if (room) { room.shapes.push(shape.index); room.box = /** @type {Box} */ (joined(room.box, shape.box)); }
      else this.rooms.set(shape.room, { letter: shape.room, name: "", cells: 0, shapes: [shape.index], centre: middleOf(shape), box: shape.box });
    }
    for (const room of this.rooms.values()) {
      const written = this.plan.letters?.[room.letter] || {};
      room.name = written.title || `Room ${room.letter}`;
      if (written.centre && !this.painted.size) room.centre = written.centre;
      else if (room.cells && this.at(Math.floor(room.centre[0]), Math.floor(room.centre[1])) !== room.letter) room.centre = this.#within(room);
    }
  }

  /** @param {Room} room @returns {Point} the middle of its longest row, the one nearest to its centre if there are several */
  #within(room) {
    let best = room.centre, long = 0;
    const [x, y, w, h] = room.box.map(Math.floor);
    for (let r = y; r < y + h; r++) for (let c = x, run = 0; c <= x + w; c++) {
      if (this.at(c, r) === room.letter) { run++; continue; }
      const nearer = run === long && Math.abs(r + 0.5 - room.centre[1]) < Math.abs(best[1] - room.centre[1]);
      if (run && (run > long || nearer)) { long = run; best = [c - run / 2, r + 0.5]; }
      run = 0;
    }
    return best;
  }

  /** @param {any} way @param {number} index @returns {Door} */
  #door(way, index) {
    const width = Math.min(way.span, way.kind === "open" ? 1 - 2 * this.wall : 1);
    const line = way.cell ? lineOf(way.cell, way.side) : null;
    const rooms = /** @type {[string, string]} */ (line ? beside(line).map((p) => this.at(...p)) : this.#sides(way.spot, way.along));
    if (line && !line.level) rooms.reverse();
    return { index, kind: way.kind, leaf: way.leaf || "none", head: way.head || "flat", width, at: way.spot, along: way.along, line, room: line ? null : way.room, rooms };
  }

  /** @param {Point} at @param {Point} along @returns {[string, string]} the rooms on the left and on the right of a wall */
  #sides(at, along) { return /** @type {[string, string]} */ ([-0.3, 0.3].map((d) => this.roomAt([at[0] - along[1] * d, at[1] + along[0] * d]))); }

  /** @param {Point} at @param {Point} along @param {string} room @returns {string} the room on the other side of a wall */
  beyond(at, along, room) {
    const sides = this.#sides(at, along);
    return sides[0] === room ? sides[1] : sides[0];
  }

  /** @param {any} feature @param {number} index @returns {Stamp} */
  #stamp(feature, index) {
    const { box } = feature;
    return {
      index, kind: feature.kind, box, side: feature.front || null, values: feature.values,
      round: !!this.plan.stamps[feature.kind]?.round || !!feature.values.round, free: !!feature.at || feature.size.length > 0,
      room: this.roomAt([box[0] + box[2] / 2, box[1] + box[3] / 2]),
    };
  }

  /** @param {number} c @param {number} r @returns {string} the letter of a square, "." for solid ground */
  at(c, r) {
    const row = this.rows[r - this.y0], column = c - this.x0;
    return row && column >= 0 && column < row.length ? row[column] : ".";
  }

  /** @param {Point} p @returns {string} the room under a point */
  roomAt(p) {
    for (let i = this.outlines.length - 1; i >= 0; i--) {
      const shape = this.outlines[i], [x, y, w, h] = shape.box;
      if (p[0] >= x && p[1] >= y && p[0] <= x + w && p[1] <= y + h && shape.rings.some((/** @type {Point[]} */ ring) => inside(p, ring))) return shape.room;
    }
    return this.at(Math.floor(p[0]), Math.floor(p[1]));
  }

  /** @param {Line} line @returns {boolean} whether a wall stands there, with or without a door */
  standing(line) {
    const [a, b] = beside(line), first = this.at(...a), second = this.at(...b);
    return first !== second || (first !== "." && this.walls.has(lineKey(line)));
  }

  /**
   * The nearest wall of squares.
   * @param {Point} p @param {number} reach in cells @returns {{line: Line, far: number, at: Point}[]} nearest first
   */
  wallsNear(p, reach) {
    const c = Math.floor(p[0]), r = Math.floor(p[1]), found = [];
    for (const line of [{ level: true, c, r }, { level: true, c, r: r + 1 }, { level: false, c, r }, { level: false, c: c + 1, r }]) {
      const far = Math.abs(line.level ? p[1] - line.r : p[0] - line.c);
      if (far <= reach && this.standing(line) && !this.#hidden(line)) found.push({ line, far, at: /** @type {Point} */ (line.level ? [p[0], line.r] : [line.c, p[1]]) });
    }
    return found.sort((a, b) => a.far - b.far);
  }

  /** @param {Line} line @returns {boolean} whether a shape of one of its rooms covers it, so that no wall is seen */
  #hidden(line) { return this.outlines.length > 0 && this.joinedAcross(line) && !this.walls.has(lineKey(line)); }

  /** @param {Line} line @returns {boolean} whether shapes make one room of both sides of its middle */
  joinedAcross(line) {
    const [a, b] = endsOf(line), [x, y] = [(a[0] + b[0]) / 2, (a[1] + b[1]) / 2], [dx, dy] = line.level ? [0, 0.04] : [0.04, 0];
    const first = this.roomAt([x - dx, y - dy]);
    return first !== "." && first === this.roomAt([x + dx, y + dy]);
  }

  /**
   * The nearest point on the outlines of shapes.
   * @param {Point} p @param {string|null} [room] @returns {{at: Point, far: number, along: Point, room: string, index: number}|null}
   */
  onOutline(p, room = null) {
    let best = null;
    for (const shape of this.outlines) {
      if (room && shape.room !== room) continue;
      for (const ring of shape.rings) for (let i = 0; i < ring.length; i++) {
        const near = nearestOn(p, ring[i], ring[(i + 1) % ring.length]);
        if (!best || near.far < best.far) best = { ...near, room: shape.room, index: shape.index };
      }
    }
    return best;
  }

  /** @param {Point} p @param {number} reach in cells @returns {{at: Point, far: number, along: Point, room: string, index: number}|null} an outline near a point that is a wall there */
  outlineNear(p, reach) {
    const near = this.outlines.some((/** @type {Outline} */ s) => p[0] > s.box[0] - reach && p[1] > s.box[1] - reach && p[0] < s.box[0] + s.box[2] + reach && p[1] < s.box[1] + s.box[3] + reach)
      ? this.onOutline(p) : null;
    if (!near || near.far > reach) return null;
    const off = [-near.along[1] * 0.03, near.along[0] * 0.03];
    const sides = [1, -1].map((s) => this.roomAt([near.at[0] + s * off[0], near.at[1] + s * off[1]]));
    return sides[0] === sides[1] ? null : near;
  }

  /** @param {string} letter @returns {Point[]} the squares of a room */
  cellsOf(letter) {
    const found = /** @type {Point[]} */ ([]), room = this.rooms.get(letter);
    if (!room?.cells) return found;
    this.rows.forEach((row, r) => { for (let c = row.indexOf(letter); c >= 0; c = row.indexOf(letter, c + 1)) found.push([c + this.x0, r + this.y0]); });
    return found;
  }

  /** @param {Thing} thing @returns {Box|null} */
  boxOf(thing) {
    if (thing.what === "room") return this.rooms.get(thing.letter)?.box || null;
    if (thing.what === "stamp") return this.stamps[thing.index]?.box || null;
    const door = this.doors[thing.index];
    return door ? [door.at[0] - 0.3, door.at[1] - 0.3, 0.6, 0.6] : null;
  }

  /** @param {Thing} thing @returns {boolean} whether it is still there */
  holds(thing) {
    return thing.what === "room" ? this.rooms.has(thing.letter) : thing.what === "door" ? thing.index < this.doors.length : thing.index < this.stamps.length;
  }

  /** @returns {Thing[]} all rooms, doors and stamps, from north to south, to be walked through by keys */
  things() {
    const key = (/** @type {Thing} */ t) => { const [x, y] = /** @type {Box} */ (this.boxOf(t)); return Math.floor(y) * 1e4 + x; };
    const rooms = [...this.rooms.keys()].map((letter) => /** @type {Thing} */ ({ what: "room", letter }));
    const doors = this.doors.map((d) => /** @type {Thing} */ ({ what: "door", index: d.index }));
    const stamps = this.stamps.map((s) => /** @type {Thing} */ ({ what: "stamp", index: s.index }));
    return [...rooms, ...doors, ...stamps].sort((a, b) => key(a) - key(b));
  }

  /** @param {Thing} thing @returns {string} in words */
  says(thing) {
    if (thing.what === "room") return this.rooms.get(thing.letter)?.name || `Room ${thing.letter}`;
    if (thing.what === "stamp") return this.stamps[thing.index]?.kind || "";
    const door = this.doors[thing.index], kind = door?.kind === "open" ? "open side" : door?.leaf && door.leaf !== "none" ? `${door.leaf} door` : door?.kind === "saddle" ? "door piece" : door?.kind || "door";
    const [a, b] = (door?.rooms || []).filter((l) => l !== ".").map((l) => this.rooms.get(l)?.name || l);
    const wide = door && door.kind !== "open" ? `, ${length(door.width * this.cell, this.plan)} wide` : "";
    return `${kind} ${b ? `between ${a} and ${b}` : `out of ${a}`}${wide}`;
  }

  /** @param {Line} line @returns {boolean} whether it is known that no doorway has room there */
  tight({ level, c, r }) { return (this.takes ? (level ? this.takes.across : this.takes.down)[r]?.[c] : "") === "x"; }

  /**
   * The widths that an opening may have, in mm, narrowest first: as thick as a wall, and as wide as its own one has room for.
   * @param {Door} door @returns {number[]} none of an open side
   */
  widths(door) {
    if (door.kind === "open") return [];
    const step = stepOf(this.plan), most = (this.takes?.most?.[door.index] ?? 1) * this.cell, found = [];
    for (let n = Math.ceil((this.wall * this.cell) / step); n * step <= most + 1e-6; n++) found.push(n * step);
    return found;
  }

  /** @param {Line} line @returns {Door|undefined} */
  doorAt(line) { return this.doorOn.get(lineKey(line)); }

  /** @param {string} letter @returns {number} doors to other rooms */
  doorsOf(letter) { return this.doors.filter((d) => d.rooms.includes(letter) && d.rooms[0] !== d.rooms[1] && !d.rooms.includes(".")).length; }

  /**
   * The room that has a square, or a part of it; "." if none has.
   * @param {Point} cell @param {string} [but] a room that does not count @returns {string}
   */
  owner([c, r], but = ".") {
    const own = this.at(c, r);
    if (own !== "." && own !== but) return own;
    for (const shape of this.outlines) {
      const [x, y, w, h] = shape.box;
      if (shape.room === but || x >= c + 1 || y >= r + 1 || x + w <= c || y + h <= r) continue;
      if (shape.rings.some((/** @type {Point[]} */ ring) => covers(ring, [c, r]))) return shape.room;
    }
    return ".";
  }

  /**
   * The room that an outline lies over; null: it lies on free ground.
   * @param {Point[]} ring @param {string} [but] a room that does not count @returns {string|null}
   */
  under(ring, but = ".") {
    const [x, y, w, h] = boxOf(ring), step = Math.max(0.25, Math.sqrt((w * h) / 4000));
    for (let r = Math.floor(y); r < y + h; r++) for (let c = Math.floor(x); c < x + w; c++) {
      const there = this.at(c, r);
      if (there !== "." && there !== but && covers(ring, [c, r])) return there;
    }
    for (let r = y + step / 2; this.outlines.length && r < y + h; r += step) for (let c = x + step / 2; c < x + w; c += step) {
      const there = this.roomAt([c, r]);
      if (there !== "." && there !== but && inside([c, r], ring)) return there;
    }
    return null;
  }

  /** @param {string} letter @param {Point} by @returns {string|null} the room that is in the way of moving one; null if none is */
  inTheWay(letter, by) {
    for (const [c, r] of this.cellsOf(letter)) {
      const there = this.owner([c + by[0], r + by[1]], letter);
      if (there !== ".") return there;
    }
    for (const shape of this.outlines) if (shape.room === letter) for (const ring of shape.rings) {
      const there = this.under(ring.map((/** @type {Point} */ p) => /** @type {Point} */ ([p[0] + by[0], p[1] + by[1]])), letter);
      if (there) return there;
    }
    return null;
  }
}

/** @param {any} shape @param {number} index @returns {Outline} */
function outline(shape, index) {
  const rings = ringsOf(shape.path);
  return { index, room: shape.room, form: shape.form, rings, box: boxOf(rings.flat()), at: shape.at, values: { [shape.form]: shape.values } };
}

/** @param {Outline} shape @returns {Point} */
function middleOf(shape) {
  const centre = /** @type {Point} */ ([shape.box[0] + shape.box[2] / 2, shape.box[1] + shape.box[3] / 2]);
  if (shape.rings.some((ring) => inside(centre, ring))) return centre;
  return shape.at || centre;
}

/**
 * Tiles by where they lie.
 * @typedef {{cell: number, walls: string[], near: (part: Box) => number[][], paths: Map<number, Path2D>}} TilesByPlace
 * @param {any} tiles @returns {TilesByPlace}
 */
function tilesByPlace(tiles) {
  let found = places.get(tiles);
  if (found) return found;
  const step = 8, cell = tiles.cell_mm, boxes = tiles.shapes.map((/** @type {any} */ s) => boxOf(ringsOf(s.floor || s.walls).flat())), grid = new Map();
  for (const one of tiles.lie) {
    const [shape, ...matrix] = one, [px, py, pw, ph] = turnedBox(boxes[shape], matrix).map((v) => v / cell);
    for (let j = Math.floor(py / step); j * step <= py + ph; j++) for (let i = Math.floor(px / step); i * step <= px + pw; i++) {
      const key = `${i},${j}`, list = grid.get(key);
      if (list) list.push(one); else grid.set(key, [one]);
    }
  }
  const near = (/** @type {Box} */ [x, y, w, h]) => {
    const all = new Set();
    for (let j = Math.floor(y / step); j * step <= y + h; j++) for (let i = Math.floor(x / step); i * step <= x + w; i++) for (const one of grid.get(`${i},${j}`) || []) all.add(one);
    return [...all];
  };
  found = { cell, walls: tiles.shapes.map((/** @type {any} */ s) => s.walls), near, paths: new Map() };
  places.set(tiles, found);
  return found;
}

/** @type {WeakMap<any, TilesByPlace>} */
const places = new WeakMap();

/**
 * Where a feature stands, as far as the page knows: it has a size of its own, or fills its squares between the walls.
 * @param {any} feature @param {{plan: any, spaces: number, wall: number}} scene @returns {Box}
 */
export function stampBox(feature, { plan, spaces, wall }) {
  const [c, r] = [feature.cell[0] - 1, feature.cell[1] - 1], to = feature.to || feature.cell;
  const whole = /** @type {Box} */ ([c, r, to[0] - feature.cell[0] + 1, to[1] - feature.cell[1] + 1]);
  const size = plan.stamps[feature.kind]?.across;
  if (!size && !feature.at) return [whole[0] + wall, whole[1] + wall, whole[2] - 2 * wall, whole[3] - 2 * wall];
  const side = size || 0.5, at = feature.at ? [c + feature.at[0] / spaces, r + feature.at[1] / spaces] : [c + whole[2] / 2, r + whole[3] / 2];
  return [at[0] - side / 2, at[1] - side / 2, side, side];
}

