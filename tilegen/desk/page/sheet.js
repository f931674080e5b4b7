// The map: draws what the program worked out, and tells where the pointer or the keyboard's cursor is.
const NS = "http://www.w3.org/2000/svg";
const MARGIN = 3;
const esc = (text) => String(text).replace(/[&<>"]/g, (c) => ({ "&": "&amp;", "<": "&lt;", ">": "&gt;", '"': "&quot;" })[c]);

export class Sheet {
  constructor(svg, act) {
    this.svg = svg;
    this.act = act; // {apply(target, phase), moved(target)}
    this.view = null;
    this.eye = null; // {x, y, w}: what is seen, in mm
    this.cursor = [2, 2]; // in half cells: even, even is the middle of a cell
    this.points = false; // whether the tool works on corners and middles of cells
    this.lines = false; // whether the tool works on lines between cells
    this.layers = {};
    for (const name of ["cells", "plan", "fit", "names", "dark", "pending", "cursor"]) {
      this.layers[name] = document.createElementNS(NS, "g");
      svg.append(this.layers[name]);
    }
    this.#listen();
    new ResizeObserver(() => (this.fitted ? this.whole() : this.#look())).observe(svg);
  }

  get cell() { return this.view?.cell_mm || (this.view?.scale === "5 ft" ? 31.75 : 63.5); }
  get columns() { return this.view ? this.view.rows[0].length : 8; }
  get count() { return this.view ? this.view.rows.length : 6; }

  show(view) {
    const first = !this.view, size = `${this.columns} ${this.count}`, was = this.view && this.cell;
    this.view = view.cell_mm ? view : { ...view, cell_mm: view.scale === this.view?.scale ? this.view?.cell_mm : undefined };
    if (first || was !== this.cell) this.whole();
    else if (size !== `${this.columns} ${this.count}`) this.fitted = false;
    this.#cells();
    this.layers.plan.innerHTML = view.ok ? tiles(view) : sketch(view, this.cell);
    this.layers.names.innerHTML = names(view, this.cell);
    this.drawCursor();
  }

  // The drawing grew to the west and north: what is seen stays where it is.
  grown(west, north) {
    this.fitted = false;
    if (this.eye) { this.eye.x += west * this.cell; this.eye.y += north * this.cell; }
    this.cursor = [this.cursor[0] + 2 * west, this.cursor[1] + 2 * north];
    this.#look();
  }

  pending(cells) {
    const c = this.cell;
    this.layers.pending.innerHTML = cells.map(([x, y]) => `<rect class="m-pending" x="${(x - 1) * c}" y="${(y - 1) * c}" width="${c}" height="${c}"/>`).join("");
  }

  fit(record) {
    if (!record || !this.view?.ok) { this.layers.fit.innerHTML = ""; return; }
    const space = this.cell / this.view.spaces, k = record.spaces_across, r = record.base_mm / 2;
    const at = ([x, y]) => [(x - 1 + k / 2) * space, (y - 1 + k / 2) * space];
    const shown = record.standing.length > 4000 ? [] : record.standing;
    this.layers.fit.innerHTML = shown.map((p) => { const [x, y] = at(p); return `<circle class="m-stands" cx="${x}" cy="${y}" r="${k > 1 ? space * 0.12 : r}"/>`; }).join("")
      + record.blocked.map((p) => { const [x, y] = at(p), s = space * 0.22; return `<path class="m-wrong" d="M${x - s} ${y - s}L${x + s} ${y + s}M${x - s} ${y + s}L${x + s} ${y - s}"/>`; }).join("");
  }

  dark(record) {
    const c = this.cell;
    if (!record) { this.layers.dark.innerHTML = ""; return; }
    let text = "";
    record.rows.forEach((row, y) => [...row].forEach((seen, x) => {
      if (seen === "0") text += `<rect class="m-dark" x="${x * c}" y="${y * c}" width="${c}" height="${c}"/>`;
    }));
    const [x, y] = record.cell;
    this.layers.dark.innerHTML = `${text}<circle class="m-eye" cx="${(x - 0.5) * c}" cy="${(y - 0.5) * c}" r="${c * 0.16}"/>`;
  }

  whole() {
    const c = this.cell, wide = (this.columns + 2) * c, high = (this.count + 2) * c;
    const box = this.svg.getBoundingClientRect(), ratio = box.width && box.height ? box.height / box.width : 0.7;
    const w = Math.max(wide, high / ratio);
    this.fitted = true;
    this.eye = { x: (this.columns * c - w) / 2, y: (this.count * c - w * ratio) / 2, w };
    this.#look();
  }

  zoom(factor, x, y) {
    this.fitted = false;
    const box = this.svg.getBoundingClientRect(), eye = this.eye;
    const px = x ?? box.left + box.width / 2, py = y ?? box.top + box.height / 2;
    const scale = eye.w / box.width, fx = eye.x + (px - box.left) * scale, fy = eye.y + (py - box.top) * scale;
    const w = Math.min(Math.max(eye.w * factor, this.cell * 1.5), this.cell * 420);
    this.eye = { x: fx - (fx - eye.x) * w / eye.w, y: fy - (fy - eye.y) * w / eye.w, w };
    this.#look();
  }

  pan(dx, dy) {
    this.fitted = false;
    const scale = this.eye.w / this.svg.getBoundingClientRect().width;
    this.eye.x -= dx * scale; this.eye.y -= dy * scale;
    this.#look();
  }

  #look() {
    const box = this.svg.getBoundingClientRect();
    if (!box.width || !this.eye) return;
    this.svg.setAttribute("viewBox", `${this.eye.x} ${this.eye.y} ${this.eye.w} ${this.eye.w * box.height / box.width}`);
  }

  #cells() {
    const c = this.cell, west = -MARGIN * c, north = -MARGIN * c, east = (this.columns + MARGIN) * c, south = (this.count + MARGIN) * c;
    let d = "";
    for (let x = west; x <= east + 0.01; x += c) d += `M${x} ${north}V${south}`;
    for (let y = north; y <= south + 0.01; y += c) d += `M${west} ${y}H${east}`;
    this.layers.cells.innerHTML = `<path class="m-cells" fill="none" d="${d}"/>`;
  }

  // A circle or a hall while it is drawn; points in cells.
  draft(tool, start, end, width) {
    const c = this.cell, g = this.layers.pending;
    if (!start) { g.innerHTML = ""; return; }
    const [x, y] = start.map((v) => v * c), [u, v] = end.map((w) => w * c);
    g.innerHTML = tool === "circle" ? `<circle class="m-draft" cx="${x}" cy="${y}" r="${Math.max(Math.hypot(u - x, v - y), c * 0.06)}"/>`
      : `<path class="m-draft" stroke-linecap="butt" style="stroke-width:${width * c};stroke-opacity:.4;vector-effect:none" d="M${x} ${y}L${u} ${v}"/>`;
  }

  // Where a point of the screen is: its cell, and the nearest side of it.
  at(clientX, clientY) {
    const box = this.svg.getBoundingClientRect(), scale = this.eye.w / box.width, c = this.cell;
    const x = (this.eye.x + (clientX - box.left) * scale) / c, y = (this.eye.y + (clientY - box.top) * scale) / c;
    const column = Math.floor(x) + 1, row = Math.floor(y) + 1, u = x - column + 1, v = y - row + 1;
    const sides = [["north", v], ["south", 1 - v], ["west", u], ["east", 1 - u]].sort((a, b) => a[1] - b[1]);
    return { cell: [column, row], side: sides[0][0], near: sides[0][1] < 0.34, spot: [Math.round(x * 2) / 2, Math.round(y * 2) / 2] };
  }

  // What the keyboard's cursor stands on.
  target() {
    const [x, y] = this.cursor, cell = [Math.floor(x / 2), Math.floor(y / 2)];
    if (this.points) return { cell, side: null, near: false, spot: [(x - 1) / 2, (y - 1) / 2] };
    if (x % 2) return { cell, side: "east", near: true };
    if (y % 2) return { cell, side: "south", near: true };
    return { cell, side: null, near: false };
  }

  drawCursor(corner) {
    const c = this.cell, [x, y] = this.cursor, g = this.layers.cursor;
    if (document.activeElement !== this.svg && !corner) { g.innerHTML = ""; return; }
    if (this.points) { g.innerHTML = `<circle class="m-cursor" cx="${(x - 1) / 2 * c}" cy="${(y - 1) / 2 * c}" r="${c * 0.12}"/>`; return; }
    if (x % 2 || y % 2) {
      const px = (x % 2 ? (x - 1) / 2 : x / 2 - 1) * c, py = (y % 2 ? (y - 1) / 2 : y / 2 - 1) * c;
      g.innerHTML = x % 2 ? `<path class="m-line-cursor" d="M${px} ${py + c * 0.1}V${py + c * 0.9}"/>` : `<path class="m-line-cursor" d="M${px + c * 0.1} ${py}H${px + c * 0.9}"/>`;
      return;
    }
    const [a, b] = corner || [x / 2, y / 2], left = Math.min(a, x / 2), top = Math.min(b, y / 2);
    g.innerHTML = `<rect class="m-cursor" x="${(left - 1) * c}" y="${(top - 1) * c}" width="${(Math.abs(a - x / 2) + 1) * c}" height="${(Math.abs(b - y / 2) + 1) * c}"/>`;
  }

  step(dx, dy) {
    const stride = this.lines || this.points ? 1 : 2;
    if (stride > 1) this.cursor = this.cursor.map((v) => v - (v % 2));
    const next = [this.cursor[0] + dx * stride, this.cursor[1] + dy * stride];
    if (!this.points && next[0] % 2 && next[1] % 2) return; // corners carry nothing
    const low = 2 * (1 - MARGIN), high = [2 * (this.columns + MARGIN), 2 * (this.count + MARGIN)];
    this.cursor = next.map((v, k) => Math.min(Math.max(v, low), high[k]));
    this.#follow();
  }

  #follow() {
    const box = this.svg.getBoundingClientRect(), c = this.cell, h = this.eye.w * box.height / box.width;
    const x = (this.cursor[0] / 2 - 0.5) * c, y = (this.cursor[1] / 2 - 0.5) * c;
    if (x < this.eye.x + c) this.eye.x = x - c * 1.5;
    if (x > this.eye.x + this.eye.w - c) this.eye.x = x + c * 1.5 - this.eye.w;
    if (y < this.eye.y + c) this.eye.y = y - c * 1.5;
    if (y > this.eye.y + h - c) this.eye.y = y + c * 1.5 - h;
    this.#look();
  }

  #listen() {
    const svg = this.svg, held = new Map();
    let drawing = null, apart = 0;
    svg.addEventListener("pointerdown", (event) => {
      if (event.button > 1) return;
      svg.setPointerCapture(event.pointerId);
      held.set(event.pointerId, event);
      if (held.size > 1 || event.button === 1 || this.act.moving()) {
        if (drawing !== null) { this.act.apply(this.at(event.clientX, event.clientY), "cancel"); drawing = null; }
        return;
      }
      drawing = event.pointerId;
      const target = this.at(event.clientX, event.clientY);
      this.cursor = target.cell.map((v) => 2 * v);
      this.act.apply(target, "start");
    });
    svg.addEventListener("pointermove", (event) => {
      const before = held.get(event.pointerId);
      if (!before) return;
      held.set(event.pointerId, event);
      if (held.size === 2) {
        const [a, b] = [...held.values()], now = Math.hypot(a.clientX - b.clientX, a.clientY - b.clientY);
        if (apart) this.zoom(apart / now, (a.clientX + b.clientX) / 2, (a.clientY + b.clientY) / 2);
        this.pan((event.clientX - before.clientX) / 2, (event.clientY - before.clientY) / 2);
        apart = now;
      } else if (drawing === event.pointerId) {
        for (const e of event.getCoalescedEvents?.().length ? event.getCoalescedEvents() : [event]) this.act.apply(this.at(e.clientX, e.clientY), "drag");
      } else this.pan(event.clientX - before.clientX, event.clientY - before.clientY);
    });
    for (const end of ["pointerup", "pointercancel"]) svg.addEventListener(end, (event) => {
      held.delete(event.pointerId); apart = 0;
      if (drawing === event.pointerId) { drawing = null; this.act.apply(this.at(event.clientX, event.clientY), end === "pointerup" ? "end" : "cancel"); }
    });
    svg.addEventListener("wheel", (event) => { event.preventDefault(); this.zoom(Math.exp(event.deltaY * 0.0012), event.clientX, event.clientY); }, { passive: false });
    svg.addEventListener("focus", () => this.drawCursor());
    svg.addEventListener("blur", () => this.drawCursor());
  }
}

