// @ts-check
// The map in 3D beside it: the tiles as they are printed, turned, lit, taken apart, with figures at scale.
import { make } from "../dom.js";
import { mm } from "../sheet/lengths.js";
import { boxOf, ringsOf, turnedBox } from "../sheet/squares.js";
import { normals, prism, readStl } from "./shapes.js";

/** @typedef {import("../types.js").Tiles} Tiles */
const NO_3D = "This browser can't show 3D here (WebGL is off). The map and the files are complete without it.";
const AT_ONCE = 3, MOST_FIGURES = 40;

export class SolidPane {
  /** @param {HTMLElement} place @param {any} desk @param {{pick(id: string | null): void, roomAt(point: [number, number]): string}} page */
  constructor(place, desk, page) {
    this.place = place;
    this.desk = desk;
    this.page = page;
    /** The triangles of each type: first those of its outlines, then its STL. @type {Map<string, {style: string, geometry: any, whole: boolean}>} */
    this.meshes = new Map();
    // What the library gives is not typed here.
    /** @type {any} */ this.three = null;
    /** @type {any} */ this.renderer = null;
    /** @type {any} */ this.scene = null;
    /** @type {any} */ this.camera = null;
    /** @type {any} */ this.sun = null;
    /** @type {any} */ this.tiles = null;
    /** @type {any} */ this.figures = null;
    /** @type {any} */ this.cut = null;
    /** @type {any} */ this.orbit = null;
    /** @type {any} */ this.canvas = null;
    /** @type {any} */ this.note = null;
    /** @type {any} */ this.tools = null;
    /** Boxes of outlines. @type {Map<string, any>} */
    this.boxes = new Map();
    this.asked = 0;
    this.failed = false;
    this.first = true;
    this.apart = 0;
    this.low = false;
    /** The room that is selected on the map: only its walls are lowered. @type {string | null} */
    this.room = null;
    this.people = true;
    /** @type {string[]} */
    this.lit = [];
    this.shown = "";
    this.loading = 0;
  }

  get open() { return !this.place.hidden; }

  async show() {
    this.place.hidden = false;
    if (!this.canvas) this.#build();
    if (!this.three && !this.failed) {
      this.note.textContent = "One moment.";
      try {
        this.three = await import("../three/three.js");
        this.#begin();
      } catch (error) {
        this.failed = true;
        this.note.textContent = /WebGL/i.test(String(error)) ? NO_3D : `The 3D view can't be loaded (${/** @type {Error} */ (error).message}).`;
        this.canvas.hidden = true;
        this.tools.hidden = true;
      }
    }
    this.draw(true);
  }

  hide() {
    this.place.hidden = true;
  }

