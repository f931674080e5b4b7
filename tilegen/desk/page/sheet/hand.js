// @ts-check
// One pointer, a second finger, and what they are in the middle of: press, stroke, pull of the sheet, pinch. No page in here.
import { pinched, pulled, toPlan, zoomed } from "./camera.js";
import { chosen, hit, thingOf } from "./hit.js";
import { drag, hover } from "./intent.js";
import { distance } from "./squares.js";

/**
 * @typedef {import("./squares.js").Point} Point
 * @typedef {import("./intent.js").Intent} Intent
 * @typedef {import("./intent.js").World} World
 * @typedef {import("./intent.js").Press} Press
 * @typedef {import("./intent.js").Keys} Keys
 * @typedef {{id: number, x: number, y: number, touch: boolean, button?: number, keys: Keys}} Touch  x, y: pixels from the sheet's corner
 * @typedef {{eye: import("./camera.js").Camera, world: (touch: boolean, keys: Keys) => World, show: (intent: Intent|null) => void,
 *   act: (intent: Intent, keys: Keys) => void, look: (eye: import("./camera.js").Camera) => void, picking: ((at: Point) => void)|null}} Host
 *   show: the ghost and the hint; act: the lift; picking: takes the next press as a point, if there is somebody who wants one
 */

/** A press that moves less than this is a click, in pixels. */
export const STILL = 4, STILL_TOUCH = 9;
const NONE = { shift: false, alt: false, ctrl: false };

export class Hand {
  /** @param {Host} host */
  constructor(host) {
    this.host = host;
    /** @type {"rest"|"press"|"stroke"|"pull"|"pinch"|"spent"} */
    this.state = "rest";
    /** @type {Map<number, Point>} */
    this.fingers = new Map();
    /** @type {Press|null} */
    this.press = null;
    /** @type {Point} */
    this.down = [0, 0];
    /** @type {Touch|null} */
    this.last = null;
    this.pulling = false; // whether the space bar is held
  }

  /** @returns {boolean} whether something is under way that Esc drops */
  get busy() { return this.state !== "rest"; }

  /** @param {Touch} t */
  begin(t) {
    this.fingers.set(t.id, [t.x, t.y]);
    this.last = t;
    if (this.fingers.size > 1) { this.#pinch(); return; }
    if (t.button === 2) return;
    const at = toPlan(this.host.eye, t.x, t.y);
    this.down = [t.x, t.y];
    if (t.button === 1 || this.pulling) { this.state = "pull"; this.host.show(null); return; }
    if (this.host.picking) { this.state = "spent"; this.host.picking(at); return; }
    const world = this.#world(t);
    this.press = { at, hit: hit(world, at), path: [at] };
    this.state = "press";
    if (t.touch) this.host.show(hover(world, at));
  }

  /** @param {Touch} t */
  move(t) {
    const before = this.last;
    if (this.fingers.has(t.id)) { this.#moved(t); this.last = t; return; }
    this.last = t;
    if (this.state === "rest" && !t.touch && before) this.again();
    else if (this.state === "rest" && !t.touch) this.again();
  }

  /** @param {Touch} t */
  #moved(t) {
    const was = /** @type {Point} */ (this.fingers.get(t.id));
    if (this.state === "pinch") {
      const before = [...this.fingers.values()].slice(0, 2);
      this.fingers.set(t.id, [t.x, t.y]);
      this.host.look(pinched(this.host.eye, before, [...this.fingers.values()].slice(0, 2)));
      return;
    }
    this.fingers.set(t.id, [t.x, t.y]);
    if (this.state === "pull") { this.host.look(pulled(this.host.eye, t.x - was[0], t.y - was[1])); return; }
    if (this.state === "press" && distance([t.x, t.y], this.down) > (t.touch ? STILL_TOUCH : STILL)) this.#stroke(t);
    if (this.state === "stroke" && this.press) {
      const now = toPlan(this.host.eye, t.x, t.y);
      if (distance(now, this.press.path[this.press.path.length - 1]) > 0.06) this.press.path.push(now);
      this.host.show(this.#intent(t));
    }
  }

  /** @param {Touch} t the press has become a stroke, or a pull of the sheet */
  #stroke(t) {
    const world = this.#world(t), found = /** @type {Press} */ (this.press).hit, thing = thingOf(found);
    const free = world.armed !== "room" || world.adding || !t.touch;
    const still = t.touch && thing && thing.what !== "door" && !chosen(world.selection, thing) && !free;
    if (still || found.on === "pin") {
      this.state = "pull";
      this.host.show(null);
      this.host.look(pulled(this.host.eye, t.x - this.down[0], t.y - this.down[1]));
    } else this.state = "stroke";
  }

  /** @param {Touch} t @returns {Intent} */
  #intent(t) {
    const world = this.#world(t), now = toPlan(this.host.eye, t.x, t.y), press = /** @type {Press} */ (this.press);
    if (t.touch && world.armed !== "room" && !["round", "hall", "bent", "cave", "wall"].includes(world.armed) && press.hit.on !== "knob") return hover(world, now);
    return this.state === "stroke" ? drag(world, press, now) : hover(world, now);
  }