function tiles(view) {
  const groups = view.lie.map(([shape, a, b, c, d, e, f]) => {
    const s = view.shapes[shape], at = `transform="matrix(${a} ${b} ${c} ${d} ${e} ${f})"`;
    return `<g ${at}${s.loose ? ' class="m-loose"' : ""}>${s.loose ? "" : `<path class="m-floor" d="${s.floor}"/><path class="m-lines" d="${s.lines}"/><path class="m-sunk" d="${s.sunk}" fill-rule="evenodd"/>${s.raised.map((d) => `<path class="m-raised" fill-rule="evenodd" d="${d}"/>`).join("")}<path class="m-dark" d="${s.dark}"/>`}<path class="m-ways" d="${s.ways}"/><path class="m-walls" d="${s.walls}"/></g>`;
  });
  return groups.join("");
}

function sketch(view, c) {
  let text = "";
  view.rows.forEach((row, y) => [...row].forEach((room, x) => {
    if (room !== ".") text += `<rect class="m-sketch" x="${x * c}" y="${y * c}" width="${c}" height="${c}"/>`;
  }));
  for (const { path } of view.outlines) text += `<path class="m-sketch" transform="scale(${c})" d="${path}"/>`;
  for (const { cell: [x, y], kind } of view.features) text += `<text class="m-title" x="${(x - 0.5) * c}" y="${(y - 0.7) * c}" font-size="${c * 0.15}" stroke-width="${c * 0.03}">${esc(kind)}</text>`;
  return text;
}

