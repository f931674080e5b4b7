// @ts-check
// The kit as pictures and counts: a row lights its tiles on the map, a tile its row.
import { at, fill, make, many, typing } from "../dom.js";
import { boxOf, ringsOf, turnedBox } from "../sheet/squares.js";

/** @typedef {import("../types.js").Tiles} Tiles */
/** @typedef {import("../types.js").KitRow} KitRow */

/** A picture of one type as it first lies on the map. @param {Tiles} tiles @param {number} shape */
export function picture(tiles, shape) {
  const { floor, ways, lines, walls, sunk, raised, dark } = tiles.shapes[shape], lie = tiles.lie.find((one) => one[0] === shape);
  const [a, b, c, d] = lie ? lie.slice(1) : [1, 0, 0, -1], [x, y, w, h] = turnedBox(boxOf(ringsOf(floor || walls).flat()), [a, b, c, d]);
  const size = Math.max(tiles.cell_mm * (tiles.cell_mm < 40 ? 2 : 1), w, h) * 1.06, view = [x + (w - size) / 2, y + (h - size) / 2, size, size];
  const part = (/** @type {string} */ className, /** @type {string} */ path) => path && make("path", { className, d: path, "fill-rule": "evenodd" });
  return make("svg", { viewBox: view.join(" "), "aria-hidden": "true", className: "tile" }, make("g", { transform: `matrix(${a} ${b} ${c} ${d} 0 0)` },
    part("t-floor", floor), part("t-ways", ways), part("t-lines", lines), part("t-sunk", sunk), ...raised.map((path) => part("t-raised", path)), part("t-dark", dark), part("t-walls", walls)));
}

export class KitPanel {
  /** @param {any} desk @param {{light(ids: string[] | null): void, see(id: string): void, own(id: string, count: number): void}} map */
  constructor(desk, map) {
    this.desk = desk;
    this.map = map;
    this.place = at("panel-kit");
    /** @type {string | null} */
    this.lit = null;
    /** @type {Map<string, {shape: any, picture: any}>} */
    this.pictures = new Map();
    this.place.addEventListener("pointerleave", () => this.map.light(this.kept ? [this.kept] : null));
    /** The type whose light stays on. @type {string | null} */
    this.kept = null;
  }

  draw() {
    const { answers, tiles, plan } = this.desk;
    if (typing(this.place)) return;
    if (!answers?.kit.length || !tiles) {
      fill(this.place, make("p", { className: "answer" }, plan?.fault ? "The map has a fault. Mend it, and the tiles are counted." : "Draw a room, and its tiles are counted here."));
      return;
    }
    const { totals, kit } = answers, index = new Map(tiles.shapes.map((/** @type {any} */ shape, /** @type {number} */ k) => [shape.id, k]));
    const owned = totals.own ? ` You have ${totals.own} of them, so ${totals.make} are to be made.` : "";
    fill(
      this.place,
      make("p", { className: "answer" }, `${many(totals.tiles, "tile")} of ${many(totals.types, "type")}${totals.pieces ? `, and ${many(totals.pieces, "loose piece")}` : ""}.${owned}`),
      make("p", { className: "quiet" }, "Point at a type to see where it lies."),
      make("ul", { className: "kit", id: "kit" }, ...kit.map((/** @type {KitRow} */ row) => this.#row(row, tiles, index.get(row.id)))),
    );
    for (const id of this.pictures.keys()) if (!index.has(id)) this.pictures.delete(id);
    this.mark(this.lit);
  }

  /** @param {KitRow} row @param {Tiles} tiles @param {number | undefined} shape */
  #row(row, tiles, shape) {
    const known = shape === undefined ? null : this.pictures.get(row.id);
    const found = known?.shape === (shape === undefined ? null : tiles.shapes[shape]) ? known?.picture : shape === undefined ? null : picture(tiles, shape);
    if (shape !== undefined) this.pictures.set(row.id, { shape: tiles.shapes[shape], picture: found });
    const light = () => { this.map.light([row.id]); this.mark(row.id); };
    const press = make("button", { type: "button", className: "type", "data-keep": row.id, "data-id": row.id, "aria-pressed": String(this.kept === row.id),
      "aria-label": `${row.name}, ${row.count}`, title: row.name, onpointerenter: light, onfocus: light,
      onclick: () => { this.kept = this.kept === row.id ? null : row.id; this.map.light(this.kept ? [this.kept] : null); this.draw(); } },
      found, make("b", {}, `${row.count}`), make("span", { className: "quiet" }, row.key || row.name));
    return make("li", {}, press, this.kept === row.id && this.#more(row));
  }

  /** @param {KitRow} row */
  #more(row) {
    const own = make("input", { type: "number", min: 0, max: 999, value: row.own ?? 0, "aria-label": `How many of ${row.name} you have`, onchange: () => { own.blur(); this.map.own(row.id, Math.max(0, Math.round(Number(own.value) || 0))); } });
    return make("div", { className: "more" }, make("span", {}, row.name), make("label", {}, "I have ", own),
      row.make !== null && row.own ? make("span", { className: "quiet" }, `${row.make} to make`) : null,
      make("button", { type: "button", onclick: () => this.map.see(row.id) }, "See it in 3D"));
  }

  /** Mark the row of a type. @param {string | null} id */
  mark(id) {
    this.lit = id;
    for (const one of this.place.querySelectorAll("button.type")) one.classList.toggle("lit", one.dataset.id === id);
  }
}
