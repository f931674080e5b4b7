// @ts-check
// What is seen from a square of the map: all else is darkened on the sheet.
import { button, make, say } from "../dom.js";

export class Sight {
  /** @param {any} sheet @param {any} desk */
  constructor(sheet, desk) {
    this.sheet = sheet;
    this.desk = desk;
    this.open = false;
    this.shade = make("path", { className: "unseen-floor" });
    this.moved = make("g", {}, this.shade);
    this.veil = make("svg", { className: "veil", "aria-hidden": "true" }, this.moved);
    sheet.stage.append(this.veil);
    sheet.on("view", () => this.#place());
    desk.on("plan", () => this.clear());
  }

  /** The part of a panel that this is. */
  get panel() {
    const doors = make("input", { type: "checkbox", checked: this.open, onchange: () => { this.open = doors.checked; } });
    return make("section", { className: "stops" }, make("h2", {}, "What is seen"),
      make("label", { className: "check" }, doors, "Doors stand open"),
      make("div", { className: "row" }, button("Look from a square", () => this.#look()), button("Show everything", () => this.clear())));
  }

  clear() {
    this.shade.setAttribute("d", "");
  }

  async #look() {
    const spot = await this.sheet.pick("Press the square to look from.");
    if (!spot) return;
    const cell = spot.map((/** @type {number} */ v) => Math.floor(v) + 1);
    try {
      const { rows } = await this.desk.ask("/sight", { cell, doors_open: this.open });
      const floor = this.desk.plan.rows, dark = rows.flatMap((/** @type {string} */ row, /** @type {number} */ y) => [...row].flatMap((seen, x) => (seen === "0" && (floor[y]?.[x] || ".") !== "." ? [`M${x} ${y}h1v1h-1z`] : [])));
      const shapes = this.desk.plan.shapes.filter((/** @type {import("../types.js").Shape} */ one) => one.at && rows[Math.floor(one.at[1])]?.[Math.floor(one.at[0])] === "0").map((/** @type {any} */ one) => one.path);
      this.shade.setAttribute("d", [...dark, ...shapes].join(""));
      this.#place();
      const seen = rows.join("").replace(/0/g, "").length;
      say(`${seen} squares are seen from there, its own included.`);
    } catch (error) { say(`${/** @type {Error} */ (error).message}.`); }
  }

  #place() {
    const { x, y, scale } = this.sheet.eye;
    this.moved.setAttribute("transform", `matrix(${scale} 0 0 ${scale} ${-x * scale} ${-y * scale})`);
  }
}