  #build() {
    const toggle = (/** @type {string} */ words, /** @type {"low" | "people"} */ key) => {
      const one = make("button", { type: "button", "data-key": key, "aria-pressed": String(this[key]), onclick: () => { this[key] = !this[key]; one.setAttribute("aria-pressed", String(this[key])); this.draw(); } }, words);
      return one;
    };
    this.canvas = make("canvas", { tabIndex: 0, id: "solid", role: "img", "aria-label": "The map in 3D. Arrow keys turn it, plus and minus zoom, a press on a tile shows where it lies." });
    const slide = make("input", { type: "range", min: 0, max: 100, value: 0, id: "apart", "aria-label": "How far apart the tiles stand", oninput: () => { this.apart = Number(slide.value) / 100; this.#place(); this.#frame(true); this.#paint(); } });
    this.tools = make("div", { className: "tools row", role: "group", "aria-label": "3D view" }, toggle("Low walls", "low"), toggle("Figures", "people"), make("label", { className: "row" }, "Take apart ", slide),
      make("button", { type: "button", onclick: () => { this.#frame(); this.#paint(); } }, "Show all"));
    this.note = make("p", { className: "note", role: "status" });
    this.place.replaceChildren(this.tools, this.canvas, this.note);
  }

  #begin() {
    const T = this.three;
    this.renderer = new T.WebGLRenderer({ canvas: this.canvas, antialias: true, preserveDrawingBuffer: true });
    this.renderer.shadowMap.enabled = true;
    this.renderer.shadowMap.type = T.PCFShadowMap;
    this.renderer.shadowMap.autoUpdate = false;
    this.renderer.localClippingEnabled = true;
    this.scene = new T.Scene();
    this.camera = new T.PerspectiveCamera(30, 1, 1, 1e6);
    this.camera.up.set(0, 0, 1);
    this.scene.add(new T.HemisphereLight(0xffffff, 0xb5aa96, 2.1));
    this.sun = new T.DirectionalLight(0xfff6e6, 1.9);
    this.sun.castShadow = true;
    this.sun.shadow.mapSize.set(2048, 2048);
    this.scene.add(this.sun, this.sun.target);
    this.tiles = new T.Group();
    this.figures = new T.Group();
    this.scene.add(this.tiles, this.figures);
    this.cut = new T.Plane(new T.Vector3(0, 0, -1), 0);
    this.orbit = new T.OrbitControls(this.camera, this.canvas);
    this.orbit.addEventListener("change", () => this.#paint());
    this.orbit.maxPolarAngle = 1.5;
    this.orbit.zoomToCursor = true;
    new ResizeObserver(() => { this.#size(); this.#paint(); }).observe(this.place);
    this.canvas.addEventListener("keydown", (/** @type {KeyboardEvent} */ event) => this.#key(event));
    let down = [0, 0];
    this.canvas.addEventListener("pointerdown", (/** @type {PointerEvent} */ event) => { down = [event.clientX, event.clientY]; });
    this.canvas.addEventListener("pointerup", (/** @type {PointerEvent} */ event) => { if (Math.hypot(event.clientX - down[0], event.clientY - down[1]) < 5) this.#pick(event); });
    this.canvas.addEventListener("webglcontextlost", () => { this.note.textContent = "The 3D view was lost; close it and open it again."; });
    this.#size();
  }

  #size() {
    if (!this.renderer || !this.canvas.clientWidth) return;
    this.renderer.setPixelRatio(Math.min(window.devicePixelRatio || 1, 2));
    this.renderer.setSize(this.canvas.clientWidth, this.canvas.clientHeight, false);
    this.camera.aspect = this.canvas.clientWidth / Math.max(1, this.canvas.clientHeight);
    this.camera.updateProjectionMatrix();
  }

  // Painted once a frame at most, and only when something has changed.
  #paint() {
    if (this.asked || !this.open || !this.renderer) return;
    this.asked = requestAnimationFrame(() => { this.asked = 0; this.renderer.render(this.scene, this.camera); });
  }

  /** @param {string | null} room that is selected on the map */
  select(room) {
    const changed = room !== this.room;
    this.room = room;
    if (changed && this.low) this.draw(); else this.#words();
  }

  #words() {
    const { plan } = this.desk, low = this.tools?.querySelector("[data-key=low]");
    if (low) low.textContent = this.room && plan.letters[this.room] ? `Low walls of ${plan.letters[this.room].title || `Room ${this.room}`}` : "Low walls";
  }

  /** The map as it is now. @param {boolean} [fresh] see all of it */
  draw(fresh = false) {
    const { tiles, plan } = this.desk;
    if (!this.open || !this.renderer || !this.three) return;
    this.#words();
    this.note.textContent = !tiles || plan.empty ? "Draw a room on the map, and it stands here." : "";
    this.tiles.visible = this.figures.visible = Boolean(tiles) && !plan.empty;
    if (tiles && !plan.empty) {
      this.#fill(tiles);
      this.#people(tiles);
      if (fresh || this.first) this.#frame();
      this.first = false;
    }
    this.#colours();
    this.#paint();
    this.#fetch();
  }

  /** @param {string} name @returns {any} a colour of the page */
  #colour(name) {
    return new this.three.Color(getComputedStyle(document.documentElement).getPropertyValue(name).trim() || "#888888");
  }

  #colours() {
    this.scene.background = this.#colour("--ground");
    for (const one of this.tiles.children) this.#tint(one);
    for (const one of this.figures.children) one.material.color = this.#colour("--wall");
  }

  /** @param {any} mesh one of tiles.children */
  #tint(mesh) {
    const { id, loose, inner, low } = mesh.userData;
    mesh.material.color = inner ? this.#colour("--wall") : this.#colour(loose ? "--door" : "--stone").lerp(this.#colour("--do"), this.lit.includes(id) ? 0.6 : 0);
    mesh.material.clippingPlanes = low ? [this.cut] : null;
    mesh.visible = !inner || low;
  }

  /** What the STLs of these tiles depend on beside their type. */
  get #style() {
    const { surface, letters } = this.desk.plan;
    return JSON.stringify([surface, Object.entries(letters).map(([letter, room]) => [letter, room.style])]);
  }

  /** One mesh for each type, drawn as often as it lies; another for where its walls are lowered. @param {Tiles} tiles */
  #fill(tiles) {
    const T = this.three, style = this.#style, lies = new Map();
    const only = this.room && this.desk.plan.letters[this.room] ? this.room : null;
    for (const [shape, ...turn] of tiles.lie) {
      const [x, y] = this.#centre(shape, turn), low = this.low && (!only || this.page.roomAt([x / tiles.cell_mm, y / tiles.cell_mm]) === only), key = `${shape} ${low}`;
      if (!lies.has(key)) lies.set(key, { shape, low, turns: [] });
      lies.get(key).turns.push(turn);
    }
    for (const one of this.tiles.children) one.dispose();
    this.tiles.clear();
    this.cut.constant = tiles.base_mm + 7;
    for (const { shape, low, turns } of lies.values()) {
      const { id, loose } = tiles.shapes[shape];
      if (this.meshes.get(id)?.style !== style) this.meshes.set(id, { style, geometry: this.#prisms(tiles, shape), whole: false });
      const { geometry } = /** @type {any} */ (this.meshes.get(id));
      for (const inner of [false, true]) {
        const material = inner ? new T.MeshBasicMaterial({ side: T.BackSide }) : new T.MeshLambertMaterial({ shadowSide: T.FrontSide });
        const mesh = new T.InstancedMesh(geometry, material, turns.length);
        mesh.userData = { id, shape, loose, inner, low, turns };
        mesh.castShadow = mesh.receiveShadow = !inner;
        mesh.frustumCulled = false;
        this.tiles.add(mesh);
      }
    }
    this.#place();
  }

  #prisms(/** @type {Tiles} */ tiles, /** @type {number} */ shape) {
    const T = this.three, { floor, walls, ways, raised, loose } = tiles.shapes[shape], base = tiles.base_mm;
    const high = base + mm(this.desk.plan.measures.wall_height, 38.1);
    const cut = (/** @type {number[][]} */ outline, /** @type {number[][][]} */ holes) => T.ShapeUtils.triangulateShape(outline.map(([x, y]) => new T.Vector2(x, y)), holes.map((ring) => ring.map(([x, y]) => new T.Vector2(x, y))));
    const corners = new Float32Array([...prism(floor, 0, base, cut), ...prism(walls, loose ? 0 : base, high, cut), ...prism(ways, high - 8, high, cut), ...raised.flatMap((path) => prism(path, base, base + 10, cut))]);
    return this.#geometry(corners, [0, 0]);
  }

  /** @param {Float32Array} corners @param {[number, number]} least */
  #geometry(corners, least) {
    const T = this.three, geometry = new T.BufferGeometry();
    geometry.setAttribute("position", new T.BufferAttribute(corners, 3));
    geometry.setAttribute("normal", new T.BufferAttribute(normals(corners), 3));
    geometry.translate(least[0], least[1], 0);
    return geometry;
  }

  // Where each tile stands; taken apart, each moves away from the middle.
  #place() {
    const { tiles } = this.desk, T = this.three, matrix = new T.Matrix4(), by = 1 + this.apart * 0.8;
    if (!tiles) return;
    for (const mesh of this.tiles.children) {
      const up = mesh.userData.loose ? tiles.base_mm + this.apart * 40 : 0;
      mesh.userData.turns.forEach((/** @type {number[]} */ [a, b, c, d, e, f], /** @type {number} */ k) => {
        const [x, y] = this.#centre(mesh.userData.shape, [a, b, c, d, e, f]);
        matrix.set(a, c, 0, e + x * (by - 1), -b, -d, 0, -f - y * (by - 1), 0, 0, 1, up, 0, 0, 0, 1);
        mesh.setMatrixAt(k, matrix);
      });
      mesh.instanceMatrix.needsUpdate = true;
      mesh.boundingSphere = null;
    }
    this.figures.visible = this.people && !this.apart;
    this.renderer.shadowMap.needsUpdate = true;
  }

  /** The middle of a tile on the table, mm, y south. @param {number} shape */
  #centre(shape, /** @type {number[]} */ matrix) {
    const { floor, walls } = this.desk.tiles.shapes[shape], key = floor || walls;
    if (!this.boxes.has(key)) this.boxes.set(key, boxOf(ringsOf(key).flat()));
    const [x, y, w, h] = turnedBox(this.boxes.get(key), matrix);
    return [x + w / 2, y + h / 2];
  }

  /** Who stands where is known anew. */
  seat() {
    const { tiles, plan } = this.desk;
    if (!this.open || !this.renderer || !tiles || plan.empty) return;
    this.#people(tiles);
    this.#colours();
    this.renderer.shadowMap.needsUpdate = true;
    this.#paint();
  }

  // One figure of the base that is shown, or the smallest, in every room where one stands.
  #people(/** @type {Tiles} */ tiles) {
    const T = this.three, { answers, plan } = this.desk;
    for (const one of this.figures.children) one.geometry.dispose();
    this.figures.clear();
    if (!this.people) return;
    const fit = (answers?.fit || []).filter((/** @type {any} */ one) => !one.wrong && one.standing?.length);
    const rooms = Object.entries(plan.letters).slice(0, MOST_FIGURES);
    fit.slice(0, 3).forEach((/** @type {any} */ record, /** @type {number} */ turn) => {
      const space = tiles.cell_mm / plan.spaces, half = (record.spaces_across * space) / 2, base = record.base_mm, tall = base * 1.35;
      // No figure stands where it can't get; the smallest take the rooms of those that can't.
      const gets = (/** @type {any} */ one, /** @type {string} */ letter) => !one.unreached?.some((/** @type {any} */ away) => away.room === letter);
      const whose = (/** @type {string} */ letter, /** @type {number} */ k) => [k % Math.min(3, fit.length), ...fit.keys()].find((n) => gets(fit[n], letter));
      const seats = rooms.flatMap(([letter, room], k) => (whose(letter, k) !== turn ? [] : [[...nearest(record.standing, [room.centre[0] * plan.spaces - record.spaces_across / 2 + 1, room.centre[1] * plan.spaces - record.spaces_across / 2 + 1]), mm(room.floor, 0)]]));
      const outline = [[0.5, 0], [0.5, 0.09], [0.46, 0.11], [0.24, 0.13], [0.27, 0.3], [0.2, 0.55], [0.23, 0.78], [0.12, 0.86], [0.17, 0.96], [0.17, 1.08], [0.1, 1.18], [0, 1.2]];
      const shape = new T.LatheGeometry(outline.map(([r, z]) => new T.Vector2(r * base, (z * tall) / 1.2)), 28);
      shape.rotateX(Math.PI / 2);
      const mesh = new T.InstancedMesh(shape, new T.MeshLambertMaterial(), seats.length), matrix = new T.Matrix4();
      seats.forEach(([column, row, up], k) => { matrix.makeTranslation((column - 1) * space + half, -((row - 1) * space + half), tiles.base_mm + up); mesh.setMatrixAt(k, matrix); });
      mesh.castShadow = true;
      this.figures.add(mesh);
    });
  }

