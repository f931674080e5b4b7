// @ts-check
// The page: what is drawn on the sheet goes to the program, and what follows from it is shown round the sheet.
import { at, make, say } from "./dom.js";
import { Files } from "./files.js";
import { desk } from "./link.js";
import { Plans } from "./plans.js";
import { FitPanel } from "./side/fit.js";
import { KitPanel } from "./side/kit.js";
import { Sight } from "./side/sight.js";
import { MakePanel } from "./side/make.js";
import { RoomPanel } from "./side/room.js";
import { SolidPane } from "./solid/pane.js";
import { tileUnder } from "./solid/shapes.js";
import { Sheet } from "./sheet/sheet.js";
import { showTotals } from "./strip.js";
import { Tracing } from "./trace.js";

export { desk };

const STALE_MS = 150;
const page = document.documentElement;
export const sheet = new Sheet(at("map"), desk);
const solid = new SolidPane(at("standing"), desk, { pick: (id) => pick(id), roomAt: (point) => sheet.scene.roomAt(point) });
const fit = new FitPanel(desk, { show: (record) => sheet.showFit(record), look: (x, y) => look(x, y) }, new Sight(sheet, desk));
const kit = new KitPanel(desk, { light, see: (id) => { stand(true); light([id]); }, own: (id, count) => workshop.own(id, count) });
const room = new RoomPanel(desk, { select: (letter) => sheet.select(letter ? { what: "room", letter } : null) }, new Tracing(sheet));
const workshop = new MakePanel(desk, view);
const files = new Files(desk);
const plans = new Plans(desk, view, () => at("viewer").close(), () => files.save());

// ---- parts that call each other

const PANELS = ["fit", "kit", "room", "make"];
const side = /** @type {HTMLElement} */ (document.querySelector("aside"));

/** @param {string} name */
function show(name) {
  for (const one of PANELS) {
    const on = one === name;
    at(`panel-${one}`).hidden = !on;
    at(`tab-${one}`).setAttribute("aria-selected", String(on));
    at(`tab-${one}`).tabIndex = on ? 0 : -1;
  }
  side.classList.add("open");
  if (name !== "fit") sheet.showFit(null);
  draw();
}

const shown = () => PANELS.find((one) => !at(`panel-${one}`).hidden) || "fit";

function draw() {
  ({ fit, kit, room, make: workshop })[shown()]?.draw();
}

/** @param {string[] | null} ids */
function light(ids) {
  sheet.light(ids);
  solid.light(ids);
}

/** A tile was pressed in 3D. @param {string | null} id */
function pick(id) {
  kit.kept = id;
  light(id ? [id] : null);
  if (id) show("kit");
  else kit.draw();
  if (id) document.querySelector(`.type[data-id="${CSS.escape(id)}"]`)?.scrollIntoView({ block: "nearest" });
}

/** @param {number} x @param {number} y in cells */
function look(x, y) {
  side.classList.remove("open");
  const { size, eye } = sheet, scale = Math.max(eye.scale, 44);
  sheet.look({ scale, x: x - size[0] / 2 / scale, y: y - size[1] / 2 / scale });
}

/** @param {boolean} up */
async function stand(up) {
  at("stand").setAttribute("aria-pressed", String(up));
  if (up) await solid.show();
  else { solid.hide(); at("stand").focus(); }
}

/** @param {string} title @param {...any} content */
function view(title, ...content) {
  at("viewer-title").textContent = title;
  at("viewer-body").replaceChildren(...content);
  if (!at("viewer").open) at("viewer").showModal();
}

// ---- what comes from the program

/** @type {ReturnType<typeof setTimeout> | undefined} */
let stale;
desk.on("plan", ({ fresh }) => {
  document.body.classList.toggle("empty", desk.plan.empty);
  at("undo").disabled = !desk.plan.back;
  at("redo").disabled = !desk.plan.on;
  files.draw();
  if (fresh) { kit.kept = null; fit.shown = ""; solid.first = true; sheet.fitToWindow(); }
  draw();
  solid.draw();
});
desk.on("tiles", () => { draw(); solid.draw(); });
desk.on("counts", () => showTotals(desk.answers, desk.plan, show));
desk.on("answers", () => {
  clearTimeout(stale);
  if (desk.answers?.stale) { stale = setTimeout(() => page.classList.add("stale"), STALE_MS); return; }
  page.classList.remove("stale");
  showTotals(desk.answers, desk.plan, show);
  sheet.showFit(shown() === "fit" ? fit.record : null);
  draw();
  solid.seat();
  if (desk.answers) files.settled();
});
// What the sheet asked for and was refused, it says itself where it is.
desk.on("refused", ({ words, edits }) => { if (!edits?.length || !at("map").contains(document.activeElement)) say(`Not done: ${words}`.replace(/\.?$/, ".")); });
desk.on("said", (words) => say(words));
desk.on("away", (away) => {
  at("away").hidden = !away;
  at("away").textContent = away ? "The desk's program does not answer. What you draw is kept in this browser, and goes on as soon as the program is back." : "";
});
desk.on("unkept", (why) => say(`This step can't be kept (${why}). Save your plan.`));

