// @ts-check
// Who fits: the answer in one sentence, the figures, and where each of them stops.
import { at, button, fill, make, many, say, typing } from "../dom.js";
import { length } from "../sheet/lengths.js";

/** @typedef {import("../types.js").Fit} Fit */
/** @typedef {import("../types.js").Pin} Pin */

/** A list that is longer is read on the map. */
const MOST_SHOWN = 40;

/** The figures' words as they are said: "1 in" or "large". @param {Fit} record */
const figure = (record) => `${record.word} figures`;

/** A room as the map names it. @param {string} letter @param {any} plan */
const named = (letter, plan) => (letter === "." ? "outside" : plan.letters[letter]?.title || `Room ${letter}`);

/** What is said of one figure; from: where it sets out, if it matters. @param {Fit} record @param {any} plan */
export function verdict(record, plan) {
  if (record.wrong) return `${record.word}: ${record.wrong}.`;
  if (!record.positions) return `No place is large enough for ${figure(record)}.`;
  const where = !record.rooms_reached ? (record.rooms === 1 ? "can't get into the room" : `get into none of the ${record.rooms} rooms`) : record.rooms_reached === record.rooms ? (record.rooms === 1 ? "can stand in the room" : `reach all ${record.rooms} rooms`) : `reach ${record.rooms_reached} of ${record.rooms} rooms`;
  const from = record.rooms_reached < record.rooms && record.from ? ` from ${named(record.from, plan)}` : "";
  const stops = record.stops.length ? ` and stop at ${many(record.stops.length, "place")}` : "";
  return `${figure(record)} ${where}${from}${stops}.`.replace(/^./, (letter) => letter.toUpperCase());
}

/** The same in two words. @param {Fit | undefined} record */
export function short(record) {
  if (!record) return "...";
  if (record.wrong) return "not a size";
  if (!record.positions) return "nowhere";
  if (record.stops.length) return many(record.stops.length, "stop");
  return record.rooms_reached === record.rooms ? "everywhere" : `${record.rooms_reached} of ${many(record.rooms, "room")}`;
}

/** What is too narrow for a figure, and for what it is wide enough. @param {import("../types.js").Stop} stop @param {any} plan */
export function narrow(stop, plan) {
  if (stop.what !== "room" && stop.what !== "neck") return `${stop.what}, ${length(stop.width_mm, plan)}`;
  const here = stop.what === "neck" ? " in one place" : "";
  return stop.width_mm ? `has room${here} for bases up to ${length(stop.width_mm, plan)}` : `is too narrow${here}`;
}

/** @typedef {{pitch: string, tile: string, now: string, larger: boolean, same: boolean, cannot: string[], edits: any[]}} Grid  see /grid */

/** The grid that was found, in a sentence. @param {Grid} found */
export function gridSays({ pitch, tile, now, larger, same }) {
  if (same) return `These figures stand everywhere on this map's spaces of ${now}. No smaller ones will do.`;
  if (larger) return `Spaces of ${pitch} let these figures stand everywhere, between walls as thick as yours. Squares are then ${tile} wide. Your spaces are ${now}.`;
  return `These figures stand everywhere on your spaces of ${now}. Spaces of ${pitch} are enough for them: squares ${tile} wide.`;
}

export class FitPanel {
  /** @param {any} desk @param {{show(record: Fit | null): void, look(x: number, y: number): void}} map @param {import("./sight.js").Sight} sight */
  constructor(desk, map, sight) {
    this.sight = sight;
    this.desk = desk;
    this.map = map;
    this.place = at("panel-fit");
    /** The figure that is shown on the map. */
    this.shown = "";
    /** The grid that was found, and for what it was asked. @type {{asked: string, found?: Grid, wrong?: string} | null} */
    this.grid = null;
  }

  /** The record that is shown on the map, if any. @returns {Fit | null} */
  get record() {
    return this.desk.answers?.fit.find((/** @type {Fit} */ one) => one.word === this.shown && !one.wrong) || null;
  }

  draw() {
    const { desk } = this, answers = desk.answers;
    this.map.show(this.record);
    if (typing(this.place)) return;
    if (!desk.plan || desk.plan.empty) return fill(this.place, make("p", { className: "answer" }, "Draw a room, and this shows who fits in it. To draw over a picture of your map, choose it under Rooms."));
    if (!answers) return fill(this.place, make("p", { className: "answer" }, desk.plan.fault ? "The map has a fault. Mend it, and this says who fits." : "One moment."));
    fill(
      this.place,
      make("p", { className: "answer", id: "answer" }, answers.fit.map((/** @type {Fit} */ one) => verdict(one, desk.plan)).join(" ") || (desk.figures.length ? "One moment." : "Add a figure, and this says where it fits.")),
      make("div", { className: "figures", role: "group", "aria-label": "Figures" }, ...desk.figures.map((/** @type {string} */ word) => this.#figure(word))),
      this.#another(),
      this.#finder(),
      this.record && this.#stops(this.record),
      this.#narrowest(),
      this.#decide(answers.pins),
      this.sight.panel,
    );
    return undefined;
  }

  /** @param {string} word */
  #figure(word) {
    const record = this.desk.answers.fit.find((/** @type {Fit} */ one) => one.word === word), on = this.shown === word;
    const size = Math.min(46, 12 + (record?.base_mm || 25) * 0.45);
    const disc = make("span", { className: "disc", "aria-hidden": "true" });
    disc.style.width = disc.style.height = `${size}px`;
    const stops = record && (record.wrong || record.stops.length || record.rooms_reached < record.rooms);
    return make("div", { className: "figure" },
      make("button", { type: "button", "aria-pressed": String(on), "data-keep": `figure-${word}`, onclick: () => { this.shown = on ? "" : word; this.draw(); } },
        disc, make("b", {}, word), make("span", { className: stops ? "no" : "yes" }, short(record))),
      make("button", { type: "button", className: "small", "aria-label": `Leave out ${word}`, title: "Leave out", onclick: () => this.desk.setFigures(this.desk.figures.filter((/** @type {string} */ one) => one !== word)) }, "×"));
  }

  #another() {
    const input = make("input", { placeholder: "3 in", maxLength: 20, id: "figure", "aria-label": "Base of another figure", autocomplete: "off" });
    return make("form", { className: "row", onsubmit: (/** @type {Event} */ event) => {
      event.preventDefault();
      const word = input.value.trim();
      if (!word) return;
      input.blur();
      this.shown = word;
      this.desk.setFigures([...this.desk.figures, word]);
    } }, input, make("button", { type: "submit" }, "Add a figure"));
  }

