// A small viewer for flat-shaded triangles: binary STL in, WebGL out.
const VERTEX = `attribute vec3 place; attribute vec3 normal; uniform mat4 look; uniform mat4 lie; varying vec3 side;
void main() { side = mat3(lie[0].xyz, lie[1].xyz, lie[2].xyz) * normal; gl_Position = look * lie * vec4(place, 1.0); }`;
const FRAGMENT = `precision mediump float; varying vec3 side; uniform vec3 colour;
void main() { vec3 n = normalize(side); float light = 0.42 + 0.34 * max(dot(n, vec3(0.35, -0.45, 0.82)), 0.0) + 0.24 * max(n.z, 0.0);
gl_FragColor = vec4(colour * light, 1.0); }`;

// Binary STL: 80 bytes, a count, 50 bytes a triangle (normal, three corners).
export function readStl(buffer) {
  const data = new DataView(buffer);
  const count = data.getUint32(80, true);
  const places = new Float32Array(count * 9);
  const normals = new Float32Array(count * 9);
  for (let t = 0; t < count; t += 1) {
    const at = 84 + 50 * t;
    for (let k = 0; k < 9; k += 1) {
      places[t * 9 + k] = data.getFloat32(at + 12 + 4 * k, true);
      normals[t * 9 + k] = data.getFloat32(at + 4 * (k % 3), true);
    }
  }
  return { places, normals, count: count * 3 };
}

export class Solid {
  constructor(canvas) {
    this.canvas = canvas;
    this.gl = canvas.getContext("webgl", { antialias: true, preserveDrawingBuffer: true });
    this.things = [];
    this.turn = { round: -0.6, up: 0.85, away: 1 };
    if (!this.gl) return;
    this.program = this.#program();
    this.#listen();
    new ResizeObserver(() => this.draw()).observe(canvas);
  }

  get works() { return Boolean(this.gl); }

