// How is the formed sheet turned about on the page? A small view in WebGL 2; without it the picture stays.
(() => {
  "use strict";
  const figure = document.getElementById("view"), source = document.getElementById("view-data");
  if (!figure || !source) return;
  const stage = figure.querySelector(".stage"), still = figure.querySelector(".still");
  const canvas = document.createElement("canvas");
  const gl = canvas.getContext("webgl2", { antialias: true, alpha: true, premultipliedAlpha: true });
  if (!gl) return;
  const data = JSON.parse(source.textContent);
  const part = (id) => document.getElementById("view-" + id);

  // --- What came with the page: little-endian whole numbers -------------------------------------------------------
  const bytes = (text) => Uint8Array.from(atob(text), (letter) => letter.charCodeAt(0)).buffer;
  const kNone = 65535, kMostValue = 65534;

  function cornersOf(surface) {
    const buffer = bytes(surface.triangles);
    return surface.corner_bytes === 2 ? Uint32Array.from(new Uint16Array(buffer)) : new Uint32Array(buffer);
  }

  function placesOf(surface, box) {
    const numbers = new Uint16Array(bytes(surface.points)), places = new Float32Array(numbers.length);
    for (let i = 0; i < numbers.length; ++i) {
      const k = i % 3, low = box.low_mm[k];
      places[i] = low + (box.high_mm[k] - low) * numbers[i] / 65535 - data.middle_mm[k];
    }
    return places;
  }

  function normalsOf(places, corners) {
    const normals = new Float32Array(places.length);
    for (let t = 0; t < corners.length; t += 3) {
      const a = 3 * corners[t], b = 3 * corners[t + 1], c = 3 * corners[t + 2];
      const ux = places[b] - places[a], uy = places[b + 1] - places[a + 1], uz = places[b + 2] - places[a + 2];
      const vx = places[c] - places[a], vy = places[c + 1] - places[a + 1], vz = places[c + 2] - places[a + 2];
      const nx = uy * vz - uz * vy, ny = uz * vx - ux * vz, nz = ux * vy - uy * vx;
      for (const at of [a, b, c]) { normals[at] += nx; normals[at + 1] += ny; normals[at + 2] += nz; }
    }
    return normals;
  }

  /** Share of the colour bar and whether there is a value, a pair for each node. */
  function sharesOf(values, field) {
    const shares = new Float32Array(2 * values.length), step = (field.largest - field.least) / kMostValue;
    for (let i = 0; i < values.length; ++i) {
      shares[2 * i] = (field.least + step * values[i] - field.low) / (field.high - field.low);
      shares[2 * i + 1] = values[i] === kNone ? 0 : 1;
    }
    return shares;
  }

  // --- Drawing ----------------------------------------------------------------------------------------------------
  const kVertex = `#version 300 es
    uniform mat3 axes; uniform vec2 stretch; uniform vec2 shift; uniform float depth; uniform float forward;
    in vec3 place; in vec3 normal; in vec2 share;
    out vec3 facing; out vec3 spot; out vec2 told;
    void main() {
      vec3 seen = place * axes;
      gl_Position = vec4((seen.xy + shift) * stretch, -(seen.z + forward) * depth, 1.0);
      facing = normal * axes; spot = seen; told = share;
    }`;
  const kFragment = `#version 300 es
    precision highp float;
    uniform sampler2D palette; uniform float stripe; uniform float solid; uniform bool plain;
    in vec3 facing; in vec3 spot; in vec2 told; out vec4 colour;
    void main() {
      // A sheet bends; a mould has edges.
      vec3 normal = normalize(plain ? cross(dFdx(spot), dFdy(spot)) : facing);
      if (normal.z < 0.0) normal = -normal;
      float light = 0.62 + 0.38 * max(0.0, dot(normal, normalize(vec3(-0.45, 0.55, 0.7))));
      vec3 base = texture(palette, vec2((clamp(told.x, 0.0, 1.0) * 255.0 + 0.5) / 256.0, 0.5)).rgb;
      if (told.y < 0.999)
        base = vec3(mod(floor((gl_FragCoord.x - gl_FragCoord.y) / stripe), 2.0) < 0.5 ? 0.588 : 0.804);
      if (plain) base = vec3(0.72, 0.72, 0.70);
      colour = vec4(base * light, 1.0) * solid;
    }`;

  function shader(kind, text) {
    const made = gl.createShader(kind);
    gl.shaderSource(made, text);
    gl.compileShader(made);
    if (!gl.getShaderParameter(made, gl.COMPILE_STATUS)) throw new Error(gl.getShaderInfoLog(made));
    return made;
  }
  const program = gl.createProgram();
  gl.attachShader(program, shader(gl.VERTEX_SHADER, kVertex));
  gl.attachShader(program, shader(gl.FRAGMENT_SHADER, kFragment));
  gl.linkProgram(program);
  if (!gl.getProgramParameter(program, gl.LINK_STATUS)) throw new Error(gl.getProgramInfoLog(program));
  gl.useProgram(program);
  const uniform = (name) => gl.getUniformLocation(program, name);
  const uniforms = { axes: uniform("axes"), stretch: uniform("stretch"), shift: uniform("shift"),
    depth: uniform("depth"), stripe: uniform("stripe"), forward: uniform("forward"), solid: uniform("solid"),
    plain: uniform("plain") };

  const surface = () => ({ arrays: gl.createVertexArray(), place: gl.createBuffer(), normal: gl.createBuffer(),
    share: gl.createBuffer(), corners: gl.createBuffer(), count: 0 });
  const sheet = surface(), mould = surface();
  function upload(to, name, values, size) {
    const at = gl.getAttribLocation(program, name);
    gl.bindVertexArray(to.arrays);
    gl.bindBuffer(gl.ARRAY_BUFFER, to[name]);
    gl.bufferData(gl.ARRAY_BUFFER, values, gl.STATIC_DRAW);
    gl.enableVertexAttribArray(at);
    gl.vertexAttribPointer(at, size, gl.FLOAT, false, 0, 0);
  }
  function uploadShape(to, shape, triangles) {
    upload(to, "place", shape, 3);
    upload(to, "normal", normalsOf(shape, triangles), 3);
    gl.bindBuffer(gl.ELEMENT_ARRAY_BUFFER, to.corners);
    gl.bufferData(gl.ELEMENT_ARRAY_BUFFER, triangles, gl.STATIC_DRAW);
    to.count = triangles.length;
  }
  gl.bindTexture(gl.TEXTURE_2D, gl.createTexture());
  gl.texImage2D(gl.TEXTURE_2D, 0, gl.RGBA, 256, 1, 0, gl.RGBA, gl.UNSIGNED_BYTE, new Uint8Array(bytes(data.palette)));
  gl.texParameteri(gl.TEXTURE_2D, gl.TEXTURE_MIN_FILTER, gl.NEAREST);
  gl.texParameteri(gl.TEXTURE_2D, gl.TEXTURE_MAG_FILTER, gl.NEAREST);
  gl.enable(gl.DEPTH_TEST);
  gl.depthFunc(gl.LEQUAL);
  gl.blendFunc(gl.ONE, gl.ONE_MINUS_SRC_ALPHA);

  // --- What is shown, and from where ------------------------------------------------------------------------------
  const first = { azimuth: data.azimuth_rad, height: data.height_rad, nearer: 1, x: 0, y: 0 };
  let eye = { ...first }, places, corners, values, field, seen = null;
  // Nothing lies farther from the middle than this, mm.
  const boxes = data.mould ? [data, data.mould] : [data];
  const reach = 1 + 1.1 * Math.hypot(...data.middle_mm.map((middle, k) => Math.max(
    ...boxes.flatMap((box) => [box.high_mm[k] - middle, middle - box.low_mm[k]]))));

  function axes() {
    const c = Math.cos(eye.azimuth), s = Math.sin(eye.azimuth), flat = Math.cos(eye.height), steep = Math.sin(eye.height);
    return [[-s, c, 0], [-c * steep, -s * steep, flat], [c * flat, s * flat, steep]];
  }
  /** Pixels of the page a millimetre takes. */
  const scale = () => canvas.clientWidth / data.across_mm * eye.nearer;

  function draw() {
    const fine = Math.min(window.devicePixelRatio || 1, 2);
    const width = Math.max(1, Math.round(canvas.clientWidth * fine));
    const height = Math.max(1, Math.round(canvas.clientHeight * fine));
    if (canvas.width !== width || canvas.height !== height) { canvas.width = width; canvas.height = height; }
    gl.viewport(0, 0, width, height);
    gl.clearColor(0, 0, 0, 0);
    gl.clear(gl.COLOR_BUFFER_BIT | gl.DEPTH_BUFFER_BIT);
    gl.uniformMatrix3fv(uniforms.axes, false, axes().flat());
    gl.uniform2f(uniforms.stretch, 2 * scale() / canvas.clientWidth, 2 * scale() / canvas.clientHeight);
    gl.uniform2f(uniforms.shift, eye.x, eye.y);
    gl.uniform1f(uniforms.depth, 1 / reach);
    gl.uniform1f(uniforms.stripe, 5 * fine);
    if (!part("mould")?.checked) {
      paint(sheet, 1, 0);
    } else {
      // Where they touch the sheet is in front, by more than its elements cut off at the mould's edges.
      const forward = 0.005 * data.across_mm;
      paint(mould, 1, 0);
      gl.colorMask(false, false, false, false);
      paint(sheet, 1, forward);  // first its depth alone: of a sheet over itself the nearest face is seen
      gl.colorMask(true, true, true, true);
      gl.enable(gl.BLEND);
      paint(sheet, 0.5, forward);
      gl.disable(gl.BLEND);
    }
    place(false);
  }
  function paint(what, solid, forward) {
    gl.bindVertexArray(what.arrays);
    gl.uniform1f(uniforms.solid, solid);
    gl.uniform1f(uniforms.forward, forward);
    gl.uniform1i(uniforms.plain, what === mould ? 1 : 0);
    gl.drawElements(gl.TRIANGLES, what.count, gl.UNSIGNED_INT, 0);
  }
  let waiting = false;
  function redraw() {
    seen = null;
    if (waiting) return;
    waiting = true;
    requestAnimationFrame(() => { waiting = false; draw(); });
  }

  // Marks and scale follow the view; for print they go back to where the picture has them.
  const marks = [...stage.querySelectorAll(".mark")].map((mark) => (
    { mark, style: mark.getAttribute("style"), behind: mark.classList.contains("behind"), flip: mark.classList.contains("flip"), led: mark.classList.contains("led"), words: mark.querySelector("b"), at: mark.dataset.place.split(" ").map((v, k) => v - data.middle_mm[k]) }));
  const bar = figure.querySelector(".scale"), barAtFirst = [bar.getAttribute("style"), bar.textContent], barText = bar.firstElementChild;
  /** Whether the sheet lies before a place, by more than a line's thickness. */
  function isBehind(at) {
    const [right, up, towards] = axes(), mm = scale(), dot = (a, b) => a[0] * b[0] + a[1] * b[1] + a[2] * b[2];
    const found = hit(canvas.clientWidth / 2 + mm * (dot(at, right) + eye.x),
      canvas.clientHeight / 2 - mm * (dot(at, up) + eye.y));
    return found !== null && found.depth > dot(at, towards) + 6 / mm;
  }
  /** Words that would cover others go down, and back up where the picture ends: as io/report/labels.cpp does. */
  function moveApart() {
    const gap = 2, boxes = marks.map(({ mark, words }) => {
      const x = parseFloat(mark.style.left), y = parseFloat(mark.style.top), w = words.offsetWidth, h = words.offsetHeight;
      const left = mark.classList.contains("flip") ? x - 8 - w : x + 8;
      return { mark, x, y, h, left, right: left + w, wanted: y - 6 - h, top: 0 };
    }).filter((own) => {
      const seen = own.x >= 0 && own.x <= canvas.clientWidth && own.y >= 0 && own.y <= canvas.clientHeight;
      if (!seen) own.mark.classList.remove("led"), own.mark.style.setProperty("--down", "0px"), own.mark.style.setProperty("--down-wide", "0px");
      return seen;
    }).sort((a, b) => a.y - b.y);
    const beside = (a, b) => (a.x < b.x ? a.right + gap <= b.left : b.right + gap <= a.left);
    boxes.forEach((own, k) => {
      own.top = Math.max(own.wanted, 0);
      for (const other of boxes.slice(0, k)) if (!beside(own, other)) own.top = Math.max(own.top, other.top + other.h + gap);
    });
    for (let k = boxes.length - 1; k >= 0; --k) {
      const own = boxes[k];
      own.top = Math.min(own.top, canvas.clientHeight - own.h);
      for (const other of boxes.slice(k + 1)) if (!beside(own, other)) own.top = Math.min(own.top, other.top - own.h - gap);
      const down = own.top - own.wanted;
      own.mark.classList.toggle("led", Math.abs(down) > 0.5);
      own.mark.style.setProperty("--down", down + "px");
      own.mark.style.setProperty("--down-wide", down + "px");
    }
  }
  function place(asPicture) {
    const [right, up] = axes(), mm = scale(), dot = (a, b) => a[0] * b[0] + a[1] * b[1] + a[2] * b[2];
    for (const { mark, style, behind, flip, led, at } of marks) {
      if (asPicture) {
        mark.setAttribute("style", style);
        mark.classList.toggle("behind", behind);
        mark.classList.toggle("flip", flip);
        mark.classList.toggle("led", led);
        continue;
      }
      const x = canvas.clientWidth / 2 + mm * (dot(at, right) + eye.x);
      mark.style.left = x + "px";
      mark.style.top = canvas.clientHeight / 2 - mm * (dot(at, up) + eye.y) + "px";
      mark.classList.toggle("flip", x > 0.8 * canvas.clientWidth);
      mark.classList.toggle("behind", isBehind(at));
    }
    if (!asPicture) moveApart();
    if (asPicture) { bar.setAttribute("style", barAtFirst[0]); barText.textContent = barAtFirst[1]; return; }
    const most = 0.2 * canvas.clientWidth / mm, power = 10 ** Math.floor(Math.log10(most));
    const length = power * (most >= 5 * power ? 5 : most >= 2 * power ? 2 : 1);
    bar.style.width = length * mm + "px";
    barText.textContent = Number(length.toPrecision(1)) + " mm";
  }

  const words = (value) => (Math.abs(value) < 1000 ? Number(value.toPrecision(3)) : Math.round(value)).toString();
  function showLegend() {
    const items = figure.querySelectorAll(".legend li"), last = items.length - 1;
    const least = 1e-3 * (field.high - field.low);  // less than a number on the bar can show
    items.forEach((item, i) => {
      const value = field.low + (field.high - field.low) * i / last;
      const isLess = field.low - field.least > least, isMore = field.largest - field.high > least;
      const cut = i === 0 && isLess ? "≤ " : i === last && isMore ? "≥ " : "";
      item.textContent = cut + words(value) + (i === last ? " " + field.unit : "");
    });
  }

  function showMoment() {
    const index = Number(part("moment").value), moment = data.moments[index], select = part("field");
    const last = index === data.moments.length - 1;
    // Earlier moments carry fewer fields.
    for (const option of select.options) option.disabled = !(option.value in moment.values);
    if (!(select.value in moment.values)) select.value = Object.keys(moment.values)[0];
    let shaped = index;  // triangles that stay are told once
    while (data.moments[shaped].triangles === null) --shaped;
    places = placesOf(moment, data);
    corners = cornersOf(data.moments[shaped]);
    uploadShape(sheet, places, corners);
    const when = words(moment.time_s) + " s, " + words(moment.pressure_bar) + " bar" +
      (moment.stage ? ", " + moment.stage : "") + (last ? " (end)" : "");
    part("time").textContent = when;
    part("moment").setAttribute("aria-valuetext", when);
    showField();
  }
  function showField() {
    const moment = data.moments[Number(part("moment").value)];
    field = data.fields.find((known) => known.key === part("field").value);
    values = new Uint16Array(bytes(moment.values[field.key]));
    upload(sheet, "share", sharesOf(values, field), 2);
    showLegend();
    nameCanvas();
    redraw();
  }
  function nameCanvas() {
    canvas.setAttribute("aria-label", "The sheet, coloured by " + field.name +
      (part("mould")?.checked ? ", see-through over the mould" : "") + ", to be turned about");
  }
  function showMould() {
    if (mould.count === 0) {
      const shape = placesOf(data.mould, data.mould);
      uploadShape(mould, shape, cornersOf(data.mould));
      upload(mould, "share", new Float32Array(2 * shape.length / 3), 2);
    }
    nameCanvas();
    redraw();
  }

  // --- Reading a value --------------------------------------------------------------------------------------------
  function project() {
    const [right, up, towards] = axes(), mm = scale(), count = places.length / 3;
    seen = new Float32Array(places.length);
    for (let i = 0; i < count; ++i) {
      const x = places[3 * i], y = places[3 * i + 1], z = places[3 * i + 2];
      seen[3 * i] = canvas.clientWidth / 2 + mm * (x * right[0] + y * right[1] + z * right[2] + eye.x);
      seen[3 * i + 1] = canvas.clientHeight / 2 - mm * (x * up[0] + y * up[1] + z * up[2] + eye.y);
      seen[3 * i + 2] = x * towards[0] + y * towards[1] + z * towards[2];
    }
  }
  /** The nearest triangle under a point of the canvas, with the weights of its corners. */
  function hit(px, py) {
    if (!seen) project();
    let best = null, nearest = -Infinity;
    for (let t = 0; t < corners.length; t += 3) {
      const a = 3 * corners[t], b = 3 * corners[t + 1], c = 3 * corners[t + 2];
      const ax = seen[a] - px, ay = seen[a + 1] - py, bx = seen[b] - px, by = seen[b + 1] - py;
      const cx = seen[c] - px, cy = seen[c + 1] - py;
      const u = bx * cy - by * cx, v = cx * ay - cy * ax, w = ax * by - ay * bx, area = u + v + w;
      if (area === 0 || u * area < 0 || v * area < 0 || w * area < 0) continue;
      const depth = (u * seen[a + 2] + v * seen[b + 2] + w * seen[c + 2]) / area;
      if (depth > nearest) { nearest = depth; best = { t, depth, weights: [u / area, v / area, w / area] }; }
    }
    return best;
  }
  function tell(px, py) {
    const found = hit(px, py), out = part("value");
    if (!found) { out.textContent = ""; return; }
    let value = 0, none = false;
    const at = [...data.middle_mm];
    found.weights.forEach((weight, k) => {
      const node = corners[found.t + k];
      none = none || values[node] === kNone;
      value += weight * (field.least + (field.largest - field.least) * values[node] / kMostValue);
      for (let i = 0; i < 3; ++i) at[i] += weight * places[3 * node + i];
    });
    out.textContent = field.name + (none ? ": no value" : " " + words(value) + " " + field.unit) +
      " at (" + at.map((v) => v.toFixed(1)).join(", ") + ") mm";
  }

  // --- Hands ------------------------------------------------------------------------------------------------------
  const bounded = (value, low, high) => Math.min(high, Math.max(low, value));
  function turn(dx, dy) {
    eye.azimuth -= dx;
    eye.height = bounded(eye.height + dy, -Math.PI / 2, Math.PI / 2);
    redraw();
  }
  function near(factor) {
    eye.nearer = bounded(eye.nearer * factor, 0.2, 40);
    redraw();
  }
  const fingers = new Map();
  let apart = 0;
  const distance = () => { const [a, b] = [...fingers.values()]; return Math.hypot(a[0] - b[0], a[1] - b[1]); };
  canvas.addEventListener("pointerdown", (event) => {
    fingers.set(event.pointerId, [event.clientX, event.clientY]);
    canvas.setPointerCapture(event.pointerId);
    if (fingers.size === 2) apart = distance();
  });
  canvas.addEventListener("pointermove", (event) => {
    const before = fingers.get(event.pointerId);
    aim.hidden = true;
    if (!before) { tell(event.offsetX, event.offsetY); return; }
    const dx = event.clientX - before[0], dy = event.clientY - before[1];
    fingers.set(event.pointerId, [event.clientX, event.clientY]);
    if (fingers.size === 2) {
      near(distance() / apart);
      apart = distance();
    } else if (event.shiftKey || event.buttons === 4) {
      eye.x += dx / scale();
      eye.y -= dy / scale();
      redraw();
    } else {
      turn(dx / 150, dy / 150);
    }
  });
  const letGo = (event) => {
    fingers.delete(event.pointerId);
    if (event.type === "pointerup") tell(event.offsetX, event.offsetY);
  };
  canvas.addEventListener("pointerup", letGo);
  canvas.addEventListener("pointercancel", letGo);
  canvas.addEventListener("wheel", (event) => {
    if (!event.ctrlKey) return;  // the page goes on scrolling
    event.preventDefault();
    near(Math.exp(-event.deltaY / 300));
  }, { passive: false });
  const keys = {
    ArrowLeft: () => turn(0.12, 0), ArrowRight: () => turn(-0.12, 0), ArrowUp: () => turn(0, 0.12),
    ArrowDown: () => turn(0, -0.12), "+": () => near(1.2), "=": () => near(1.2), "-": () => near(1 / 1.2),
    Home: () => { eye = { ...first }; redraw(); },
  };
  canvas.addEventListener("keydown", (event) => {
    if (!(event.key in keys) || event.ctrlKey || event.metaKey || event.altKey) return;
    event.preventDefault();
    keys[event.key]();
    aim.hidden = false;
    tell(canvas.clientWidth / 2, canvas.clientHeight / 2);
  });
  canvas.addEventListener("blur", () => { aim.hidden = true; });
  part("top").addEventListener("click", () => { eye = { ...first, azimuth: -Math.PI / 2, height: Math.PI / 2 }; redraw(); });
  part("side").addEventListener("click", () => { eye = { ...first, azimuth: -Math.PI / 2, height: 0 }; redraw(); });
  part("back").addEventListener("click", () => { eye = { ...first }; redraw(); });
  part("field").addEventListener("change", showField);
  part("moment").addEventListener("input", showMoment);
  part("mould")?.addEventListener("change", showMould);
  window.addEventListener("beforeprint", () => place(true));
  window.addEventListener("afterprint", redraw);
  const watch = new ResizeObserver(redraw);
  canvas.addEventListener("webglcontextlost", () => {
    watch.disconnect();
    figure.classList.remove("live");
    canvas.remove();
    figure.querySelector(".controls").hidden = true;
    place(true);
  });

  // --- Begin ------------------------------------------------------------------------------------------------------
  const aim = document.createElement("span");
  aim.className = "aim";
  aim.hidden = true;
  canvas.tabIndex = 0;
  canvas.setAttribute("role", "application");
  canvas.setAttribute("aria-describedby", "view-help");
  for (const known of data.fields) part("field").add(new Option(known.name + " (" + known.unit + ")", known.key));
  part("moment").max = data.moments.length - 1;
  part("moment").value = data.moments.length - 1;
  stage.insertBefore(canvas, still.nextSibling);
  stage.append(aim);
  figure.querySelector(".controls").hidden = false;
  figure.classList.add("live");
  showMoment();
  watch.observe(canvas);
})();
