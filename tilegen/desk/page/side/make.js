// @ts-check
// What stands in the workshop, what to mind with it, what will be made, and the files.
import { at, button, choice, field, fill, keepFile, make, typing } from "../dom.js";

/** Larger pieces to cover the floor with, as `--pieces` takes them. @type {[string, string][]} */
const LARGER = [["", "one square each"], ["2x1, 2x2", "up to 2 x 2 squares"], ["2x1, 2x2, 4x2", "up to 4 x 2 squares"]];
const TAKING = "taking", CHOSEN = "tilegen-workshop";
/** Common practice, no source. */
const OWN_CAUTION = "Your own material or machine: read its safety data sheet and its manual first. Never cut PVC or a plastic that you can't name with a laser or a hot wire; the fumes are poisonous.";
/** Kinds of files of the user's own, and how they are spoken of. @type {[string, string][]} */
const OWN = [["material", "a sheet material"], ["machine", "a machine"], ["printer", "a printer"], ["shelf", "tiles that you have"]];

export class MakePanel {
  /** @param {any} desk @param {(title: string, ...content: any[]) => void} view shows something large */
  constructor(desk, view) {
    this.desk = desk;
    this.view = view;
    this.place = at("panel-make");
    /** What is chosen: cut and print say whether these files are wanted. @type {any} */
    this.chosen = { cut: true, print: false, material: "foam", machine: "hand-knife", printer: "fdm-220", paper: "A4", own: [], owned: {}, ...read() };
    this.accepted = "";
    this.said = "";
    /** The stage at which the work is, and how many there are. @type {{stage: string, done: number} | null} */
    this.working = null;
    this.name = sessionStorage.getItem(TAKING) || "";
    if (this.name) this.#follow();
    // A page that is left does not listen any more: that is no end of the work.
    window.addEventListener("beforeunload", () => this.events?.close());
  }

  /** What the program is asked to make it with. */
  get wish() {
    const { cut, print, material, machine, printer, paper, own } = this.chosen, { ask } = this.#pair, owned = Object.fromEntries(Object.entries(this.chosen.owned).filter(([, count]) => count));
    return { materials: [material], machine, printer, paper, make: cut && print ? "both" : cut ? "cut" : "print", accept: ask && this.accepted === ask ? [ask] : [], ...(own.length ? { own } : {}), ...(Object.keys(owned).length ? { owned } : {}) };
  }

