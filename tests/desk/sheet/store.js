// A store with the face of link.js that keeps its plan in memory, for trying the sheet without the program.
import { stampBox } from "/sheet/scene.js";
import { arcRing, circleRing, hallRing } from "/sheet/squares.js";

const path = (ring) => `M${ring.map(([x, y]) => `${x} ${y}`).join("L")}Z`;

export class Store {
  constructor(rows = ["."], more = {}) {
    this.plan = { name: "A trial", scale: "10 ft", cell_mm: 63.5, spaces: 2, rows, letters: {}, shapes: [], ways: [], walls: [], features: [], stamps: { pillar: { across: 0.2, round: false }, well: { across: 0.5, round: true } }, ...more };
    this.tiles = null;
    this.answers = { fit: [], pins: [] };
    this.tools = { features: { stair: { side: {}, height: {} }, dais: {}, pillar: { round: {} }, pit: {}, well: {} }, ways: { doorway: "", open: "", saddle: "" } };
    this.#told();
    this.listeners = {};
    this.log = [];
    this.wait = 0;
    this.refuse = null;
  }

  on(what, fn) { (this.listeners[what] ||= []).push(fn); }
  tell(what, detail) { for (const fn of this.listeners[what] || []) fn(detail); }
  freeLetter() {
    const used = new Set([...this.plan.rows.join(""), ...this.plan.shapes.map((s) => s.room)]);
    return [..."ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz"].find((l) => !used.has(l));
  }

  async edit(edits, how = {}) {
    this.log.push({ edits: structuredClone(edits), ...how });
    if (this.wait) await new Promise((done) => setTimeout(done, this.wait));
    if (this.refuse) { const refused = this.refuse; this.refuse = null; return { refused }; }
    const grown = [0, 0];
    this.plan = structuredClone(this.plan);
    for (const edit of edits) this.#do(edit, grown);
    this.#told();
    this.tell("plan", { grown });
    return { ok: true };
  }

