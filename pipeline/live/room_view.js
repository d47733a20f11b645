// Two views of one room. The imagined room lies on the graphics card; the relief is the matrix that shapes it there.
import { OrbitControls, THREE } from "nicegui-scene";

const SHAPE = `
  uniform mat4 relief; uniform mat4 reach; uniform float apron;
  vec3 shaped(vec3 imagined) {
    vec4 q = reach * vec4(imagined, 1.0);
    if (q.y > apron) q = relief * q;   // before the apron's end the room is built true
    return q.xyz / q.w;
  }`;
const SKIN_VERTEX = `${SHAPE}
  attribute vec4 tone; varying vec3 shade; varying vec3 place;
  void main() {
    vec3 p = shaped(position);
    shade = tone.rgb; place = p;
    gl_Position = projectionMatrix * viewMatrix * vec4(p, 1.0);
  }`;
// A lamp at the eye's shoulder: flat facets by the slope of the built surface itself.
const SKIN_FRAGMENT = `
  uniform vec3 lamp; varying vec3 shade; varying vec3 place;
  void main() {
    vec3 n = normalize(cross(dFdx(place), dFdy(place)));
    float lit = 0.52 + 0.48 * abs(dot(n, normalize(lamp - place)));
    gl_FragColor = vec4(shade * lit, 1.0);
  }`;
const LINE_VERTEX = `${SHAPE}
  uniform float nearer;
  void main() {
    gl_Position = projectionMatrix * viewMatrix * vec4(shaped(position), 1.0);
    gl_Position.z -= nearer * gl_Position.w;
  }`;
const LINE_FRAGMENT = `uniform vec4 ink; void main() { gl_FragColor = ink; }`;

// Share of the pixels' width; whether the guide lines are drawn in either pane, and whether the edges of the sheets.
const COARSE = [
  [1, true, true, true], [0.7, true, true, true], [0.6, false, true, true], [0.5, false, false, true], [0.4, false, false, false], [0.28, false, false, false],
];

// The two panes, to be drawn together or one alone: walking round leaves the view from the eye as it is.
const BENCH = 1, LOOK = 2, BOTH = 3;

const clamp = (value, low, high) => Math.min(high, Math.max(low, value));

// The formula of DEVELOPERS.md, "Frames": rows as there.
export function reliefOf({ eye, apron, apparent, built }) {
  const [ex, ey, ez] = eye, D = apron - ey, L = apparent - apron, d = built - apron;
  const a = (L - d) / (L * (D + d)), b = (d * (L + D)) / (L * (D + d)), w0 = 1 - a * apron;
  return [
    1, a * ex, 0, ex * (w0 - 1),
    0, b + a * apron, 0, apron * (w0 - b),
    0, a * ez, 1, ez * (w0 - 1),
    0, a, 0, w0,
  ];
}

// From the room as it was sent to the room as it is wished, until that is sent: a longer hall is a stretched one.
export function reachOf(base, wish) {
  const [wide, high] = base.grows.map((grows) => (grows ? base.scale / wish.scale : 1));
  const long = (wish.apparent - wish.apron) / (base.apparent - base.apron);
  return [
    wide, 0, 0, 0,
    0, long, 0, wish.apron - long * base.apron,
    0, 0, high, wish.floor - high * base.floor,
    0, 0, 0, 1,
  ];
}

// Of eye distance, apparent depth and back scale two are given; what is solved follows the others.
export function wishOf(now, value, given) {
  const scale = value["space.scale"], apron = now.apron, d = now.built - apron, s = now.back_scale;
  let distance = value["eye.distance"], apparent = (value["space.depth"] * 1000) / scale;
  if (s !== null && !given["eye.distance"]) {
    const L = apparent - apron;
    distance = s * L > d ? (s * L - d) / (1 - s) - apron : -now.eye[1];
  } else if (s !== null) {
    apparent = (distance + apron + d) / s - (distance + apron) + apron;
  }
  apparent = Math.max(apparent, now.built);
  return { ...now, scale, apparent, eye: [value["eye.right"], -distance, value["eye.height"]] };
}

