// @ts-check
// What can be done with what is selected, beside it; it fades when the pointer goes elsewhere, so that it covers nobody's click.

import { joined } from "./squares.js";

/**
 * @typedef {import("./squares.js").Box} Box
 * @typedef {{label: string, says?: string, act: () => void, bad?: boolean, pressed?: boolean, shows?: (on: boolean) => void}} Deed  shows: what it would do, while the pointer is on it
 * @typedef {{label: string, value: string, options: [string, string, string?][], change: (value: string) => void}} Choice  options: value, text, what it means
 */

/** The pointer further off than this, and the chip fades; pixels. */
const NEAR = 40;
/** How wide and high the corner with the buttons of the view is, pixels. */
const VIEW = [190, 56];

export class Chip {
  /** @param {HTMLElement} box */
  constructor(box) {
    this.box = box;
    box.className = "sheet-chip";
    box.setAttribute("role", "toolbar");
    box.setAttribute("aria-label", "What is selected");
    box.hidden = true;
    /** @type {Box|null} */
    this.thing = null;
  }

  /** @param {string} words @param {Deed[]} deeds @param {Choice[]} [choices] */
  fill(words, deeds, choices = []) {
    const focus = this.box.contains(document.activeElement) ? /** @type {HTMLElement} */ (document.activeElement).dataset.deed : null;
    this.box.replaceChildren();
    const says = document.createElement("span");
    says.textContent = words;
    this.box.append(says);
    for (const choice of choices) {
      const label = document.createElement("label"), select = document.createElement("select");
      select.dataset.deed = choice.label;
      select.setAttribute("aria-label", choice.label);
      for (const [value, text, means] of choice.options) {
        const option = new Option(text, value, false, value === choice.value);
        if (means) option.title = means;
        select.add(option);
      }
      select.title = select.selectedOptions[0]?.title || "";
      select.addEventListener("change", () => choice.change(select.value));
      label.append(select);
      this.box.append(label);
    }
    for (const deed of deeds) {
      const button = document.createElement("button");
      button.type = "button";
      button.textContent = deed.label;
      button.dataset.deed = deed.label;
      if (deed.says) button.title = deed.says;
      if (deed.bad) button.classList.add("bad");
      if (deed.pressed !== undefined) button.setAttribute("aria-pressed", String(deed.pressed));
      for (const [name, on] of /** @type {[string, boolean][]} */ ([["pointerenter", true], ["focus", true], ["pointerleave", false], ["blur", false]])) if (deed.shows) button.addEventListener(name, () => { if (name !== "focus" || button.matches(":focus-visible")) deed.shows?.(on); });
      button.addEventListener("click", () => { deed.shows?.(false); deed.act(); });
      this.box.append(button);
    }
    this.box.hidden = false;
    if (focus) /** @type {HTMLElement|null} */ (this.box.querySelector(`[data-deed="${focus}"]`))?.focus();
  }

  hide() { this.box.hidden = true; this.thing = null; }

  /**
   * Beside its thing, where it covers the least of other rooms.
   * @param {Box} thing in pixels @param {[number, number]} size of the sheet @param {(box: Box) => number} cost how much it would cover @param {boolean} docked at the foot of the sheet, for fingers
   */
  place(thing, size, cost, docked) {
    this.thing = thing;
    this.box.classList.toggle("docked", docked);
    if (docked) { this.box.style.transform = ""; this.box.classList.remove("away"); return; }
    const w = this.box.offsetWidth, h = this.box.offsetHeight, [x, y, tw, th] = thing, gap = 30;
    const spots = [[x + tw / 2 - w / 2, y - h - gap], [x + tw / 2 - w / 2, y + th + gap], [x + tw + gap, y + th / 2 - h / 2], [x - w - gap, y + th / 2 - h / 2], [x + tw / 2 - w / 2, y + 12]];
    let best = spots[0], least = Infinity;
    spots.forEach(([sx, sy], order) => {
      const at = /** @type {[number, number]} */ ([Math.max(8, Math.min(size[0] - w - 8, sx)), Math.max(8, Math.min(size[1] - h - 104, sy))]);
      // The buttons of the view lie in the corner.
      const under = at[0] + w > size[0] - VIEW[0] && at[1] < VIEW[1] ? 800 : 0;
      const price = cost([...at, w, h]) + under + order + Math.hypot(at[0] - sx, at[1] - sy);
      if (price < least) { least = price; best = at; }
    });
    this.box.style.transform = `translate(${Math.round(best[0])}px, ${Math.round(best[1])}px)`;
    this.at = /** @type {Box} */ ([best[0], best[1], w, h]);
  }

  /**
   * Fades when the pointer leaves what is between the chip and its thing, and comes back only beside the thing.
   * @param {number} x @param {number} y where the pointer is over the sheet
   */
  look(x, y) {
    if (this.box.hidden || !this.thing || !this.at || this.box.classList.contains("docked")) return;
    const far = (/** @type {Box} */ [bx, by, w, h]) => Math.hypot(Math.max(bx - x, 0, x - bx - w), Math.max(by - y, 0, y - by - h));
    const gone = this.box.classList.contains("away"), room = gone ? this.thing : /** @type {Box} */ (joined(this.thing, this.at));
    this.box.classList.toggle("away", far(room) > NEAR && !this.box.contains(document.activeElement));
  }

  near() { this.box.classList.remove("away"); }
}