  #program() {
    const gl = this.gl;
    const program = gl.createProgram();
    for (const [kind, source] of [[gl.VERTEX_SHADER, VERTEX], [gl.FRAGMENT_SHADER, FRAGMENT]]) {
      const shader = gl.createShader(kind);
      gl.shaderSource(shader, source);
      gl.compileShader(shader);
      gl.attachShader(program, shader);
    }
    gl.linkProgram(program);
    return program;
  }

  // things: [{mesh, lies: [mat4, ...], loose}] with places in mm, z up.
  show(things) {
    const gl = this.gl;
    if (!gl) return;
    for (const old of this.things) { gl.deleteBuffer(old.places); gl.deleteBuffer(old.normals); }
    this.things = things.map(({ mesh, lies, loose }) => ({
      places: this.#buffer(mesh.places), normals: this.#buffer(mesh.normals), count: mesh.count, lies, loose,
    }));
    const low = [Infinity, Infinity, Infinity], high = [-Infinity, -Infinity, -Infinity];
    for (const { mesh, lies } of things) {
      const least = [Infinity, Infinity, Infinity], most = [-Infinity, -Infinity, -Infinity];
      for (let i = 0; i < mesh.places.length; i += 1) {
        const k = i % 3;
        least[k] = Math.min(least[k], mesh.places[i]); most[k] = Math.max(most[k], mesh.places[i]);
      }
      for (const lie of lies) for (const corner of [least, most]) {
        for (let k = 0; k < 3; k += 1) {
          const at = lie[k] * corner[0] + lie[4 + k] * corner[1] + lie[8 + k] * corner[2] + lie[12 + k];
          low[k] = Math.min(low[k], at); high[k] = Math.max(high[k], at);
        }
      }
    }
    this.middle = low.map((v, k) => (v + high[k]) / 2);
    this.size = Math.max(10, Math.hypot(...low.map((v, k) => high[k] - v)));
    this.draw();
  }

  #buffer(values) {
    const gl = this.gl, buffer = gl.createBuffer();
    gl.bindBuffer(gl.ARRAY_BUFFER, buffer);
    gl.bufferData(gl.ARRAY_BUFFER, values, gl.STATIC_DRAW);
    return buffer;
  }

  draw() {
    const gl = this.gl, canvas = this.canvas;
    if (!gl || !canvas.clientWidth || !this.middle) return;
    const sharp = Math.min(window.devicePixelRatio || 1, 2);
    canvas.width = Math.round(canvas.clientWidth * sharp);
    canvas.height = Math.round(canvas.clientHeight * sharp);
    gl.viewport(0, 0, canvas.width, canvas.height);
    const paper = colourOf("--paper");
    gl.clearColor(...paper, 1);
    gl.enable(gl.DEPTH_TEST);
    gl.clear(gl.COLOR_BUFFER_BIT | gl.DEPTH_BUFFER_BIT);
    gl.useProgram(this.program);
    gl.uniformMatrix4fv(gl.getUniformLocation(this.program, "look"), false, this.#look());
    const lie = gl.getUniformLocation(this.program, "lie"), colour = gl.getUniformLocation(this.program, "colour");
    const kinds = { false: colourOf("--floor-solid", [0.93, 0.89, 0.8]), true: colourOf("--door", [0.7, 0.45, 0.2]) };
    for (const thing of this.things) {
      gl.uniform3fv(colour, kinds[Boolean(thing.loose)]);
      for (const [name, buffer] of [["place", thing.places], ["normal", thing.normals]]) {
        const where = gl.getAttribLocation(this.program, name);
        gl.bindBuffer(gl.ARRAY_BUFFER, buffer);
        gl.enableVertexAttribArray(where);
        gl.vertexAttribPointer(where, 3, gl.FLOAT, false, 0, 0);
      }
      for (const matrix of thing.lies) {
        gl.uniformMatrix4fv(lie, false, matrix);
        gl.drawArrays(gl.TRIANGLES, 0, thing.count);
      }
    }
  }

  // Perspective times a turn round the middle; column by column.
  #look() {
    const { round, up, away } = this.turn, [x, y, z] = this.middle;
    const far = this.size * 1.35 * away, near = far * 0.02;
    const cr = Math.cos(round), sr = Math.sin(round), cu = Math.cos(up), su = Math.sin(up);
    const right = [cr, sr, 0], above = [-sr * su, cr * su, cu], back = [sr * cu, -cr * cu, su];
    const dot = (v) => v[0] * x + v[1] * y + v[2] * z;
    const view = [right[0], above[0], back[0], 0, right[1], above[1], back[1], 0, right[2], above[2], back[2], 0,
      -dot(right), -dot(above), -dot(back) - far, 1];
    const lens = 1 / Math.tan(0.36), wide = this.canvas.width / this.canvas.height, end = far + this.size * 2;
    const flat = [lens / Math.max(wide, 1e-6) * Math.min(wide, 1), 0, 0, 0, 0, lens * Math.min(wide, 1), 0, 0, 0, 0,
      (end + near) / (near - end), -1, 0, 0, 2 * end * near / (near - end), 0];
    const found = new Float32Array(16);
    for (let c = 0; c < 4; c += 1) for (let r = 0; r < 4; r += 1) {
      let sum = 0;
      for (let k = 0; k < 4; k += 1) sum += flat[k * 4 + r] * view[c * 4 + k];
      found[c * 4 + r] = sum;
    }
    return found;
  }

  #listen() {
    const canvas = this.canvas, held = new Map();
    let apart = 0;
    canvas.addEventListener("pointerdown", (event) => { canvas.setPointerCapture(event.pointerId); held.set(event.pointerId, event); });
    canvas.addEventListener("pointermove", (event) => {
      const before = held.get(event.pointerId);
      if (!before) return;
      held.set(event.pointerId, event);
      if (held.size === 1) this.#turned((event.clientX - before.clientX) * -0.008, (event.clientY - before.clientY) * 0.008);
      if (held.size === 2) {
        const [a, b] = [...held.values()], now = Math.hypot(a.clientX - b.clientX, a.clientY - b.clientY);
        if (apart) this.#zoomed(apart / now);
        apart = now;
      }
    });
    for (const end of ["pointerup", "pointercancel"]) canvas.addEventListener(end, (event) => { held.delete(event.pointerId); apart = 0; });
    canvas.addEventListener("wheel", (event) => { event.preventDefault(); this.#zoomed(Math.exp(event.deltaY * 0.001)); }, { passive: false });
    canvas.addEventListener("keydown", (event) => {
      const moves = { ArrowLeft: [0.12, 0], ArrowRight: [-0.12, 0], ArrowUp: [0, 0.1], ArrowDown: [0, -0.1] };
      if (moves[event.key]) { event.preventDefault(); this.#turned(...moves[event.key]); }
      if (event.key === "+" || event.key === "=") this.#zoomed(0.85);
      if (event.key === "-") this.#zoomed(1.18);
    });
  }

  #turned(round, up) {
    this.turn.round += round;
    this.turn.up = Math.min(1.55, Math.max(0.05, this.turn.up + up));
    this.draw();
  }

  #zoomed(factor) {
    this.turn.away = Math.min(3, Math.max(0.08, this.turn.away * factor));
    this.draw();
  }
}

export function colourOf(name, otherwise = [1, 1, 1]) {
  const text = getComputedStyle(document.documentElement).getPropertyValue(name).trim();
  const match = /^#([0-9a-f]{6})$/i.exec(text);
  return match ? [0, 2, 4].map((k) => parseInt(match[1].slice(k, k + 2), 16) / 255) : otherwise;
}
