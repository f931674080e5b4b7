// @ts-check
// Elements of the page, made and filled.

/**
 * An element. Keys that begin with "on" are listeners, those with "-" and role, for, d and viewBox are attributes.
 * @param {string} tag @param {Record<string, any>} [props] @param {...(Node | string | null | undefined | false)} inside
 * @returns {any}
 */
export function make(tag, props = {}, ...inside) {
  const svg = tag === "svg" || tag === "path" || tag === "g";
  const found = svg ? document.createElementNS("http://www.w3.org/2000/svg", tag) : document.createElement(tag);
  for (const [key, value] of Object.entries(props)) {
    if (value === undefined || value === null) continue;
    if (key.startsWith("on")) found.addEventListener(key.slice(2), value);
    else if (svg || key.includes("-") || key === "role") found.setAttribute(key === "className" ? "class" : key, String(value));
    else /** @type {any} */ (found)[key] = value;
  }
  found.append(.../** @type {any[]} */ (inside.filter((one) => one !== null && one !== undefined && one !== false)));
  return found;
}

/** @param {string} id @returns {any} */
export const at = (id) => document.getElementById(id);

/** A button. @param {string} words @param {() => void} press @param {Record<string, any>} [props] */
export const button = (words, press, props = {}) => make("button", { type: "button", onclick: press, ...props }, words);

/** A labelled control. @param {string} words @param {any} control */
export const field = (words, control) => make("label", { className: "field" }, make("span", {}, words), control);

/**
 * A list to choose from, by value or by [value, words].
 * @param {(string | [string, string])[]} entries @param {string} chosen @param {(value: string) => void} choose
 */
export function choice(entries, chosen, choose) {
  const found = make("select", { onchange: () => choose(found.value) }, ...entries.map((one) => {
    const [value, words] = Array.isArray(one) ? one : [one, one];
    return make("option", { value }, words);
  }));
  found.value = chosen;
  return found;
}

/**
 * Put new content into a part of the page, and the keyboard back where it was: parts that can hold it carry data-keep.
 * @param {HTMLElement} place @param {...(Node | string | null | undefined | false)} inside
 */
export function fill(place, ...inside) {
  const held = /** @type {HTMLElement | null} */ (place.contains(document.activeElement) ? document.activeElement : null);
  const mark = held?.dataset.keep;
  place.replaceChildren(.../** @type {any[]} */ (inside.filter(Boolean)));
  if (mark) /** @type {HTMLElement | null} */ (place.querySelector(`[data-keep="${CSS.escape(mark)}"]`))?.focus();
}

/** Whether something is being typed in a part of the page: that is not to be made anew under the hand. @param {HTMLElement} place */
export const typing = (place) => place.contains(document.activeElement) && Boolean(document.activeElement?.matches("input:not([type=checkbox]), select"));

/** How long a message stays: at least so long, and so long per letter. */
const SAID_MS = 3500, LETTER_MS = 75;
/** @type {ReturnType<typeof setTimeout> | undefined} */
let fades;

/** Say what has happened; after a while it is out of the way. @param {string} text */
export function say(text) {
  clearTimeout(fades);
  at("said").textContent = text;
  at("said").classList.remove("gone");
  fades = setTimeout(() => at("said").classList.add("gone"), Math.max(SAID_MS, LETTER_MS * text.length));
}

/** A file to keep. @param {Blob | string} content a blob, or an address @param {string} name */
export function keepFile(content, name) {
  const href = typeof content === "string" ? content : URL.createObjectURL(content);
  make("a", { href, download: name }).click();
  if (typeof content !== "string") setTimeout(() => URL.revokeObjectURL(href), 60_000);
}

/** How many of what. @param {number} count @param {string} one */
export const many = (count, one) => `${count} ${one}${count === 1 ? "" : "s"}`;