export default {
  template: `
    <div class="views">
      <div class="stage" ref="stage">
        <canvas ref="canvas" aria-hidden="true"></canvas>
        <div class="pane" ref="bench" tabindex="0" role="application"
             aria-label="The built box. Arrow keys walk round it, plus and minus come nearer or go back. The eye can be dragged with the pointer."
             @keydown="walk"><span class="name">The built box <small>drag to walk round it; drag the ring to move the eye</small></span></div>
        <div class="pane" ref="look" role="img" aria-label="What is seen from the eye, or from beside it">
          <span class="name">{{ aside === 0 ? "From the eye" : Math.abs(aside) + " mm to the " + (aside > 0 ? "right" : "left") + " of the eye" }}
          <small v-if="aside !== 0 && ghost">orange: the imagined room from there</small></span></div>
      </div>
      <p v-if="trouble" class="trouble" role="alert">{{ trouble }}</p>
      <div class="knobs">
        <div v-for="knob in knobs" :key="knob.key" class="knob" :class="{ moved: knob.moved }">
          <label :for="'knob-' + knob.key">{{ knob.label }}<span v-if="!knob.given"> (solved)</span></label>
          <input type="range" :id="'knob-' + knob.key" :data-key="knob.key" :min="knob.low" :max="knob.high" :step="knob.step"
                 :value="values[knob.key]" :disabled="!knob.given" @input="turn(knob, $event.target.valueAsNumber)">
          <input type="number" :aria-label="knob.label + (knob.unit ? ', ' + knob.unit : '')" :min="knob.low" :max="knob.high"
                 :step="knob.step" :value="typed[knob.key] ?? tidy(values[knob.key])" :disabled="!knob.given"
                 @input="typed[knob.key] = $event.target.value" @change="delete typed[knob.key]; turn(knob, $event.target.valueAsNumber)">
          <span class="unit">{{ knob.unit }}</span>
        </div>
        <div class="knob aside">
          <label for="knob-aside">What one step aside sees</label>
          <input type="range" id="knob-aside" min="-150" max="150" step="1" :value="aside" @input="aside = $event.target.valueAsNumber; redrawLook()">
          <input type="number" aria-label="Step aside, mm" min="-150" max="150" step="1" :value="aside" @change="aside = clampTo($event.target.valueAsNumber); redrawLook()">
          <span class="unit">mm</span>
          <label class="ghost"><input type="checkbox" v-model="ghost" @change="redrawLook()"> with the imagined room</label>
        </div>
      </div>
    </div>`,

  props: { room: Object },

  data() {
    return { values: {}, typed: {}, knobs: [], aside: 0, ghost: true, trouble: "" };
  },

  watch: {
    room() { this.take(); },
  },

  mounted() {
    this.epoch = -1;
    this.base = null;
    this.held = {};
    this.frames = [];
    this.wanted = 0;
    this.coarse = 0;
    this.turned = {};
    try {
      this.light();
    } catch (error) {
      this.trouble = "This browser gives no 3D graphics (WebGL), so both views stay empty; everything else works. " + error.message;
    }
    this.take();
  },

  unmounted() {
    this.watcher?.disconnect();
    this.renderer?.dispose();
  },

  methods: {
    tidy(value) { return value === undefined ? "" : Number(value.toFixed(3)); },
    clampTo(value) { return Number.isFinite(value) ? clamp(value, -150, 150) : 0; },

    // Everything three.js holds stays out of Vue's reach: plain fields, never data().
    light() {
      const renderer = new THREE.WebGLRenderer({
        canvas: this.$refs.canvas, antialias: false, powerPreference: "high-performance",
        preserveDrawingBuffer: true,  // a pane that is not drawn anew stays as it was
      });
      this.renderer = renderer;
      renderer.autoClear = false;
      const shared = {
        relief: { value: new THREE.Matrix4() }, reach: { value: new THREE.Matrix4() }, apron: { value: 0 },
        lamp: { value: new THREE.Vector3() },
      };
      const line = (ink, nearer, uniforms) => new THREE.ShaderMaterial({
        vertexShader: LINE_VERTEX, fragmentShader: LINE_FRAGMENT, transparent: true,
        uniforms: { ...uniforms, ink: { value: new THREE.Vector4(...ink) }, nearer: { value: nearer } },
      });
      this.shared = shared;
      this.skin = new THREE.ShaderMaterial({ vertexShader: SKIN_VERTEX, fragmentShader: SKIN_FRAGMENT, uniforms: shared, side: THREE.DoubleSide });
      this.ink = line([0.22, 0.17, 0.12, 0.75], 0.00004, shared);
      const unshaped = { ...shared, relief: { value: new THREE.Matrix4() } };
      this.believed = line([0.84, 0.3, 0.0, 1.0], 0.0002, unshaped);
      this.hider = new THREE.ShaderMaterial({ vertexShader: SKIN_VERTEX, fragmentShader: SKIN_FRAGMENT, uniforms: unshaped, side: THREE.DoubleSide, colorWrite: false });
      this.scene = new THREE.Scene();
      this.ghosts = new THREE.Scene();
      this.marks = new THREE.Scene();
      this.walker = new THREE.PerspectiveCamera(32, 1, 5, 20000);
      this.walker.up.set(0, 0, 1);
      this.viewer = new THREE.PerspectiveCamera();
      this.viewer.matrixAutoUpdate = false;
      this.controls = new OrbitControls(this.walker, this.$refs.bench);
      this.controls.enablePan = false;
      this.controls.addEventListener("change", () => this.draw(BENCH));
      this.grip();
      this.watcher = new ResizeObserver(() => this.draw());
      this.watcher.observe(this.$refs.stage);
    },

    // What the session knows. Knobs that are being turned here keep their place until the file takes over.
    async take() {
      const room = this.room;
      if (!room || !room.now) return;
      this.knobs = room.knobs;
      this.now = room.now;
      if (this.epoch !== room.epoch) {
        this.epoch = room.epoch;
        this.values = {};
        this.typed = {};
        this.untold?.clear();
      }
      const before = performance.now() - 1500;
      for (const knob of room.knobs)
        if (!(knob.key in this.values) || !knob.given || !(this.turned[knob.key] > before)) this.values[knob.key] = knob.value;
      if (!this.renderer) return;
      if (room.base) await this.load(room);
      if (this.base && this.boxed !== this.now.box.join()) this.stand();
      this.draw();
    },

    async load(room) {
      this.asked = room.buffers.join();
      const found = await Promise.all(room.buffers.map((name) => this.held[name] ?? this.fetched(name)));
      if (this.asked !== room.buffers.join() || found.includes(null)) return;
      for (const [name, held] of Object.entries(this.held)) {
        if (room.buffers.includes(name)) continue;
        held.skin.dispose();
        held.lines.dispose();
        held.edges?.dispose();
        delete this.held[name];
      }
      this.scene.clear();
      this.ghosts.clear();
      this.lines = [];
      room.buffers.forEach((name, number) => {
        const held = (this.held[name] = found[number]);
        const lines = new THREE.LineSegments(held.lines, this.ink);
        const skin = new THREE.Mesh(held.skin, this.skin);
        this.scene.add(skin, lines);
        if (number === 1) this.edges = skin;
        this.lines.push(lines);
      });
      this.scene.traverse((thing) => { thing.frustumCulled = false; });  // where things are, only the card knows
      this.base = room.base;
    },

    async fetched(name) {
      const answer = await fetch("buffers/" + name);
      if (!answer.ok) return null;
      const bytes = await answer.arrayBuffer();
      const [vertices, triangles, ends] = new Uint32Array(bytes, 0, 4);
      let at = 16;
      const part = (kind, count) => { const view = new kind(bytes, at, count); at += view.byteLength; return view; };
      const skin = new THREE.BufferGeometry(), lines = new THREE.BufferGeometry();
      skin.setAttribute("position", new THREE.BufferAttribute(part(Float32Array, 3 * vertices), 3));
      skin.setAttribute("tone", new THREE.BufferAttribute(part(Uint8Array, 4 * vertices), 4, true));
      skin.setIndex(new THREE.BufferAttribute(part(Uint32Array, 3 * triangles), 1));
      lines.setAttribute("position", new THREE.BufferAttribute(part(Float32Array, 3 * ends), 3));
      return { skin, lines };
    },

    // First look at the box: from the right and above, all of it and the eye in sight.
    stand() {
      const { box, eye } = this.now, [width, height, depth] = box;
      if (this.boxed === undefined) {
        this.controls.target.set(0, 0.4 * eye[1], height / 2);
        const far = 2.1 * Math.max(width, height, depth - eye[1]);
        this.walker.position.set(0.8 * far, 0.45 * eye[1] - 0.3 * far, height / 2 + 0.4 * far);
      }
      this.boxed = box.join();
      this.marks.clear();
      const corners = [];
      for (const x of [-width / 2, width / 2]) for (const y of [0, depth]) for (const z of [0, height]) corners.push([x, y, z]);
      const edges = [[0, 1], [2, 3], [4, 5], [6, 7], [0, 2], [1, 3], [4, 6], [5, 7], [0, 4], [1, 5], [2, 6], [3, 7]];
      const box3d = new THREE.BufferGeometry().setFromPoints(edges.flat().map((n) => new THREE.Vector3(...corners[n])));
      this.marks.add(new THREE.LineSegments(box3d, new THREE.LineBasicMaterial({ color: 0x55524b })));
      this.rays = new THREE.LineSegments(new THREE.BufferGeometry(), new THREE.LineBasicMaterial({ color: 0x7a3a10, transparent: true, opacity: 0.55 }));
      this.rays.frustumCulled = false;
      this.ball = new THREE.Mesh(new THREE.SphereGeometry(5, 20, 14), new THREE.MeshBasicMaterial({ color: 0x7a3a10 }));
      this.ring = new THREE.Mesh(new THREE.TorusGeometry(10, 1.3, 8, 32), new THREE.MeshBasicMaterial({ color: 0x7a3a10 }));
      this.marks.add(this.rays, this.ball, this.ring);
      this.controls.update();
    },

    given() { return Object.fromEntries(this.knobs.map((knob) => [knob.key, knob.given])); },
    wish() { return wishOf(this.now, this.values, this.given()); },
    // The matrix as it stands on the card, row by row.
    matrix() { return reliefOf(this.wish()); },

    turn(knob, value) {
      if (!Number.isFinite(value) || !knob.given) return;
      const steps = Math.round(clamp(value, knob.low, knob.high) / knob.step);
      this.values = { ...this.values, [knob.key]: Number((steps * knob.step).toFixed(4)) };
      this.turned[knob.key] = performance.now();
      this.tell(knob.key);
      this.draw();
    },

    // At most one message every 60 ms for each knob, and always the last.
    tell(key) {
      this.untold ??= new Set();
      this.untold.add(key);
      if (this.telling) return;
      const send = () => {
        if (this.untold.size === 0) { this.telling = null; return; }
        for (const name of this.untold) this.$emit("moved", { key: name, value: this.values[name], epoch: this.epoch });
        this.untold.clear();
        this.telling = setTimeout(send, 60);
      };
      this.telling = setTimeout(send, 0);
    },

    walk(event) {
      const turns = { ArrowLeft: [-0.08, 0], ArrowRight: [0.08, 0], ArrowUp: [0, -0.06], ArrowDown: [0, 0.06] }[event.key];
      const nearer = { "+": 0.92, "=": 0.92, "-": 1.08 }[event.key];
      if (!this.controls || (!turns && !nearer)) return;
      event.preventDefault();
      const way = this.walker.position.clone().sub(this.controls.target);
      if (nearer) way.multiplyScalar(nearer);
      else {
        const round = Math.atan2(way.y, way.x) + turns[0], up = clamp(Math.acos(way.z / way.length()) + turns[1], 0.05, 3.09), r = way.length();
        way.set(r * Math.sin(up) * Math.cos(round), r * Math.sin(up) * Math.sin(round), r * Math.cos(up));
      }
      this.walker.position.copy(this.controls.target).add(way);
      this.controls.update();
      this.draw(BENCH);
    },

    // The eye is caught within a fingertip of where it is seen, and goes in the plane that faces us.
    grip() {
      const pane = this.$refs.bench, ray = new THREE.Raycaster(), plane = new THREE.Plane(), hit = new THREE.Vector3();
      const at = (event) => {
        const rect = pane.getBoundingClientRect();
        return new THREE.Vector2((2 * (event.clientX - rect.left)) / rect.width - 1, 1 - (2 * (event.clientY - rect.top)) / rect.height);
      };
      let holding = false;
      const seen = () => new THREE.Vector3(...this.wish().eye).project(this.walker);
      pane.addEventListener("pointerdown", (event) => {
        if (!this.base) return;
        const rect = pane.getBoundingClientRect(), eye = seen(), mouse = at(event);
        if (Math.hypot(((eye.x - mouse.x) * rect.width) / 2, ((eye.y - mouse.y) * rect.height) / 2) > 22) return;
        holding = this.gripped = true;
        this.controls.enabled = false;
        pane.setPointerCapture(event.pointerId);
        plane.setFromNormalAndCoplanarPoint(this.walker.getWorldDirection(new THREE.Vector3()), new THREE.Vector3(...this.wish().eye));
      }, { capture: true });
      pane.addEventListener("pointermove", (event) => {
        if (!holding) return;
        ray.setFromCamera(at(event), this.walker);
        if (!ray.ray.intersectPlane(plane, hit)) return;
        const to = { "eye.distance": -hit.y, "eye.height": hit.z, "eye.right": hit.x };
        for (const knob of this.knobs) if (knob.key in to) this.turn(knob, to[knob.key]);
      });
      for (const end of ["pointerup", "pointercancel"])
        pane.addEventListener(end, () => { holding = this.gripped = false; this.controls.enabled = true; });
    },

    redrawLook() { this.draw(LOOK); },

    draw(panes = BOTH) {
      this.wanted |= panes;
      if (this.waiting || !this.renderer || !this.base) return;
      this.waiting = requestAnimationFrame(() => { this.waiting = null; this.paint(); });
    },

    paint() {
      const stage = this.$refs.stage, width = stage.clientWidth, height = stage.clientHeight;
      if (!width || !height) return;
      const size = this.renderer.getSize(new THREE.Vector2());
      const ratio = this.renderer.getPixelRatio(), [benchLines, lookLines] = this.ease();
      if (size.x !== width || size.y !== height) this.renderer.setSize(width, height, false);
      const panes = this.due(size.x !== width || size.y !== height || ratio !== this.renderer.getPixelRatio());
      const wish = this.wish(), eye = new THREE.Vector3(...wish.eye);
      this.shared.relief.value.set(...reliefOf(wish));
      this.shared.reach.value.set(...reachOf(this.base, wish));
      this.shared.apron.value = wish.apron;
      this.shared.lamp.value.set(eye.x - 0.25 * wish.box[0], eye.y, eye.z + 0.9 * wish.box[1]);
      this.renderer.setScissorTest(true);
      if (panes & BENCH) this.pane(this.$refs.bench, stage, () => {
        this.walker.aspect = this.$refs.bench.clientWidth / this.$refs.bench.clientHeight;
        this.walker.updateProjectionMatrix();
        this.ball.position.copy(eye);
        this.ring.position.copy(eye);
        this.ring.quaternion.copy(this.walker.quaternion);
        this.sight(eye, wish);
        for (const lines of this.lines) lines.visible = benchLines;
        this.renderer.render(this.scene, this.walker);
        this.renderer.render(this.marks, this.walker);
      });
      if (panes & LOOK) this.pane(this.$refs.look, stage, (place) => {
        this.aim(eye.clone().add(new THREE.Vector3(this.aside, 0, 0)), wish.box, this.$refs.look.clientWidth / this.$refs.look.clientHeight);
        for (const lines of this.lines) lines.visible = lookLines;
        this.renderer.render(this.scene, this.viewer);
        if (this.aside !== 0 && this.ghost) this.haunt(place, wish.box);
      });
      this.frames.push(performance.now());
      if (this.frames.length > 600) this.frames.shift();
    },

    // Which panes this frame is to draw: both where the buffer is new. At the two coarsest, what one does not look at while the
    // eye moves (the box at a knob, the view at the ring) comes at every second frame.
    due(anew) {
      const wanted = anew ? BOTH : this.wanted, coarsest = this.coarse >= COARSE.length - 2;
      this.wanted = 0;
      this.odd = !this.odd;
      return wanted === BOTH && !anew && coarsest && this.odd ? (this.gripped ? BENCH : LOOK) : wanted;
    },

    // The creases of the room believed in (not of the sheets' edges, which nobody imagined), hidden ones left out.
    haunt(place, box) {
      if (this.ghosts.children.length === 0) {
        const held = this.held[this.room.buffers[0]] ?? Object.values(this.held)[0];
        held.edges ??= new THREE.EdgesGeometry(held.skin, 35);
        this.ghosts.add(new THREE.Mesh(held.skin, this.hider), new THREE.LineSegments(held.edges, this.believed));
        for (const thing of this.ghosts.children) thing.frustumCulled = false;
        this.ghosts.children[0].renderOrder = -1;
      }
      // Only what the opening frames: the imagined passages beside the hall lie outside it.
      const { width, height } = place, corner = (x, z) => new THREE.Vector3(x, 0, z).project(this.viewer);
      const low = corner(-box[0] / 2, 0), high = corner(box[0] / 2, box[1]);
      this.renderer.setScissor(
        place.left + ((low.x + 1) / 2) * width, place.bottom + ((low.y + 1) / 2) * height,
        ((high.x - low.x) / 2) * width, ((high.y - low.y) / 2) * height);
      this.renderer.clearDepth();
      this.renderer.render(this.ghosts, this.viewer);
    },

    // While something moves and frames take too long, fewer pixels are drawn and then fewer lines; all when it rests.
    ease() {
      const now = performance.now(), since = now - (this.painted ?? 0);
      this.painted = now;
      if (since < 400) {
        // How long the first frame took, drawn whole, tells nothing of coarser ones.
        if (!this.moved && this.known) this.coarse = this.known;
        else this.pace = 0.7 * (this.pace ?? 30) + 0.3 * since;
        if (this.pace > 33 && this.coarse < COARSE.length - 1) {
          this.coarse = Math.min(COARSE.length - 1, this.coarse + (this.pace > 45 ? 2 : 1));
          this.pace = 30;
        }
        this.moved = true;
      }
      clearTimeout(this.resting);
      const { fine, rests } = this;
      this.fine = this.rests = false;
      if (!rests)
        this.resting = setTimeout(() => {
          if (this.moved) this.known = Math.max(0, this.coarse - 1);  // the next move tries one step finer
          // Where frames are cheap, twice as many pixels in place of jagged edges.
          this.fine = Math.max(this.coarse, this.known ?? 0) < 2;
          this.rests = true;
          this.moved = false;
          this.coarse = this.painted = 0;
          this.pace = 30;
          this.draw();
        }, 350);
      const [ratio, bench, look, edges] = COARSE[this.coarse];
      const pixels = fine ? 2 : Math.min(window.devicePixelRatio, 2) * ratio;
      if (this.renderer.getPixelRatio() !== pixels) this.renderer.setPixelRatio(pixels);
      this.edges.visible = edges;
      return [bench, look];
    },

    pane(element, stage, render) {
      const own = element.getBoundingClientRect(), all = stage.getBoundingClientRect();
      const place = { left: own.left - all.left, bottom: all.bottom - own.bottom, width: own.width, height: own.height };
      this.renderer.setViewport(place.left, place.bottom, place.width, place.height);
      this.renderer.setScissor(place.left, place.bottom, place.width, place.height);
      this.renderer.setClearColor(0xf1ede3);
      this.renderer.clear();
      render(place);
    },

    sight(eye, wish) {
      const [width, height] = wish.box, rim = [[-width / 2, 0], [width / 2, 0], [width / 2, height], [-width / 2, height]];
      this.rays.geometry.setFromPoints(rim.flatMap(([x, z]) => [eye, new THREE.Vector3(x, 0, z)]));
    },

    // A pinhole whose picture plane is the opening itself, square on, wherever it stands.
    aim(from, [width, height], aspect) {
      const margin = 0.03 * Math.max(width, height), D = Math.max(1, -from.y), near = D * 0.5, far = 40 * D + 20000;
      let across = width + 2 * margin, up = height + 2 * margin;
      if (across / up < aspect) across = up * aspect; else up = across / aspect;
      const k = near / D, middle = height / 2;
      this.viewer.projectionMatrix.makePerspective(
        (-across / 2 - from.x) * k, (across / 2 - from.x) * k, (middle + up / 2 - from.z) * k, (middle - up / 2 - from.z) * k, near, far);
      this.viewer.projectionMatrixInverse.copy(this.viewer.projectionMatrix).invert();
      this.viewer.matrix.makeBasis(new THREE.Vector3(1, 0, 0), new THREE.Vector3(0, 0, 1), new THREE.Vector3(0, -1, 0)).setPosition(from);
      this.viewer.matrixWorldNeedsUpdate = true;
      this.viewer.updateMatrixWorld(true);
    },
  },
};
