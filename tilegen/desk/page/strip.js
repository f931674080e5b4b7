// @ts-check
// The strip of totals: how much the map takes, always there.
import { at, make } from "./dom.js";
import { length } from "./sheet/lengths.js";

/** @typedef {import("./types.js").Answers} Answers */

/**
 * What the strip shows: figure, words and the panel that says more. Figures that are not known yet are left out.
 * @param {Answers | null} answers @param {any} plan @returns {[string, string, string][]}
 */
export function figures(answers, plan) {
  if (!answers?.totals.tiles) return [];
  const { tiles, types, pieces, own, make: toMake, sheets, beds, hours, print_hours: printing, cost } = answers.totals;
  const rows = /** @type {[any, string, string][]} */ ([
    [tiles, tiles === 1 ? "tile" : "tiles", "kit"], [types, types === 1 ? "type" : "types", "kit"],
    [pieces || null, pieces === 1 ? "loose piece" : "loose pieces", "kit"], [own ? toMake : null, "to make", "kit"],
    [sheets ?? null, sheets === 1 ? "sheet" : "sheets", "make"], [hours ? round(hours) : null, "h cutting", "make"],
    [beds ?? null, beds === 1 ? "print bed" : "print beds", "make"], [printing ? round(printing) : null, "h printing", "make"],
    [cost ?? null, "material", "make"], [answers.narrowest ? length(answers.narrowest.mm, plan) : null, "narrowest way", "fit"],
  ]);
  return rows.filter(([value]) => value !== null).map(([value, words, panel]) => [String(value), words, panel]);
}

/** @param {number} hours */
const round = (hours) => (hours < 10 ? Math.round(hours * 10) / 10 : Math.round(hours));

/** What comes last is not known for a while after each edit: until then it is what it was. @type {any} */
let last = {};
const LATE = ["own", "make", "sheets", "beds", "hours", "print_hours", "cost"];

/** @param {Answers | null} answers @param {any} plan @param {(panel: string) => void} open */
export function showTotals(answers, plan, open) {
  if (!answers?.totals.tiles) last = {};
  else {
    const { totals } = answers, known = LATE.some((key) => /** @type {any} */ (totals)[key] !== null);
    if (known) last = Object.fromEntries(LATE.map((key) => [key, /** @type {any} */ (totals)[key]]));
    else answers = { ...answers, totals: { ...totals, ...last } };
    at("totals").classList.toggle("late", !known);
  }
  at("totals").replaceChildren(...figures(answers, plan).map(([value, words, panel]) =>
    make("div", { onclick: () => open(panel), "data-total": words, "data-panel": panel }, make("dt", {}, words), make("dd", {}, value))));
}