  get #pair() {
    const { material, machine } = this.chosen, pairs = this.desk.tools?.pairs || {};
    return pairs[`${material}/${machine}`] || { ok: true, why: "", ask: "", cautions: [OWN_CAUTION, ...common(pairs, machine)] };
  }

  /** @param {any} change */
  #choose(change) {
    Object.assign(this.chosen, change);
    try { localStorage.setItem(CHOSEN, JSON.stringify(this.chosen)); } catch { /* kept in this page only */ }
    /** @type {HTMLElement | null} */ (document.activeElement)?.blur();
    this.desk.setWish(this.wish);
    this.draw();
  }

  draw() {
    const { tools, plan } = this.desk;
    if (!tools || typing(this.place)) return;
    const { cut, print } = this.chosen;
    const tick = (/** @type {string} */ words, /** @type {"cut" | "print"} */ key) => make("label", { className: "check" },
      make("input", { type: "checkbox", checked: this.chosen[key], "data-keep": key, onchange: (/** @type {any} */ event) => this.#choose({ [key]: event.target.checked }) }), words);
    fill(
      this.place,
      make("p", { className: "answer" }, "What stands in your workshop?"),
      make("fieldset", {}, make("legend", {}, tick("I cut sheets", "cut")), cut && make("div", { className: "fields" },
        field("Of", this.#select("material", tools.materials)), field("With", this.#select("machine", tools.machines)),
        field("Paper for templates", this.#select("paper", Object.fromEntries(tools.papers.map((/** @type {string} */ size) => [size, size]))))),
      cut && this.#verdict()),
      make("fieldset", {}, make("legend", {}, tick("I print solids", "print")), print && make("div", { className: "fields" }, field("On", this.#select("printer", tools.printers)))),
      this.#cautions(),
      plan?.scale === "10 ft" && field("Size of tiles", choice(LARGER, plan.larger || "", (value) => { this.desk.edit({ do: "larger", value }); this.#choose({}); })),
      this.#own(),
      this.#previews(),
      this.#take(),
    );
  }

  /** @param {string} key @param {Record<string, string>} entries */
  #select(key, entries) {
    const mine = this.chosen.own.filter((/** @type {any} */ one) => one.kind === key).map((/** @type {any} */ one) => [one.name, `${one.name} (yours)`]);
    const found = choice([...Object.entries(entries), ...mine], this.chosen[key], (value) => this.#choose({ [key]: value }));
    if (found.selectedIndex < 0) { found.selectedIndex = 0; this.chosen[key] = found.value; }
    found.id = key;
    return found;
  }

  // A pair that must not be, or one whose danger has to be read first.
  #verdict() {
    const { ok, why, ask } = this.#pair;
    return [!ok && make("p", { className: "trouble", id: "pair" }, why),
      ask && make("label", { className: "check", id: "accept-row" }, make("input", { type: "checkbox", id: "accept", checked: this.accepted === ask, onchange: (/** @type {any} */ event) => { this.accepted = event.target.checked ? ask : ""; this.#choose({}); } }), `I have read this and take the risk: ${ask}`)]
      .filter(Boolean).reduce((all, one) => { all.append(one); return all; }, make("div"));
  }

  #own() {
    const { own } = this.chosen;
    const kind = choice(OWN, "material", () => {}), input = make("input", { type: "file", accept: ".toml,.json,.csv,text/plain", className: "hidden-file", "aria-label": "File of your own" });
    kind.setAttribute("aria-label", "What your file describes");
    input.addEventListener("change", async () => {
      const [file] = input.files;
      if (!file) return;
      const one = { kind: kind.value, name: file.name, text: await file.text() };
      const before = { ...this.chosen };
      this.#choose({ own: [...own.filter((/** @type {any} */ other) => other.name !== one.name || other.kind !== one.kind), one] });
      try {
        await this.desk.ask("/own", { wish: this.wish });
        if (one.kind !== "shelf") this.#choose({ [one.kind]: one.name });
      } catch (error) {
        this.#choose(before);
        this.#say(`${file.name} was not taken: ${/** @type {Error} */ (error).message}`);
      }
    });
    return make("details", { className: "whole", open: own.length > 0 }, make("summary", {}, "Files of your own"),
      make("ul", { className: "plain" }, ...own.map((/** @type {any} */ one) => make("li", { className: "line" }, make("span", {}, one.name, " ", make("span", { className: "quiet" }, OWN.find(([word]) => word === one.kind)?.[1] || "")),
        button("Leave out", () => this.#choose({ own: own.filter((/** @type {any} */ other) => other !== one) }), { "aria-label": `Leave out ${one.name}` })))),
      make("div", { className: "row" }, make("label", {}, "A file of ", kind), make("label", { className: "button" }, "Choose the file", input)));
  }

  #cautions() {
    const { cut, print, printer } = this.chosen, { tools } = this.desk;
    const all = [...(cut ? this.#pair.cautions : []), ...(print ? tools.printer_cautions[printer] || [] : [])];
    return all.length ? make("section", { className: "cautions" }, make("h2", {}, "Mind your hands, eyes and lungs"), make("ul", { id: "cautions" }, ...all.map((text) => make("li", {}, text)))) : null;
  }

  #previews() {
    const { cut, print } = this.chosen;
    return make("div", { className: "row", role: "group", "aria-label": "Look first" }, make("span", { className: "quiet" }, "Look first:"),
      button("Layout", () => this.#look("layout", "Layout")), cut && button("Sheets", () => this.#look("sheets", "Sheets")), print && button("Beds", () => this.#look("beds", "Beds")));
  }

  /**
   * How many of a type there are already: kept with the files of one's own.
   * @param {string} id @param {number} count
   */
  own(id, count) {
    this.#choose({ owned: { ...this.chosen.owned, [id]: count } });
  }

  /** @param {string} picture @param {string} title */
  async #look(picture, title) {
    this.view(title, make("p", {}, "One moment."));
    try {
      await this.desk.settled();
      const { pictures } = await this.desk.ask("/picture", { picture, wish: this.wish });
      this.view(title, ...pictures.map((/** @type {{name: string, svg: string}} */ { name, svg }) => make("figure", {},
        make("img", { src: URL.createObjectURL(new Blob([svg], { type: "image/svg+xml" })), alt: `Picture: ${name}` }), make("figcaption", {}, name))));
    } catch (error) { this.view(title, make("p", {}, `${/** @type {Error} */ (error).message}.`)); }
  }

  #take() {
    const { cut, print } = this.chosen, { ok, ask } = this.#pair, ready = this.desk.plan && !this.desk.plan.empty && !this.desk.plan.fault;
    const halted = cut && !ok && !(ask && this.accepted === ask);
    const bar = make("progress", { id: "bar", max: 100, "aria-label": "How far the files are" });
    return make("section", { className: "take" },
      this.working ? make("div", {}, bar, make("p", { id: "progress", role: "status" }, `${this.working.stage[0].toUpperCase()}${this.working.stage.slice(1)} ...`), button("Stop", () => this.#stop(), { id: "stop" }))
        : make("div", {}, button("Download the files", () => this.#begin(), { id: "take", className: "do", disabled: !ready || halted || !(cut || print) }),
          make("p", { id: "progress", role: "status" }, this.said || (ready ? "" : "Draw a room first."))));
  }

  /** @param {string} text */
  #say(text) {
    this.said = text;
    this.draw();
  }

  async #begin() {
    this.working = { stage: "starting", done: 0 };
    this.draw();
    // Whoever has not met them yet meets them while the files are made.
    at("cautions")?.scrollIntoView({ block: "center" });
    try {
      await this.desk.settled();
      this.name = (await this.desk.ask("/take", { wish: this.wish })).name;
      sessionStorage.setItem(TAKING, this.name);
      this.#follow();
    } catch (error) { this.#end(`Not made: ${/** @type {Error} */ (error).message}.`); }
  }

  // The work goes on in the program when the page is loaded again, and is taken up where it is.
  #follow() {
    this.working ||= { stage: "taking up where it was", done: 0 };
    const { name } = this, events = new EventSource(`/take/${name}`);
    let lost = 0;
    this.events = events;
    events.addEventListener("stage", (event) => { lost = 0; this.working = { stage: JSON.parse(event.data), done: (this.working?.done || 0) + 1 }; this.draw(); });
    events.addEventListener("outcome", (event) => {
      events.close();
      const { done, message } = JSON.parse(event.data);
      if (done) keepFile(`/take/${name}/files.zip`, "");
      this.#end(done ? `Done. The files come as one zip, with the plan in it. Open ${this.chosen.cut ? "cut.pdf" : "report.html"} first.${message ? ` To decide: ${message}` : ""}` : `Not made: ${message}`);
    });
    events.onerror = () => {
      lost += 1;
      if (events.readyState === EventSource.CLOSED || lost > 20) { events.close(); this.#end("The work is not there any more. Download the files again."); }
      else if (this.working) { this.working.stage = "waiting for the program"; this.draw(); }
    };
  }

  async #stop() {
    this.events?.close();
    const { name } = this;
    this.#end("Stopped; nothing was made.");
    if (name) await this.desk.ask(`/take/${name}/stop`, {}).catch(() => {});
  }

  /** @param {string} text */
  #end(text) {
    this.working = null;
    this.name = "";
    sessionStorage.removeItem(TAKING);
    this.#say(text);
  }
}

/** What is said of a machine with every material. @param {Record<string, any>} pairs @param {string} machine @returns {string[]} */
function common(pairs, machine) {
  const lists = Object.keys(pairs).filter((key) => key.endsWith(`/${machine}`)).map((key) => pairs[key].cautions).filter((list) => list.length);
  return lists.length ? lists[0].filter((/** @type {string} */ text) => lists.every((list) => list.includes(text))) : [];
}

function read() {
  try {
    return JSON.parse(localStorage.getItem(CHOSEN) || "{}");
  } catch {
    return {};
  }
}
