// @ts-check
// What can be drawn, each for one use: outlines of rooms, walls, and what stands on floors.

/** What stands on the shelf before the program has said which features there are. */
const FEATURES = ["stair", "dais", "pillar", "pit", "well"];
/** @type {[string, string, string][]} tool, label, picture (24 x 24) */
const OUTLINES = [
  ["room", "Room", '<path d="M4 6h16v12H4z"/>'],
  ["round", "Round", '<circle cx="12" cy="12" r="8"/>'],
  ["hall", "Hall", '<path d="M3 17 17 4l4 4L7 21z"/>'],
  ["bent", "Bent hall", '<path d="M3 20A17 17 0 0 1 20 3v6A11 11 0 0 0 9 20z"/>'],
  ["cave", "Cave", '<path d="M4 9 8 4l6 1 6 4-1 6-6 5-7-2-3-4z"/>'],
  ["wall", "Wall", '<path d="M3 12h18" stroke-width="4"/>'],
];
/** @type {Record<string, string>} */
const PICTURES = {
  stair: '<path d="M4 20v-4h4v-4h4V8h4V4h4v16z"/>',
  dais: '<path d="M3 6h18v12H3zM7 9h10v6H7z"/>',
  pillar: '<path class="full" d="M8 8h8v8H8z"/>',
  pit: '<path class="full" d="M4 5h16v14H4z"/>',
  well: '<circle cx="12" cy="12" r="8"/><circle class="full" cx="12" cy="12" r="4"/>',
};
const OTHER = '<path d="M12 4 20 12 12 20 4 12z"/>';
const CARRY_PX = 10;

export class Shelf {
  /**
   * @param {HTMLElement} box @param {(tool: string) => void} arm
   * @param {{carried: (e: PointerEvent) => void, dropped: (e: PointerEvent) => void}} carry what happens to a thing that is dragged off the shelf
   */
  constructor(box, arm, carry) {
    this.box = box;
    this.arm = arm;
    this.carry = carry;
    this.kinds = "";
    box.className = "sheet-shelf";
    box.setAttribute("role", "toolbar");
    box.setAttribute("aria-label", "Shelf");
    box.addEventListener("keydown", (e) => this.#key(e));
    this.fill(null);
  }

  /** @param {any} features the kinds that the program knows, with what each says */
  fill(features) {
    const known = features ? Object.keys(features) : FEATURES, key = known.join();
    // In one order, before and after the program has said which there are.
    const kinds = [...FEATURES.filter((kind) => known.includes(kind)), ...known.filter((kind) => !FEATURES.includes(kind))];
    if (key === this.kinds) return;
    this.kinds = key;
    this.box.replaceChildren();
    for (const [tool, label, picture] of OUTLINES) this.#button(tool, label, picture);
    const line = document.createElement("span");
    line.className = "sheet-shelf-line";
    this.box.append(line);
    for (const kind of kinds) this.#button(kind, kind[0].toUpperCase() + kind.slice(1), PICTURES[kind] || OTHER);
    this.show("room");
  }

  /** @param {string} tool */
  show(tool) {
    for (const button of this.#buttons()) {
      const on = button.dataset.tool === tool;
      button.setAttribute("aria-pressed", String(on));
      button.tabIndex = on ? 0 : -1;
    }
  }

  /** @returns {HTMLButtonElement[]} */
  #buttons() { return [...this.box.querySelectorAll("button")]; }

  /** @param {string} tool @param {string} label @param {string} picture */
  #button(tool, label, picture) {
    const button = document.createElement("button");
    button.type = "button";
    button.dataset.tool = tool;
    button.innerHTML = `<svg viewBox="0 0 24 24" width="24" height="24" aria-hidden="true">${picture}</svg>`;
    const words = document.createElement("span");
    words.textContent = label;
    button.append(words);
    /** @type {{x: number, y: number, id: number, off: boolean}|null} */
    let held = null;
    button.addEventListener("pointerdown", (e) => {
      if (e.button) return;
      held = { x: e.clientX, y: e.clientY, id: e.pointerId, off: false };
      button.setPointerCapture(e.pointerId);
    });
    button.addEventListener("pointermove", (e) => {
      if (held?.id !== e.pointerId) return;
      const box = this.box.getBoundingClientRect(), outside = e.clientY < box.top - 4 || e.clientY > box.bottom + 4 || e.clientX < box.left - 4 || e.clientX > box.right + 4;
      if (!held.off && outside && Math.hypot(e.clientX - held.x, e.clientY - held.y) > CARRY_PX) { held.off = true; this.arm(tool); }
      if (held.off) this.carry.carried(e);
    });
    button.addEventListener("pointerup", (e) => {
      if (held?.id === e.pointerId && held.off) { this.carry.dropped(e); this.dropped = true; setTimeout(() => { this.dropped = false; }); }
      held = null;
    });
    button.addEventListener("pointercancel", () => { held = null; });
    button.addEventListener("click", () => { if (!this.dropped) this.arm(tool); });
    this.box.append(button);
  }

  /** @param {KeyboardEvent} e arrows walk along the shelf */
  #key(e) {
    const step = { ArrowRight: 1, ArrowLeft: -1 }[e.key], buttons = this.#buttons(), at = buttons.indexOf(/** @type {any} */ (document.activeElement));
    if (!step || at < 0) return;
    e.preventDefault();
    buttons[(at + step + buttons.length) % buttons.length].focus();
  }
}