  /** What the program adds to what is written. */
  #told() {
    for (const way of this.plan.ways) {
      way.span = way.kind === "open" ? 1 : 0.44;
      if (!way.cell) continue;
      const [c, r] = way.cell;
      way.spot = { north: [c - 0.5, r - 1], south: [c - 0.5, r], west: [c - 1, r - 0.5], east: [c, r - 0.5] }[way.side];
      way.along = way.side === "north" || way.side === "south" ? [1, 0] : [0, 1];
    }
    for (const f of this.plan.features) f.box = stampBox(f, { plan: this.plan, spaces: 2, wall: 0.1 });
    for (const s of this.plan.shapes) s.at = null;
  }

  #grow(cells, grown) {
    const plan = this.plan, xs = cells.map((p) => p[0]), ys = cells.map((p) => p[1]);
    const west = Math.max(0, 1 - Math.min(...xs)), north = Math.max(0, 1 - Math.min(...ys)), east = Math.max(0, Math.max(...xs) - plan.rows[0].length), south = Math.max(0, Math.max(...ys) - plan.rows.length);
    const width = plan.rows[0].length + west + east;
    plan.rows = [...Array(north).fill(".".repeat(width)), ...plan.rows.map((r) => ".".repeat(west) + r + ".".repeat(east)), ...Array(south).fill(".".repeat(width))];
    for (const t of [...plan.ways, ...plan.walls, ...plan.features]) { if (t.cell) t.cell = [t.cell[0] + west, t.cell[1] + north]; if (t.to) t.to = [t.to[0] + west, t.to[1] + north]; }
    grown[0] += west; grown[1] += north;
    return [west, north];
  }

  #set(cells, room) {
    const rows = this.plan.rows.map((r) => [...r]);
    for (const [c, r] of cells) if (rows[r - 1]?.[c - 1] !== undefined) rows[r - 1][c - 1] = room;
    this.plan.rows = rows.map((r) => r.join(""));
  }

  #own(room) { return this.plan.rows.flatMap((row, r) => [...row].flatMap((l, c) => (l === room ? [[c + 1, r + 1]] : []))); }

  #shape(room, edit) {
    const { circle, hall, polygon, arc } = edit;
    const long = hall && { from: hall.start || hall.from, to: hall.end || hall.to, width: hall.width };
    const ring = circle ? circleRing(circle.centre, circle.radius) : hall ? hallRing(long.from, long.to, long.width) : polygon || arcRing({ ...arc, from: arc.from - 90, to: arc.to - 90 }, arc.width);
    return { room, form: circle ? "circle" : hall ? "hall" : polygon ? "polygon" : "arc", path: path(ring), values: circle || long || polygon || arc };
  }

  #do(edit, grown) {
    const { plan } = this, at = plan[edit.do.startsWith("way") ? "ways" : edit.do.startsWith("shape") ? "shapes" : "features"];
    if (edit.do === "paint") { const [w, n] = edit.room === "." ? [0, 0] : this.#grow(edit.cells, grown); this.#set(edit.cells.map(([c, r]) => [c + w, r + n]), edit.room); }
    if (edit.do === "move" || edit.do === "copy") {
      const own = this.#own(edit.room), there = own.map(([c, r]) => [c + edit.by[0], r + edit.by[1]]);
      if (edit.do === "move") this.#set(own, ".");
      const [w, n] = there.length ? this.#grow(there, grown) : [0, 0];
      this.#set(there.map(([c, r]) => [c + w, r + n]), edit.to || edit.room);
    }
    if (edit.do === "resize") { this.#set(this.#own(edit.room), "."); const [x, y, w, h] = edit.box; this.#do({ do: "paint", room: edit.room, cells: Array.from({ length: w * h }, (_, i) => [x + 1 + (i % w), y + 1 + Math.floor(i / w)]) }, grown); }
    if (edit.do === "delete") { this.#set(this.#own(edit.room), "."); plan.shapes = plan.shapes.filter((s) => s.room !== edit.room); }
    if (edit.do === "title") plan.letters = { ...plan.letters, [edit.room]: { title: edit.title } };
    if (edit.do === "way" && edit.kind) plan.ways.push({ cell: edit.cell, side: edit.side, kind: edit.kind, leaf: "" });
    if (edit.do === "point-way") plan.ways.push({ room: edit.room, at: edit.at, kind: edit.kind, leaf: "", spot: edit.at, along: [1, 0], span: 0.44 });
    if (edit.do === "way-change" || edit.do === "feature-change") Object.assign(at[edit.index], { ...edit, do: undefined, index: undefined });
    if (edit.do === "way-slide" || edit.do === "feature-move") Object.assign(at[edit.index], { ...(edit.cell && { cell: edit.cell }), ...(edit.side && { side: edit.side }), ...(edit.at && { at: edit.at }) });
    if (edit.do.endsWith("-away")) at.splice(edit.index, 1);
    if (edit.do === "wall" && edit.stands) plan.walls.push({ cell: edit.cell, side: edit.side });
    if (edit.do === "wall" && !edit.stands) plan.walls = plan.walls.filter((w) => String(w.cell) !== String(edit.cell) || w.side !== edit.side);
    if (edit.do === "shape") plan.shapes.push(this.#shape(edit.room, edit));
    if (edit.do === "shape-change") at[edit.index] = this.#shape(at[edit.index].room, edit);
    if (edit.do === "hall") plan.shapes.push(this.#shape(this.freeLetter(), { hall: edit }));
    if (edit.do === "feature") plan.features.push({ kind: edit.kind, cell: edit.cell, to: edit.to || null, at: edit.at || null, size: [], values: edit.values || {}, front: edit.values?.side || "" });
    if (edit.do === "feature-turn") at[edit.index].front = { north: "east", east: "south", south: "west", west: "north" }[at[edit.index].front];
  }
}
