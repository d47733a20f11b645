// The built box to be walked round. No library, nothing fetched: the shapes stand in the page, and without WebGL the pictures do.
(() => {
  "use strict";
  const place = document.getElementById("model-view");
  const canvas = place.querySelector("canvas"), turn = place.querySelector(".turn");
  const gl = canvas.getContext("webgl2", { antialias: true, alpha: false });
  if (!gl) {
    place.querySelector(".why").hidden = false;
    return;
  }

  const { parts, low, step, eye, box } = JSON.parse(place.dataset.told);
  const bytes = Uint8Array.from(atob(place.dataset.shapes), (letter) => letter.charCodeAt(0)).buffer;
  const [vertices, ends, indices, wide] = new Uint32Array(bytes, 0, 4);

  // ---- on the card ----
  const shader = (kind, text) => {
    const made = gl.createShader(kind);
    gl.shaderSource(made, "#version 300 es\nprecision highp float;\n" + text);
    gl.compileShader(made);
    return made;
  };
  const program = (vertex, fragment) => {
    const made = gl.createProgram();
    gl.attachShader(made, shader(gl.VERTEX_SHADER, vertex));
    gl.attachShader(made, shader(gl.FRAGMENT_SHADER, fragment));
    gl.bindAttribLocation(made, 0, "grid");
    gl.linkProgram(made);
    return { made, at: (name) => gl.getUniformLocation(made, name) };
  };
  const skin = program(
    `in vec3 grid; uniform mat4 seen; uniform vec3 low; uniform float grain; out vec3 spot;
     void main() { spot = low + grain * grid; gl_Position = seen * vec4(spot, 1.0); }`,
    // A lamp above the shoulder of whoever looks: flat facets by their slope.
    `in vec3 spot; uniform vec3 tone; uniform vec3 lamp; out vec4 colour;
     void main() {
       vec3 n = normalize(cross(dFdx(spot), dFdy(spot)));
       colour = vec4(tone * (0.58 + 0.52 * abs(dot(n, normalize(lamp - spot)))), 1.0);
     }`);
  const line = program(
    // A fifth of a millimetre nearer than the surface they are drawn on.
    `in vec3 grid; uniform mat4 seen; uniform vec3 low; uniform float grain; uniform vec3 from;
     void main() { vec3 spot = low + grain * grid; gl_Position = seen * vec4(spot + 0.2 * normalize(from - spot), 1.0); }`,
    `uniform vec4 ink; out vec4 colour; void main() { colour = ink; }`);

  const held = (content, target = gl.ARRAY_BUFFER) => {
    const buffer = gl.createBuffer();
    gl.bindBuffer(target, buffer);
    gl.bufferData(target, content, gl.STATIC_DRAW);
    return buffer;
  };
  const read = (buffer, kind) => {
    const array = gl.createVertexArray();
    gl.bindVertexArray(array);
    gl.bindBuffer(gl.ARRAY_BUFFER, buffer);
    gl.enableVertexAttribArray(0);
    gl.vertexAttribPointer(0, 3, kind, false, 0, 0);
    return array;
  };
  const index = wide ? Uint32Array : Uint16Array, many = wide ? gl.UNSIGNED_INT : gl.UNSIGNED_SHORT;
  const skins = read(held(new Uint16Array(bytes, 16 + indices * index.BYTES_PER_ELEMENT, 3 * vertices)), gl.UNSIGNED_SHORT);
  held(new index(bytes, 16, indices), gl.ELEMENT_ARRAY_BUFFER);
  const lines = read(held(new Uint16Array(bytes, 16 + indices * index.BYTES_PER_ELEMENT + 6 * vertices, 3 * ends)), gl.UNSIGNED_SHORT);
  const [width, height, depth] = box, rim = [];
  const corner = (n) => [n & 1 ? width / 2 : -width / 2, n & 2 ? depth : 0, n & 4 ? height : 0];
  for (const [a, b] of [[0, 1], [2, 3], [4, 5], [6, 7], [0, 2], [1, 3], [4, 6], [5, 7], [0, 4], [1, 5], [2, 6], [3, 7]])
    rim.push(...corner(a), ...corner(b));
  for (const n of [0, 1, 4, 5]) rim.push(...eye, ...corner(n));
  const frame = read(held(new Float32Array(rim)), gl.FLOAT);

  // ---- who looks ----
  const middle = [0, depth / 2, height / 2];
  const less = (a, b) => a.map((value, axis) => value - b[axis]);
  const dot = (a, b) => a[0] * b[0] + a[1] * b[1] + a[2] * b[2];
  const cross = (a, b) => [a[1] * b[2] - a[2] * b[1], a[2] * b[0] - a[0] * b[2], a[0] * b[1] - a[1] * b[0]];
  const unit = (a) => a.map((value) => value / Math.hypot(...a));
  const clamp = (value, least, most) => Math.min(most, Math.max(least, value));
  const size = Math.hypot(width, height, depth), far = 2.05 * size;
  const stands = {
    corner: { round: -1.08, up: 1.22, far, field: 0.42 },
    side: { round: 0, up: Math.PI / 2, far, field: 0.42 },
    above: { round: -Math.PI / 2, up: 0.02, far, field: 0.42 },
  };
  const way = less(eye, middle), apart = Math.hypot(...way);
  stands.eye = {
    round: Math.atan2(way[1], way[0]), up: Math.acos(way[2] / apart), far: apart,
    field: 2 * Math.atan((0.58 * Math.max(width, height)) / -eye[1]),
  };
  let stand = { ...stands.corner }, shown = parts.length, open = true;

  // Columns first, as the card takes them. The middle of the box stays in the middle of the picture.
  const sight = () => {
    const { round, up, far: away, field } = stand;
    const from = [
      middle[0] + away * Math.sin(up) * Math.cos(round), middle[1] + away * Math.sin(up) * Math.sin(round), middle[2] + away * Math.cos(up),
    ];
    const back = unit(less(from, middle)), right = unit(cross([0, 0, 1], back)), top = cross(back, right);
    const near = Math.max(0.05 * away, away - 0.8 * size), deep = away + 0.8 * size + apart, aspect = canvas.width / canvas.height;
    const g = 1 / Math.tan(field / 2), [gx, gy] = aspect > 1 ? [g / aspect, g] : [g, g * aspect];
    const a = (deep + near) / (near - deep), b = (2 * deep * near) / (near - deep);
    const seen = [0, 1, 2].flatMap((n) => [gx * right[n], gy * top[n], a * back[n], -back[n]]);
    seen.push(-gx * dot(right, from), -gy * dot(top, from), -a * dot(back, from) + b, dot(back, from));
    return { seen, from, lamp: from.map((value, n) => value + away * (0.45 * top[n] - 0.3 * right[n])) };
  };

  const paint = () => {
    const ratio = Math.min(window.devicePixelRatio || 1, 2);
    const [w, h] = [Math.round(canvas.clientWidth * ratio), Math.round(canvas.clientHeight * ratio)];
    if (!w || !h) return;
    if (canvas.width !== w || canvas.height !== h) [canvas.width, canvas.height] = [w, h];
    const { seen, from, lamp } = sight();
    gl.viewport(0, 0, w, h);
    gl.clearColor(0.945, 0.929, 0.89, 1);
    gl.enable(gl.DEPTH_TEST);
    gl.disable(gl.BLEND);
    gl.clear(gl.COLOR_BUFFER_BIT | gl.DEPTH_BUFFER_BIT);
    // A sheet seen from behind stands between us and the room.
    const there = parts.slice(0, shown).filter((part) => !open || !part.face || dot(part.face, less(from, part.at)) > 0);
    gl.useProgram(skin.made);
    gl.uniformMatrix4fv(skin.at("seen"), false, seen);
    gl.uniform3fv(skin.at("low"), low);
    gl.uniform1f(skin.at("grain"), step);
    gl.uniform3fv(skin.at("lamp"), lamp);
    gl.bindVertexArray(skins);
    const tone = skin.at("tone"), latest = shown < parts.length ? parts[shown - 1] : null;
    for (const part of there) {
      gl.uniform3fv(tone, part === latest ? [0.93, 0.5, 0.2] : part.tone);
      gl.drawElements(gl.TRIANGLES, part.skin[1], many, part.skin[0] * index.BYTES_PER_ELEMENT);
    }
    gl.enable(gl.BLEND);
    gl.blendFunc(gl.SRC_ALPHA, gl.ONE_MINUS_SRC_ALPHA);
    gl.useProgram(line.made);
    gl.uniformMatrix4fv(line.at("seen"), false, seen);
    gl.uniform3fv(line.at("low"), low);
    gl.uniform1f(line.at("grain"), step);
    gl.uniform3fv(line.at("from"), from);
    gl.uniform4f(line.at("ink"), 0.22, 0.17, 0.12, 0.6);
    gl.bindVertexArray(lines);
    for (const part of there) if (part.lines[1]) gl.drawArrays(gl.LINES, ...part.lines);
    gl.uniform3f(line.at("low"), 0, 0, 0);
    gl.uniform1f(line.at("grain"), 1);
    gl.uniform4f(line.at("ink"), 0.48, 0.23, 0.06, 0.7);
    gl.bindVertexArray(frame);
    gl.drawArrays(gl.LINES, 0, rim.length / 3);
  };
  let waiting = 0;
  const draw = () => { waiting ||= requestAnimationFrame(() => { waiting = 0; paint(); }); };

  // ---- hands and keys ----
  const go = (round, up, nearer = 1) => {
    stand.round += round;
    stand.up = clamp(stand.up + up, 0.02, Math.PI - 0.02);
    stand.far = clamp(stand.far * nearer, 0.4 * far, 6 * far);
    draw();
  };
  const fingers = new Map();
  canvas.addEventListener("pointerdown", (event) => {
    canvas.setPointerCapture(event.pointerId);
    fingers.set(event.pointerId, [event.clientX, event.clientY]);
  });
  canvas.addEventListener("pointermove", (event) => {
    const before = fingers.get(event.pointerId), now = [event.clientX, event.clientY];
    if (!before) return;
    if (fingers.size === 1) go(-0.008 * (now[0] - before[0]), -0.008 * (now[1] - before[1]));
    else {
      const other = [...fingers].find(([id]) => id !== event.pointerId)[1];
      go(0, 0, Math.hypot(...less(before, other)) / Math.max(1, Math.hypot(...less(now, other))));
    }
    fingers.set(event.pointerId, now);
  });
  for (const end of ["pointerup", "pointercancel"]) canvas.addEventListener(end, (event) => fingers.delete(event.pointerId));
  canvas.addEventListener("wheel", (event) => {
    if (document.activeElement !== canvas) return;  // else the page is being scrolled past
    event.preventDefault();
    go(0, 0, Math.exp(0.001 * event.deltaY));
  }, { passive: false });
  canvas.addEventListener("keydown", (event) => {
    const moved = {
      ArrowLeft: [-0.09, 0], ArrowRight: [0.09, 0], ArrowUp: [0, -0.07], ArrowDown: [0, 0.07],
      "+": [0, 0, 0.92], "=": [0, 0, 0.92], "-": [0, 0, 1.08],
    }[event.key];
    if (!moved || event.ctrlKey || event.metaKey || event.altKey) return;
    event.preventDefault();
    go(...moved);
  });
  for (const button of turn.querySelectorAll("button"))
    button.addEventListener("click", () => { stand = { ...stands[button.value] }; draw(); });
  const through = turn.querySelector("input[type=checkbox]"), until = turn.querySelector("input[type=range]"), told = turn.querySelector("output");
  const tell = () => {
    open = through.checked;
    shown = until.valueAsNumber;
    told.value = shown < parts.length ? `${shown} of ${parts.length}, the last ${parts[shown - 1].id}` : `all ${parts.length}`;
    until.setAttribute("aria-valuetext", told.value);
    draw();
  };
  through.addEventListener("change", tell);
  until.addEventListener("input", tell);
  canvas.addEventListener("webglcontextlost", () => { place.classList.remove("live"); turn.hidden = true; });
  new ResizeObserver(draw).observe(canvas);

  turn.hidden = false;
  place.classList.add("live");
  tell();
})();