  /** All of it in view, from the south and above. @param {boolean} [kept] from where it is seen now */
  #frame(kept = false) {
    const T = this.three, box = new T.Box3();
    this.scene.updateMatrixWorld(true);
    for (const mesh of this.tiles.children) { mesh.computeBoundingBox(); box.union(mesh.boundingBox); }
    if (box.isEmpty()) return;
    const middle = box.getCenter(new T.Vector3()), size = box.getSize(new T.Vector3()).length() / 2;
    const back = kept ? this.camera.position.clone().sub(this.orbit.target).normalize() : new T.Vector3(0.2, -0.66, 0.73).normalize();
    const right = new T.Vector3(-back.y, back.x, 0).normalize(), up = back.clone().cross(right);
    const high = Math.tan((this.camera.fov * Math.PI) / 360) * 0.92, wide = high * this.camera.aspect;
    let far = size / 10;
    for (const x of [box.min.x, box.max.x]) for (const y of [box.min.y, box.max.y]) for (const z of [box.min.z, box.max.z]) {
      const corner = new T.Vector3(x, y, z).sub(middle), near = corner.dot(back);
      far = Math.max(far, near + Math.abs(corner.dot(right)) / wide, near + Math.abs(corner.dot(up)) / high);
    }
    this.camera.near = far / 100;
    this.camera.far = far + size * 20;
    this.camera.position.copy(middle).addScaledVector(back, far);
    this.camera.updateProjectionMatrix();
    this.orbit.minDistance = size / 20;
    this.orbit.maxDistance = far * 4;
    this.orbit.target.copy(middle);
    this.sun.position.set(middle.x - size, middle.y + size * 0.6, middle.z + size * 1.6);
    this.sun.target.position.copy(middle);
    const { camera } = this.sun.shadow;
    Object.assign(camera, { left: -size * 1.1, right: size * 1.1, top: size * 1.1, bottom: -size * 1.1, near: 1, far: size * 5 });
    camera.updateProjectionMatrix();
    this.sun.shadow.normalBias = 0.6;
    this.renderer.shadowMap.needsUpdate = true;
    this.orbit.update();
  }

  // The STLs of the types that have none yet, a few at a time.
  async #fetch() {
    const { tiles } = this.desk, style = this.#style;
    const count = new Set(tiles?.lie.map((/** @type {number[]} */ one) => one[0])).size, whole = () => [...this.meshes.values()].filter((one) => one.whole).length;
    if (tiles && !this.desk.plan.empty) document.documentElement.dataset.solidShown = String(Math.min(count, whole()));
    while (this.open && tiles && this.desk.tiles === tiles && this.loading < AT_ONCE) {
      const next = tiles.shapes.find((/** @type {any} */ shape) => { const known = this.meshes.get(shape.id); return known && !known.whole && !(/** @type {any} */ (known).asked); });
      if (!next) return;
      const entry = /** @type {any} */ (this.meshes.get(next.id));
      entry.asked = true;
      this.loading += 1;
      this.desk.ask("/solid", { tile: next.id }).then(async (/** @type {Response} */ answer) => {
        const least = /** @type {[number, number]} */ ((answer.headers.get("x-least") || "0,0").split(",").map(Number));
        const geometry = this.#geometry(readStl(await answer.arrayBuffer()), least), now = this.meshes.get(next.id);
        if (now !== entry || now?.style !== style) return;
        const old = entry.geometry;
        Object.assign(entry, { geometry, whole: true });
        for (const mesh of this.tiles.children) if (mesh.userData.id === next.id) mesh.geometry = geometry;
        old.dispose();
        this.renderer.shadowMap.needsUpdate = true;
        document.documentElement.dataset.solidShown = String(Math.min(count, whole()));
      }).catch(() => {}).finally(() => { this.loading -= 1; this.#paint(); this.#fetch(); });
    }
  }

  /** Light all tiles of some types. @param {string[] | null} ids */
  light(ids) {
    this.lit = ids || [];
    if (!this.renderer || !this.open) return;
    for (const one of this.tiles.children) this.#tint(one);
    this.#paint();
  }

  /** @param {PointerEvent} event */
  #pick(event) {
    const T = this.three, box = this.canvas.getBoundingClientRect(), ray = new T.Raycaster();
    ray.setFromCamera(new T.Vector2(((event.clientX - box.left) / box.width) * 2 - 1, 1 - ((event.clientY - box.top) / box.height) * 2), this.camera);
    const hit = ray.intersectObjects(this.tiles.children.filter((/** @type {any} */ one) => !one.userData.inner), false)
      .find((/** @type {any} */ one) => !one.object.userData.low || one.point.z <= this.cut.constant + 0.01);
    this.page.pick(hit ? hit.object.userData.id : null);
  }

  /** @param {KeyboardEvent} event */
  #key(event) {
    const T = this.three, turn = { ArrowLeft: [0.15, 0], ArrowRight: [-0.15, 0], ArrowUp: [0, -0.1], ArrowDown: [0, 0.1] }[event.key];
    const zoom = { "+": 0.85, "=": 0.85, "-": 1.18 }[event.key];
    if (!turn && !zoom) return;
    event.preventDefault();
    const from = this.camera.position.clone().sub(this.orbit.target);
    if (zoom) from.multiplyScalar(zoom);
    if (turn) {
      const flat = Math.hypot(from.x, from.y), high = Math.min(1.5, Math.max(0.05, Math.atan2(flat, from.z) + turn[1])), round = Math.atan2(from.y, from.x) + turn[0], long = from.length();
      from.copy(new T.Vector3(Math.cos(round) * Math.sin(high), Math.sin(round) * Math.sin(high), Math.cos(high)).multiplyScalar(long));
    }
    this.camera.position.copy(this.orbit.target).add(from);
    this.orbit.update();
    this.#paint();
  }
}

/** @param {[number, number][]} spots @param {number[]} wanted @returns {[number, number]} the spot nearest to a point */
function nearest(spots, [x, y]) {
  let best = spots[0], least = Infinity;
  for (const spot of spots) {
    const away = (spot[0] - x) ** 2 + (spot[1] - y) ** 2;
    if (away < least) { least = away; best = spot; }
  }
  return best;
}