// Each room's letter once in every part of it: in the cell nearest to the part's middle.
function names(view, c) {
  const seen = view.rows.map((row) => [...row].map(() => false));
  let text = "";
  view.rows.forEach((row, y) => [...row].forEach((room, x) => {
    if (room === "." || seen[y][x]) return;
    const part = [], queue = [[x, y]];
    seen[y][x] = true;
    while (queue.length) {
      const [px, py] = queue.pop();
      part.push([px, py]);
      for (const [qx, qy] of [[px + 1, py], [px - 1, py], [px, py + 1], [px, py - 1]]) {
        if (view.rows[qy]?.[qx] === room && !seen[qy][qx]) { seen[qy][qx] = true; queue.push([qx, qy]); }
      }
    }
    const mx = part.reduce((s, p) => s + p[0], 0) / part.length, my = part.reduce((s, p) => s + p[1], 0) / part.length;
    const [nx, ny] = part.reduce((best, p) => (Math.hypot(p[0] - mx, p[1] - my) < Math.hypot(best[0] - mx, best[1] - my) ? p : best));
    const title = view.titles[room];
    text += `<text class="m-letter" x="${(nx + 0.5) * c}" y="${(ny + 0.6) * c}" font-size="${c * 0.3}" stroke-width="${c * 0.05}">${esc(room)}</text>`;
    if (title) text += `<text class="m-title" x="${(nx + 0.5) * c}" y="${(ny + 0.82) * c}" font-size="${c * 0.15}" stroke-width="${c * 0.03}">${esc(title)}</text>`;
  }));
  // A room without a letter of its own on the drawing has it inside its first shape.
  const told = new Set(view.rows.join(""));
  for (const { room, at } of view.outlines) {
    if (!at || told.has(room)) continue;
    told.add(room);
    text += `<text class="m-letter" x="${at[0] * c}" y="${(at[1] + 0.1) * c}" font-size="${c * 0.3}" stroke-width="${c * 0.05}">${esc(room)}</text>`;
    if (view.titles[room]) text += `<text class="m-title" x="${at[0] * c}" y="${(at[1] + 0.32) * c}" font-size="${c * 0.15}" stroke-width="${c * 0.03}">${esc(view.titles[room])}</text>`;
  }
  return text;
}
