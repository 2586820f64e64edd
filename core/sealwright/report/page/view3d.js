"use strict";
/* The 3D view: parts as switches, one map at a time, hover for values. Plain WebGL 2, nothing from outside. */
(() => {
  const holder = document.getElementById("view3d");
  const data = document.getElementById("model3d");
  if (!holder || !data) return;
  const model = JSON.parse(data.textContent);
  const canvas = holder.querySelector("canvas"), tip = holder.querySelector(".tip"), note = holder.querySelector(".note");
  const gl = canvas.getContext("webgl2", { antialias: true, alpha: true, preserveDrawingBuffer: true });
  if (!gl) {
    note.textContent = "This browser shows no 3D view (WebGL 2 is off). The pictures above show the same.";
    canvas.hidden = true;
    return;
  }

  const VERTEX = `#version 300 es
    in vec3 corner; in vec3 normal; in float value;
    uniform mat4 place;
    out vec3 n; out float v; out vec3 p;
    void main() { n = normal; v = value; p = corner; gl_Position = place * vec4(corner, 1.0); }`;
  const FRAGMENT = `#version 300 es
    precision highp float;
    in vec3 n; in float v; in vec3 p;
    uniform vec3 colour, eye, right, up; uniform vec2 range; uniform bool mapped; uniform sampler2D scale;
    out vec4 light;
    void main() {
      vec3 look = normalize(eye - p), m = normalize(n);
      if (dot(m, look) < 0.0) m = -m;
      vec3 key = normalize(look + 0.45 * up - 0.35 * right), fill = normalize(look - 0.6 * up + 0.7 * right);
      float shade = 0.30 + 0.58 * max(dot(m, key), 0.0) + 0.16 * max(dot(m, fill), 0.0);
      float rim = pow(1.0 - max(dot(m, look), 0.0), 3.0);
      vec3 c = colour;
      if (mapped) {
        c = isnan(v) ? vec3(0.6) : texture(scale, vec2(clamp((v - range.x) / (range.y - range.x), 0.0, 1.0), 0.5)).rgb;
        shade = 0.72 + 0.30 * max(dot(m, key), 0.0);
        rim = 0.0;
      }
      float shine = mapped ? 0.0 : 0.10 * pow(max(dot(m, normalize(key + look)), 0.0), 24.0);
      light = vec4(c * shade * (1.0 - 0.35 * rim) + shine, 1.0);
    }`;
  const program = gl.createProgram();
  for (const [kind, source] of [[gl.VERTEX_SHADER, VERTEX], [gl.FRAGMENT_SHADER, FRAGMENT]]) {
    const shader = gl.createShader(kind);
    gl.shaderSource(shader, source);
    gl.compileShader(shader);
    gl.attachShader(program, shader);
  }
  gl.linkProgram(program);
  gl.useProgram(program);
  const at = (name) => gl.getUniformLocation(program, name);

  /* Colour scale as a texture, from the table in the page. */
  const colours = model.scale.map((c) => c.map((x) => Math.round(255 * x)));
  gl.bindTexture(gl.TEXTURE_2D, gl.createTexture());
  gl.texImage2D(gl.TEXTURE_2D, 0, gl.RGBA, colours.length, 1, 0, gl.RGBA, gl.UNSIGNED_BYTE,
    new Uint8Array(colours.flatMap((c) => [...c, 255])));
  for (const [name, value] of [[gl.TEXTURE_MIN_FILTER, gl.LINEAR], [gl.TEXTURE_MAG_FILTER, gl.LINEAR],
    [gl.TEXTURE_WRAP_S, gl.CLAMP_TO_EDGE], [gl.TEXTURE_WRAP_T, gl.CLAMP_TO_EDGE]]) {
    gl.texParameteri(gl.TEXTURE_2D, name, value);
  }

  const upload = (packed, values, crease) => {
    const mesh = geometry.unpacked(packed);
    const soup = geometry.loose(mesh.points, mesh.triangles, values, crease);
    const array = gl.createVertexArray();
    gl.bindVertexArray(array);
    for (const [name, numbers, size] of [["corner", soup.corner, 3], ["normal", soup.normal, 3], ["value", soup.value, 1]]) {
      gl.bindBuffer(gl.ARRAY_BUFFER, gl.createBuffer());
      gl.bufferData(gl.ARRAY_BUFFER, numbers, gl.STATIC_DRAW);
      const place = gl.getAttribLocation(program, name);
      gl.enableVertexAttribArray(place);
      gl.vertexAttribPointer(place, size, gl.FLOAT, false, 0, 0);
    }
    return { ...mesh, array, count: soup.count, values };
  };
  const pieces = model.pieces.map((piece) => ({ ...piece, ...upload(piece, null, 35) }));
  const maps = model.maps.map((map) => ({ ...map, ...upload(map, geometry.valuesOf(map.values), 180) }));
  let chosen = null;

  /* Where to look. */
  const bounds = (meshes) => {
    const low = [Infinity, Infinity, Infinity], high = [-Infinity, -Infinity, -Infinity];
    for (const { points } of meshes) for (let i = 0; i < points.length; i++) {
      low[i % 3] = Math.min(low[i % 3], points[i]); high[i % 3] = Math.max(high[i % 3], points[i]);
    }
    return { low, high };
  };
  const subject = pieces.find((piece) => piece.name !== "skin") || pieces[0];
  const { low, high } = bounds([subject]);
  const size = Math.hypot(...high.map((h, i) => h - low[i]));
  const home = { turn: 35, rise: 12, distance: 2.4 * size, lens: 28, target: low.map((l, i) => (l + high[i]) / 2) };
  const view = { ...home, target: [...home.target] };

  const draw = () => {
    const ratio = Math.min(window.devicePixelRatio || 1, 2);
    const width = Math.round(canvas.clientWidth * ratio), height = Math.round(canvas.clientHeight * ratio);
    if (canvas.width !== width || canvas.height !== height) { canvas.width = width; canvas.height = height; }
    gl.viewport(0, 0, width, height);
    gl.clearColor(0, 0, 0, 0);
    gl.clear(gl.COLOR_BUFFER_BIT | gl.DEPTH_BUFFER_BIT);
    gl.enable(gl.DEPTH_TEST);
    const { right, up, eye } = geometry.camera(view);
    gl.uniformMatrix4fv(at("place"), false, geometry.matrix(view, width / height));
    gl.uniform3fv(at("eye"), eye); gl.uniform3fv(at("right"), right); gl.uniform3fv(at("up"), up);
    gl.enable(gl.POLYGON_OFFSET_FILL);
    for (const mesh of [...pieces.filter((p) => p.shown), ...(chosen ? [chosen] : [])]) {
      const mapped = mesh === chosen;
      gl.polygonOffset(mapped ? -4 : 0, mapped ? -16 : 0);
      gl.uniform1i(at("mapped"), mapped ? 1 : 0);
      if (mapped) gl.uniform2f(at("range"), mesh.low, mesh.high); else gl.uniform3fv(at("colour"), mesh.colour);
      gl.bindVertexArray(mesh.array);
      gl.drawArrays(gl.TRIANGLES, 0, mesh.count);
    }
  };
  let waiting = false;
  const redraw = () => { if (!waiting) { waiting = true; requestAnimationFrame(() => { waiting = false; draw(); }); } };

  /* Switches and maps. */
  const shown = (value, unit) => `${Number(value.toPrecision(3))} ${unit}`;
  const legend = holder.querySelector(".legend");
  const setLegend = () => {
    legend.hidden = !chosen;
    note.textContent = chosen ? chosen.note : "";
    if (!chosen) return;
    const share = (x) => Math.min(Math.max((x - chosen.low) / (chosen.high - chosen.low), 0), 1) * 100;
    legend.querySelector(".bar").style.background = `linear-gradient(90deg, ${colours.map((c) => `rgb(${c})`).join(",")})`;
    legend.querySelector(".low").textContent = shown(chosen.low, chosen.unit);
    legend.querySelector(".high").textContent = `${shown(chosen.high, chosen.unit)} or more`;
    const marks = legend.querySelector(".marks");
    marks.replaceChildren(...chosen.limits.map(([name, value]) => {
      const mark = document.createElement("span");
      mark.style.left = `${share(value)}%`;
      mark.textContent = `${name} ${Number(value.toPrecision(3))}`;
      return mark;
    }));
  };
  const boxes = new Map();
  const setShown = (name, on) => {
    for (const piece of pieces) if (piece.name === name) { piece.shown = on; boxes.get(name).checked = on; }
  };
  const choose = (map) => {
    chosen = map;
    if (map) {
      for (const piece of pieces) setShown(piece.name, piece === subject);
      Object.assign(view, { target: [...home.target], distance: 0.8 * home.distance }, map.inside ? { turn: 160, rise: 8 } : { turn: 35, rise: 12 });
    }
    setLegend();
    redraw();
  };
  const switches = holder.querySelector(".switches"), choices = holder.querySelector(".maps");
  for (const piece of pieces) {
    const label = document.createElement("label"), box = document.createElement("input");
    box.type = "checkbox"; box.checked = piece.shown;
    box.addEventListener("change", () => { piece.shown = box.checked; redraw(); });
    boxes.set(piece.name, box);
    label.append(box, ` ${piece.name}`);
    switches.append(label);
  }
  for (const map of [null, ...maps]) {
    const label = document.createElement("label"), radio = document.createElement("input");
    radio.type = "radio"; radio.name = "map"; radio.checked = map === null;
    radio.dataset.map = map ? map.key : "";
    radio.addEventListener("change", () => choose(map));
    label.append(radio, ` ${map ? map.title : "no map"}`);
    choices.append(label);
  }
  for (const button of holder.querySelectorAll("[data-turn]")) {
    button.addEventListener("click", () => {
      Object.assign(view, { ...home, target: [...home.target], turn: Number(button.dataset.turn), rise: Number(button.dataset.rise) });
      redraw();
    });
  }

  /* Hover: the nearest thing under the pointer, with its value where it carries one. */
  const hover = (event) => {
    const box = canvas.getBoundingClientRect();
    const x = 2 * (event.clientX - box.left) / box.width - 1, y = 1 - 2 * (event.clientY - box.top) / box.height;
    const { origin, direction } = geometry.ray(view, box.width / box.height, x, y);
    let best = null;
    for (const mesh of [...pieces.filter((p) => p.shown), ...(chosen ? [chosen] : [])]) {
      const hit = geometry.firstHit(mesh.points, mesh.triangles, origin, direction);
      /* A map lies on the body: it wins within half a millimetre. */
      if (hit && (!best || hit.distance < best.distance - (mesh === chosen ? -0.5 : 0))) best = { ...hit, mesh };
    }
    tip.hidden = !best;
    if (!best) return;
    const spot = origin.map((o, i) => (o + direction[i] * best.distance).toFixed(0)).join(", ");
    let words = `${best.mesh.name || ""} at (${spot}) mm`;
    if (best.mesh === chosen) {
      const [a, b, c] = [0, 1, 2].map((k) => chosen.values[chosen.triangles[best.triangle + k]]);
      const value = a + best.u * (b - a) + best.v * (c - a);
      words = `${Number.isNaN(value) ? "no value" : shown(value, chosen.unit)} at (${spot}) mm`;
    }
    tip.textContent = words;
    tip.style.left = `${Math.min(event.clientX - box.left + 12, box.width - 190)}px`;
    tip.style.top = `${event.clientY - box.top + 12}px`;
  };

  /* Turning, shifting, zooming: mouse, fingers, keys. */
  const fingers = new Map();
  const zoom = (factor) => { view.distance = Math.min(Math.max(view.distance * factor, 0.4 * size), 8 * size); redraw(); };
  const turn = (dx, dy) => { view.turn -= dx; view.rise = Math.min(Math.max(view.rise + dy, -89), 89); redraw(); };
  const shift = (dx, dy) => {
    const { right, up } = geometry.camera(view), mm = 2 * view.distance * Math.tan(view.lens * Math.PI / 360) / canvas.clientHeight;
    view.target = view.target.map((c, i) => c + mm * (dy * up[i] - dx * right[i]));
    redraw();
  };
  canvas.addEventListener("pointerdown", (event) => {
    canvas.setPointerCapture(event.pointerId);
    fingers.set(event.pointerId, event);
    if (event.pointerType !== "mouse") hover(event);
  });
  canvas.addEventListener("pointermove", (event) => {
    const before = fingers.get(event.pointerId);
    if (!before) { if (event.pointerType === "mouse") hover(event); return; }
    const dx = event.clientX - before.clientX, dy = event.clientY - before.clientY;
    if (fingers.size === 2) {
      const other = [...fingers.values()].find((f) => f.pointerId !== event.pointerId);
      const span = (e) => Math.hypot(e.clientX - other.clientX, e.clientY - other.clientY) || 1;
      zoom(span(before) / span(event));
      shift(dx / 2, dy / 2);
    } else if (event.shiftKey || event.buttons === 2 || event.buttons === 4) shift(dx, dy);
    else turn(dx * 0.4, dy * 0.4);
    fingers.set(event.pointerId, event);
  });
  for (const kind of ["pointerup", "pointercancel"]) canvas.addEventListener(kind, (event) => fingers.delete(event.pointerId));
  canvas.addEventListener("pointerleave", () => { tip.hidden = true; });
  canvas.addEventListener("contextmenu", (event) => event.preventDefault());
  canvas.addEventListener("wheel", (event) => { event.preventDefault(); zoom(Math.exp(event.deltaY * 0.001)); }, { passive: false });
  canvas.addEventListener("keydown", (event) => {
    const moves = { ArrowLeft: [-5, 0], ArrowRight: [5, 0], ArrowUp: [0, 5], ArrowDown: [0, -5] };
    if (moves[event.key]) turn(...moves[event.key]);
    else if (event.key === "+" || event.key === "=") zoom(0.9);
    else if (event.key === "-") zoom(1.1);
    else return;
    event.preventDefault();
  });
  new ResizeObserver(redraw).observe(canvas);
  setLegend();
  redraw();
})();