// ---- what is pressed

for (const name of PANELS) at(`tab-${name}`).addEventListener("click", () => show(name));
/** @type {HTMLElement} */ (document.querySelector(".tabs")).addEventListener("keydown", (event) => {
  const by = { ArrowRight: 1, ArrowLeft: -1 }[event.key];
  if (!by) return;
  event.preventDefault();
  show(PANELS[(PANELS.indexOf(shown()) + by + PANELS.length) % PANELS.length]);
  at(`tab-${shown()}`).focus();
});
at("shut").addEventListener("click", () => side.classList.remove("open"));
at("undo").addEventListener("click", () => desk.undo());
at("redo").addEventListener("click", () => desk.redo());
at("open-plans").addEventListener("click", () => plans.open());
at("stand").addEventListener("click", () => stand(at("standing").hidden));
at("whole").addEventListener("click", () => sheet.fitToWindow());
at("closer").addEventListener("click", () => sheet.zoom(1.4));
at("farther").addEventListener("click", () => sheet.zoom(1 / 1.4));
// After a press by pointer the keys are the map's again, so that the space bar pulls it.
for (const id of ["whole", "closer", "farther", "undo", "redo"]) at(id).addEventListener("click", (/** @type {MouseEvent} */ event) => { if (event.detail) at("sheet").focus({ preventScroll: true }); });
at("viewer-close").addEventListener("click", () => at("viewer").close());
document.addEventListener("keydown", (event) => {
  const key = event.key.toLowerCase(), typed = /** @type {HTMLElement} */ (event.target).matches("input:not([type=checkbox]), textarea");
  // On a small screen the panel lies over the map.
  if (key === "escape" && !event.defaultPrevented && side.classList.contains("open") && at("shut").offsetParent) { side.classList.remove("open"); at("sheet").focus(); }
  else if (key === "escape" && !event.defaultPrevented && !typed && !document.querySelector("dialog[open]")) sheet.escape();
  if (!(event.ctrlKey || event.metaKey) || event.defaultPrevented) return;
  if (key === "s") { event.preventDefault(); files.save(); }
  if (typed) return;
  if (key === "z") { event.preventDefault(); (event.shiftKey ? desk.redo : desk.undo)(); }
  if (key === "y") { event.preventDefault(); desk.redo(); }
});

sheet.on("select", (thing) => {
  room.room = thing?.what === "room" ? thing.letter : null;
  solid.select(room.room);
  if (shown() === "room") room.draw();
});
const known = new Map();
sheet.on("hover", ({ at: spot }) => {
  if (shown() !== "kit" || !desk.tiles) return;
  const { cell_mm: cell, lie, shapes } = desk.tiles, found = spot && tileUnder(desk.tiles, [spot[0] * cell, spot[1] * cell], known);
  kit.mark(found === null ? null : shapes[lie[found][0]].id);
});

// ---- how it looks

const dark = matchMedia("(prefers-color-scheme: dark)");
function dress() {
  const wanted = localStorage.getItem("tilegen-look") || "auto";
  page.dataset.look = wanted === "dark" || (wanted === "auto" && dark.matches) ? "dark" : "light";
  at("look").textContent = page.dataset.look === "dark" ? "Light" : "Dark";
  solid.draw();
}
at("look").addEventListener("click", () => { localStorage.setItem("tilegen-look", page.dataset.look === "dark" ? "light" : "dark"); dress(); });
dark.addEventListener("change", dress);

dress();
show("fit");
side.classList.remove("open");
desk.begin().then(async () => {
  await files.begin();
  await desk.toolsReady();
  desk.setWish(workshop.wish);
  draw();
}).catch((error) => say(String(error.message)));
