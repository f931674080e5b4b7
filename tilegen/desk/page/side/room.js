// @ts-check
// The room that is selected, or all rooms; below them what holds for the whole map.
import { at, button, choice, field, fill, make, many, typing } from "../dom.js";

const MEASURES = /** @type {const} */ ([
  ["pitch", "One space", "1.25 in"], ["wall_thickness", "Wall thickness", "0.25 in"], ["wall_height", "Wall height", "1.5 in"],
  ["base_depth", "Floor thickness", "0.25 in"], ["joint_play", "Play between tiles", "0.3 mm"],
]);

export class RoomPanel {
  /** @param {any} desk @param {{select(letter: string | null): void}} map @param {import("../trace.js").Tracing} tracing */
  constructor(desk, map, tracing) {
    this.tracing = tracing;
    this.open = false;
    this.desk = desk;
    this.map = map;
    this.place = at("panel-room");
    /** The room that is selected on the map. @type {string | null} */
    this.room = null;
  }

  draw() {
    const { plan } = this.desk;
    if (!plan || typing(this.place)) return;
    const room = this.room && plan.letters[this.room] ? this.room : null;
    fill(this.place, room ? this.#room(room) : this.#rooms(), this.#whole(), this.tracing.panel);
  }

  /** @param {any} edit */
  #do(edit) {
    const held = /** @type {HTMLElement | null} */ (document.activeElement);
    if (held && this.place.contains(held) && held.matches("input, select")) held.blur();
    this.desk.edit(edit).then(() => this.draw());
  }

  #rooms() {
    const letters = Object.entries(this.desk.plan.letters);
    if (!letters.length) return make("p", { className: "answer" }, "No room is drawn yet.");
    return make("section", {}, make("p", { className: "answer" }, `${many(letters.length, "room")}. Choose one to change it.`),
      make("ul", { className: "plain", id: "rooms" }, ...letters.map(([letter, one]) => make("li", {},
        make("button", { type: "button", className: "wide", "data-keep": `room-${letter}`, onclick: () => this.map.select(letter) }, make("span", {}, one.title || `Room ${letter}`), make("span", { className: "quiet" }, one.cells ? many(one.cells, "square") : `${+one.box[2].toFixed(1)} × ${+one.box[3].toFixed(1)}`))))));
  }

  /** @param {string} room */
  #room(room) {
    const { plan, tools } = this.desk, one = plan.letters[room];
    const text = (/** @type {string} */ value, /** @type {string} */ usual, /** @type {(value: string) => void} */ change) => {
      const input = make("input", { value: value || "", placeholder: usual, maxLength: 80, autocomplete: "off", onchange: () => change(input.value.trim()),
        onkeydown: (/** @type {KeyboardEvent} */ event) => { if (event.key === "Enter") input.blur(); } });
      return input;
    };
    return make("section", { className: "fields" },
      make("p", { className: "answer wide" }, one.title || `Room ${room}`),
      field("Name", text(one.title, `Room ${room}`, (value) => this.#do({ do: "title", room, title: value }))),
      field("Floor raised by", text(one.floor, "0 in", (value) => this.#do({ do: "height", room, key: "floor", value }))),
      field("Wall height", text(one.wall, plan.measures.wall_height || "1.5 in", (value) => this.#do({ do: "height", room, key: "wall", value }))),
      field("Style of print", choice([["", `as the map (${plan.surface.style || "plain"})`], ...entries(tools?.styles)], one.style || "", (style) => this.#do({ do: "room-style", room, style }))),
      button("All rooms", () => this.map.select(null)));
  }

  #whole() {
    const { plan, tools } = this.desk, { measures, choices, surface, connector } = plan;
    const styles = entries(tools?.styles || ["plain"]);
    const measure = (/** @type {string} */ key, /** @type {string} */ usual) => {
      const input = make("input", { value: measures[key] || "", placeholder: usual, maxLength: 40, "data-measure": key, autocomplete: "off", onchange: () => this.#do({ do: "measure", key, value: input.value.trim() }) });
      return input;
    };
    return make("details", { className: "whole", open: this.open, ontoggle: (/** @type {any} */ event) => { this.open = event.target.open; } },
      make("summary", {}, "The whole map"),
      make("div", { className: "fields" },
        field("One square is", choice([["10 ft", "10 ft (2 x 2 spaces)"], ["5 ft", "5 ft (one space)"]], plan.scale, (scale) => this.#do({ do: "scale", scale }))),
        ...MEASURES.map(([key, words, usual]) => field(words, measure(key, usual))),
        field("Posts at corners", choice([["fixed", "part of the tile"], ["loose", "loose pieces"], ["none", "left out"]], choices.posts || "fixed", (value) => this.#do({ do: "choice", key: "posts", value }))),
        field("Doorways", choice([["fixed", "part of the wall"], ["loose", "loose pieces"]], choices.doorways || "fixed", (value) => this.#do({ do: "choice", key: "doorways", value }))),
        field("Style of print", choice(styles, surface.style || "plain", (value) => this.#do({ do: "surface", key: "style", value }))),
        field("Detail of print", choice(entries(tools?.details || ["low", "middle", "high"]), surface.detail || "middle", (value) => this.#do({ do: "surface", key: "detail", value }))),
        field("Floor pattern", choice(entries(tools?.floors || ["none"]), surface.floor || "none", (value) => this.#do({ do: "surface", key: "floor", value }))),
        field("Wall pattern", choice(entries(tools?.walls || ["none"]), surface.walls || "none", (value) => this.#do({ do: "surface", key: "walls", value }))),
        field("What holds tiles together", choice(entries(tools?.connectors), connector?.kind || "none", (kind) => this.#do({ do: "connector", kind: kind === "none" ? null : kind })))));
  }
}

/** Words to choose from, with what they mean if that is known. @param {any} words a list, or what each means @returns {[string, string][]} */
const entries = (words) => (Array.isArray(words) ? words.map((word) => [word, word]) : Object.entries(words || {}).map(([word, says]) => [word, typeof says === "string" && says ? says : word]));
