// @ts-check
// A picture under the sheet to draw over: squared to the grid by two of its points, and faded.
import { button, field, make, say } from "./dom.js";

/** @typedef {[number, number]} Point */
const FIRST_ACROSS = 16;

/**
 * Both corners of a picture, moved, turned and scaled so that two of its points come to lie where they belong.
 * @param {[Point, Point]} corners @param {[Point, Point]} points as they lie @param {[Point, Point]} wanted @returns {[Point, Point]}
 */
export function squared(corners, [p, q], [to, and]) {
  const [a, b] = [q[0] - p[0], q[1] - p[1]], [c, d] = [and[0] - to[0], and[1] - to[1]], long = a * a + b * b;
  const [re, im] = [(c * a + d * b) / long, (d * a - c * b) / long];
  return /** @type {[Point, Point]} */ (corners.map(([x, y]) => [to[0] + (x - p[0]) * re - (y - p[1]) * im, to[1] + (x - p[0]) * im + (y - p[1]) * re]));
}

export class Tracing {
  /** @param {any} sheet */
  constructor(sheet) {
    this.sheet = sheet;
    /** @type {{image: ImageBitmap, corners: [Point, Point], fade: number} | null} */
    this.picture = null;
    this.place = make("div", { className: "fields" });
    this.draw();
  }

  /** The part of a panel that this is. */
  get panel() {
    return make("details", { className: "whole", open: Boolean(this.picture) }, make("summary", {}, "Trace a picture"), this.place);
  }

  draw() {
    const input = make("input", { type: "file", accept: "image/*", id: "trace-file", className: "hidden-file", "aria-label": "Picture to lie under the sheet", onchange: () => this.#take(input) });
    const choose = make("label", { className: "button wide" }, this.picture ? "Another picture" : "Choose a picture of the map", input);
    if (!this.picture) { this.place.replaceChildren(choose, make("p", { className: "quiet wide" }, "It lies under the sheet while you draw over it. It stays on this computer.")); return; }
    const fade = make("input", { type: "range", min: 0, max: 90, value: this.picture.fade * 100, oninput: () => { this.#set({ fade: Number(fade.value) / 100 }); } });
    const squares = make("input", { type: "number", min: 1, max: 400, step: 1, value: this.squares || 10, onchange: () => { this.squares = Math.max(1, Number(squares.value) || 1); } });
    this.place.replaceChildren(field("Fade", fade), field("Squares between two corners", squares),
      button("Show the two corners", () => this.#square(Math.max(1, Number(squares.value) || 1)), { className: "do wide" }),
      make("p", { className: "quiet wide" }, "Press one corner of a square on the picture, then another one straight across or below, so many squares away."),
      choose, button("Take it away", () => { this.picture = null; this.sheet.underlay(null); this.draw(); }));
  }

  /** @param {any} change */
  #set(change) {
    if (!this.picture) return;
    Object.assign(this.picture, change);
    this.sheet.underlay({ ...this.picture });
  }

  /** @param {any} input */
  async #take(input) {
    const [file] = input.files;
    if (!file) return;
    try {
      const image = await createImageBitmap(file);
      this.picture = { image, corners: [[0, 0], [FIRST_ACROSS, (FIRST_ACROSS * image.height) / image.width]], fade: 0.4 };
      this.#set({});
      this.draw();
      this.sheet.look({ x: -2, y: -2, scale: Math.min(64, this.sheet.size[0] / (FIRST_ACROSS + 4)) });
    } catch { say(`${file.name} can't be shown. Choose a PNG, JPEG or WebP picture.`); }
  }

  /** @param {number} squares between the two points */
  async #square(squares) {
    const first = await this.sheet.pick("Press a corner of a square on the picture.");
    const second = first && await this.sheet.pick(`Now press the corner that lies ${squares} squares across or down from it.`);
    if (!first || !second || !this.picture) return;
    const [dx, dy] = [second[0] - first[0], second[1] - first[1]], to = /** @type {Point} */ (first.map(Math.round));
    if (Math.hypot(dx, dy) < 0.2) { say("These are the same point. Press two that lie apart."); return; }
    const and = /** @type {Point} */ (Math.abs(dx) > Math.abs(dy) ? [to[0] + Math.sign(dx) * squares, to[1]] : [to[0], to[1] + Math.sign(dy) * squares]);
    this.#set({ corners: squared(this.picture.corners, [first, second], [to, and]) });
    say("The picture is squared to the grid.");
  }
}