  #finder() {
    const { desk, grid } = this, asked = JSON.stringify([desk.figures, desk.plan.at]);
    if (!desk.figures.length) return null;
    const find = async () => {
      const units = length(1, desk.plan).endsWith("mm") ? "mm" : "in";
      const got = await desk.ask("/grid", { figures: desk.figures, wish: { ...desk.wish, units } }).then((/** @type {Grid} */ found) => ({ found }), (/** @type {any} */ error) => ({ wrong: error.message }));
      this.grid = { asked, ...got };
      this.draw();
    };
    if (grid?.asked !== asked) return make("p", { className: "row" }, button("Find a grid for these figures", find, { "data-keep": "grid" }));
    const { found, wrong } = grid;
    if (!found) return make("p", { className: "quiet", id: "grid-found" }, `${wrong}.`);
    return make("section", { className: "stops", id: "grid-found" },
      make("p", {}, gridSays(found)),
      make("ul", { className: "plain quiet" }, ...found.cannot.map((words) => make("li", {}, words))),
      !found.same && button(`Use spaces of ${found.pitch}`, () => desk.edit(found.edits, { said: `Spaces of ${found.pitch}.` }), { className: found.larger ? "do" : "", "data-keep": "grid" }));
  }

  /** @param {Fit} record */
  #stops(record) {
    if (!record.stops.length) return make("p", { className: "quiet" }, record.rooms_reached === record.rooms ? "Nothing stops them." : "Some rooms have no way in: see below.");
    const can = record.stops.filter((stop) => stop.widen);
    return make("section", { className: "stops" },
      make("h2", {}, `Where ${figure(record)} stop`),
      record.rooms_reached > 0 && record.rooms_reached < record.rooms && make("p", { className: "quiet" }, "Rooms that they don't reach are tinted on the map."),
      can.length > 1 && make("p", { className: "row" }, button(`Widen all ${can.length}`, () => this.#widenAll(can), { className: "do", "data-keep": "widen-all" })),
      make("ul", { className: "plain" }, ...record.stops.slice(0, MOST_SHOWN).map((stop) => make("li", {}, make("span", {}, this.#between(stop), make("span", { className: "quiet" }, ` ${narrow(stop, this.desk.plan)}`)),
        make("span", { className: "row" }, button("Show", () => this.map.look(stop.x, stop.y)),
          stop.widen && button("Widen", () => this.#widen(stop.widen || [], "Widened."))) ))),
      record.stops.length > MOST_SHOWN && make("p", { className: "quiet" }, `And ${record.stops.length - MOST_SHOWN} more, marked on the map.`));
  }

  /** The rooms on both sides of a stop, by name. @param {import("../types.js").Stop} stop */
  #between(stop) {
    return [...new Set(stop.between)].map((letter) => named(letter, this.desk.plan)).join(" to ");
  }

  /** All in one step; where one can't be, the others all the same, and which could not is said. @param {import("../types.js").Stop[]} stops */
  async #widenAll(stops) {
    const all = await this.desk.edit(stops.flatMap((stop) => stop.widen || []), { said: `${stops.length} widened.` });
    if (!all.refused) return;
    const outcomes = [];
    for (const stop of stops) outcomes.push(await this.desk.edit(stop.widen, { goesOn: outcomes.some((one) => !one.refused) }));
    const not = stops.filter((_, k) => outcomes[k].refused);
    say(`${stops.length - not.length} widened. No room in the wall: ${not.map((stop) => this.#between(stop)).join("; ")}. Move that doorway away from the corner.`);
  }

  /** @param {any[]} edits @param {string} said */
  async #widen(edits, said) {
    const outcome = await this.desk.edit(edits, { said });
    if (outcome.refused) say(`Not widened: ${outcome.refused.text}.`);
  }

  #narrowest() {
    const { narrowest } = this.desk.answers;
    return narrowest && make("div", { className: "line" }, make("span", {}, `The narrowest way lets bases of ${length(narrowest.mm, this.desk.plan)} through.`), button("Show", () => this.map.look(narrowest.x, narrowest.y)));
  }

  /** @param {Pin[]} pins */
  #decide(pins) {
    if (!pins.length) return null;
    return make("section", { className: "stops" }, make("h2", {}, "To decide"),
      make("ul", { className: "plain", id: "messages" }, ...pins.slice(0, MOST_SHOWN).map((pin) => make("li", {},
        make("span", {}, pin.text.replace(/\.?$/, ".")),
        !pin.edits && pin.cure && make("span", { className: "quiet" }, pin.cure),
        make("span", { className: "row" },
          pin.x !== null && button("Show", () => this.map.look(/** @type {number} */ (pin.x), /** @type {number} */ (pin.y))),
          pin.edits && button((pin.cure || "Mend it").replace(/\.$/, ""), () => { this.desk.edit(pin.edits, { said: "Done." }); }))))));
  }
}