  /** @param {Touch} t */
  end(t) {
    const mine = this.fingers.delete(t.id);
    if (!mine) return;
    this.last = t;
    if (this.state === "stroke" || this.state === "press") {
      const intent = this.state === "stroke" ? this.#intent(t) : hover(this.#world(t), /** @type {Press} */ (this.press).at);
      const clicked = this.state === "press";
      this.#rest();
      this.host.show(null);
      this.host.act(clicked ? this.#click(intent, t) : { ...intent, rename: undefined, pin: undefined }, t.keys);
    } else if (!this.fingers.size) this.#rest();
    else this.state = "spent"; // one finger of two is left: it does nothing until it is lifted too
    if (!this.busy && !t.touch) this.again();
    else if (!this.busy) this.host.show(null);
  }

  /** @param {Intent} intent @param {Touch} t @returns {Intent} a click with Shift adds to the selection or takes from it */
  #click(intent, t) {
    const { selection } = this.#world(t), one = intent.select?.[0];
    if (!t.keys.shift || !one) return intent;
    return { ...intent, select: chosen(selection, one) ? selection.filter((s) => !chosen([one], s)) : [...selection, one] };
  }

  /** A second finger: whatever was being drawn is dropped. */
  #pinch() {
    this.press = null;
    this.state = "pinch";
    this.host.show(null);
  }

  #rest() { this.state = "rest"; this.press = null; }

  /** Drops what is under way. @returns {boolean} whether there was anything */
  drop() {
    const was = this.state !== "rest";
    if (was) { this.state = this.fingers.size ? "spent" : "rest"; this.press = null; this.host.show(null); }
    return was;
  }

  /** @param {Touch} t the system took the pointer away */
  lost(t) {
    this.fingers.delete(t.id);
    this.press = null;
    this.state = this.fingers.size ? "spent" : "rest";
    this.host.show(null);
  }

  /** The pointer has left the sheet. */
  left() { if (!this.busy) { this.last = null; this.host.show(null); } }

  /** Shows again what a press would do where the pointer is: the plan, the keys or the tool have changed. */
  again() {
    const t = this.last;
    // What was pressed on may have been drawn just before, and not have been known yet.
    const press = this.press, found = press?.hit;
    if (t && press && !press.kind && (found?.on === "ground" || (found?.on === "floor" && !this.#world(t).scene.rooms.has(found.letter)))) press.hit = hit(this.#world(t), press.at);
    if (!t || t.touch) return;
    if (this.state === "stroke") this.host.show(this.#intent(t));
    else if (this.state === "rest") this.host.show(this.pulling || this.host.picking ? null : hover(this.#world(t), toPlan(this.host.eye, t.x, t.y)));
  }

  /** @param {Keys} keys pressed or released while the pointer stays */
  keys(keys) { if (this.last) { this.last = { ...this.last, keys }; this.again(); } }

  /** @param {Touch} t something from the shelf is carried over the sheet */
  carried(t) { this.last = t; this.host.show(hover(this.#world(t), toPlan(this.host.eye, t.x, t.y))); }

  /** @param {Touch} t and let go */
  dropped(t) { this.host.show(null); this.host.act(hover(this.#world(t), toPlan(this.host.eye, t.x, t.y)), t.keys); }

  /** @param {number} by factor @param {number} x @param {number} y */
  wheel(by, x, y) { this.host.look(zoomed(this.host.eye, by, x, y)); this.again(); }

  /** @param {Touch} t */
  #world(t) { return this.host.world(t.touch, t.keys || NONE); }
}
