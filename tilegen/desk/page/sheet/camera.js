// @ts-check
// Where the sheet is seen from: pixels of the window to cells of the drawing and back.

/** Pixels per cell: the least and the most. */
export const LEAST_SCALE = 2, MOST_SCALE = 240;

/**
 * @typedef {{x: number, y: number, scale: number}} Camera  x, y: the cell coordinates of the window's north-west corner; scale: pixels per cell
 * @typedef {[number, number]} Point
 */

/** @param {Camera} eye @param {number} x @param {number} y @returns {Point} cells to pixels */
export const toScreen = (eye, x, y) => [(x - eye.x) * eye.scale, (y - eye.y) * eye.scale];

/** @param {Camera} eye @param {number} px @param {number} py @returns {Point} pixels to cells */
export const toPlan = (eye, px, py) => [eye.x + px / eye.scale, eye.y + py / eye.scale];

/** @param {Camera} eye @param {number} dx @param {number} dy @returns {Camera} the sheet pulled along by so many pixels */
export const pulled = (eye, dx, dy) => ({ ...eye, x: eye.x - dx / eye.scale, y: eye.y - dy / eye.scale });

/** @param {number} scale */
const within = (scale) => Math.min(MOST_SCALE, Math.max(LEAST_SCALE, scale));

/**
 * Nearer or farther, with one point of the window kept where it is.
 * @param {Camera} eye @param {number} by factor @param {number} px @param {number} py @returns {Camera}
 */
export function zoomed(eye, by, px, py) {
  const scale = within(eye.scale * by), [x, y] = toPlan(eye, px, py);
  return { x: x - px / scale, y: y - py / scale, scale };
}

/**
 * Two fingers: what lay under them stays under them.
 * @param {Camera} eye @param {Point[]} before @param {Point[]} now both fingers, in pixels @returns {Camera}
 */
export function pinched(eye, before, now) {
  const span = (/** @type {Point[]} */ [a, b]) => Math.hypot(a[0] - b[0], a[1] - b[1]);
  const middle = (/** @type {Point[]} */ [a, b]) => /** @type {Point} */ ([(a[0] + b[0]) / 2, (a[1] + b[1]) / 2]);
  const [from, to] = [middle(before), middle(now)];
  return zoomed(pulled(eye, to[0] - from[0], to[1] - from[1]), span(now) / Math.max(1, span(before)), ...to);
}

/**
 * All of a box in the middle of the window.
 * @param {[number, number, number, number]} box x, y, width, height in cells
 * @param {[number, number]} size of the window
 * @param {{top?: number, bottom?: number, side?: number, most?: number}} [room] pixels left free; most: pixels per cell
 * @returns {Camera}
 */
export function fitted(box, size, { top = 70, bottom = 96, side = 48, most = 56 } = {}) {
  const [x, y, w, h] = box, wide = Math.max(40, size[0] - 2 * side), high = Math.max(40, size[1] - top - bottom);
  const scale = within(Math.min(most, wide / Math.max(1, w), high / Math.max(1, h)));
  return { x: x + w / 2 - (side + wide / 2) / scale, y: y + h / 2 - (top + high / 2) / scale, scale };
}

/** @param {Camera} eye @param {number} west @param {number} north @returns {Camera} the same view of a drawing that grew by so many cells */
export const grown = (eye, west, north) => ({ ...eye, x: eye.x + west, y: eye.y + north });
