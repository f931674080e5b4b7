// @ts-check
// Plans to open: a new one, a file, an example, one that was drawn before; and how the page looks.
import { button, fill, make, many, say } from "./dom.js";

/** A small picture of a drawing's rows. @param {string[]} rows */
export function thumbnail(rows) {
  const high = rows.length, wide = Math.max(1, ...rows.map((row) => row.length));
  const used = rows.flatMap((row, y) => [...row].flatMap((letter, x) => (letter === "." ? [] : [[x, y]])));
  const [x0, y0, x1, y1] = used.length ? [Math.min(...used.map(([x]) => x)), Math.min(...used.map(([, y]) => y)), Math.max(...used.map(([x]) => x)) + 1, Math.max(...used.map(([, y]) => y)) + 1] : [0, 0, wide, high];
  const room = (/** @type {number} */ x, /** @type {number} */ y) => rows[y]?.[x] || ".";
  const floor = used.map(([x, y]) => `M${x} ${y}h1v1h-1z`).join("");
  const walls = used.map(([x, y]) => [room(x, y - 1) !== room(x, y) && `M${x} ${y}h1`, room(x, y + 1) !== room(x, y) && `M${x} ${y + 1}h1`,
    room(x - 1, y) !== room(x, y) && `M${x} ${y}v1`, room(x + 1, y) !== room(x, y) && `M${x + 1} ${y}v1`].filter(Boolean).join("")).join("");
  return make("svg", { viewBox: `${x0 - 0.5} ${y0 - 0.5} ${x1 - x0 + 1} ${y1 - y0 + 1}`, className: "small-map", "aria-hidden": "true" },
    make("path", { d: floor, className: "t-floor" }), make("path", { d: walls, className: "t-edge" }));
}

export class Plans {
  /** @param {any} desk @param {(title: string, ...content: any[]) => void} view @param {() => void} shut @param {() => void} save */
  constructor(desk, view, shut, save) {
    this.save = save;
    this.desk = desk;
    this.view = view;
    this.shut = shut;
    /** @type {any[] | null} */
    this.examples = null;
  }

  async open() {
    const input = make("input", { type: "file", id: "open-file", accept: ".toml,text/plain", className: "hidden-file", "aria-label": "Open a plan from a file", onchange: () => this.file(input) });
    const shelf = make("div", { className: "plans", id: "kept-plans" }, make("p", { className: "quiet" }, "One moment."));
    const shown = make("div", { className: "plans", id: "examples" });
    this.view("Plans",
      make("div", { className: "row" }, button("New plan", () => this.#take("", "A new plan", "A new plan. Undo brings the last one back."), { id: "fresh", className: "do" }), make("label", { className: "button" }, "Open a file", input),
        !this.desk.plan.empty && button("Save this plan", () => { this.shut(); this.save(); })),
      make("h3", {}, "Drawn here before"), shelf, make("h3", {}, "Examples"), shown);
    const drawn = this.desk.plans().catch(() => []);
    this.examples ||= (await fetch("/examples").then((answer) => answer.json()).catch(() => ({ plans: [] }))).plans;
    const date = new Intl.DateTimeFormat([], { dateStyle: "medium", timeStyle: "short" });
    const kept = (await drawn).map((/** @type {any} */ one) => ({ ...one, rows: one.rows || rowsOf(one.text || "") })).filter((/** @type {any} */ one) => /[^.]/.test(one.rows.join("")));
    fill(shelf, ...(kept.length ? kept.map((/** @type {any} */ one) => this.#card(one.name, date.format(one.made * 1000), one.rows, () => { this.shut(); this.desk.reopen(one.at, one.name); }))
      : [make("p", { className: "quiet" }, "Nothing yet. All that you draw is kept here by itself.")]));
    // Not before what stands above them, which would move them from under the pointer.
    fill(shown, .../** @type {any[]} */ (this.examples).map((one) => this.#card(one.name, "", rowsOf(one.text), () => this.#take(one.text, one.name, `${one.name}, opened as a copy.`))));
  }

  /** @param {string} name @param {string} more @param {string[]} rows @param {() => void} press */
  #card(name, more, rows, press) {
    const squares = rows.join("").replace(/\./g, "").length;
    return make("button", { type: "button", className: "card", onclick: press, "data-plan": name }, thumbnail(rows), make("b", {}, name), make("span", { className: "quiet" }, more || many(squares, "square")));
  }

  /** @param {string} text @param {string} name @param {string} said */
  #take(text, name, said) {
    this.shut();
    return this.desk.open(text, name, { said });
  }

  /** @param {any} input */
  async file(input) {
    const [file] = input.files;
    input.value = "";
    if (!file) return;
    try {
      await this.#take(new TextDecoder("utf-8", { fatal: true }).decode(await file.arrayBuffer()), file.name, `${file.name} opened.`);
    } catch {
      this.shut();
      say(`${file.name} can't be opened: it is not UTF-8 text, which a plan is.`);
    }
  }
}

/** The rows of a plan's drawing, as far as they can be told without reading the file's language. @param {string} text */
export function rowsOf(text) {
  const match = /drawing\s*=\s*("""|''')([\s\S]*?)\1/.exec(text);
  return (match?.[2] || ".").split("\n").map((row) => row.replace(/\s/g, "")).filter(Boolean);
}
