// Bowing by hand: pointer and keys become gestures, gestures become sound. The sound comes from a worker and
// a worklet; here is what the hand does, what is said about it, and how late it was heard.

import { Surface } from "./bench-surface.js";
import { figures, words } from "./words.js";

const RATE = 48000;
const OVER_MS = 22; // the hand's speed is its way over so long
const SAY_EVERY_MS = 200; // figures that change faster cannot be read
const KEPT = 4000; // measured delays

export class Hand {
  constructor(section, { player, changed }) {
    Object.assign(this, { section, player, changed, scene: null, running: false, ready: null, pointer: null });
    this.trail = [];
    this.delays = [];
    this.toCard = [];
    this.gaps = 0;
    this.lately = []; // when there were gaps, s of the sound's clock
    section.hidden = false;
    const plate = section.querySelector("[data-surface]");
    this.plate = plate;
    this.measures = section.querySelector("[data-measures]");
    this.surface = new Surface(plate);
    this.runButton = document.querySelector("[data-run]");
    this.weight = section.querySelector("#hand-weight");
    this.weight.addEventListener("input", () => this.sayWeight());
    for (const event of ["pointerenter", "focus"]) plate.addEventListener(event, () => this.prepare().catch(() => {}));
    plate.addEventListener("pointerdown", (event) => this.down(event));
    // Moves as the device sends them; a browser that only tells of them before it draws is 16 ms later.
    for (const event of ["pointerrawupdate", "pointermove"]) plate.addEventListener(event, (e) => this.move(e));
    for (const event of ["pointerup", "pointercancel", "lostpointercapture"]) plate.addEventListener(event, (e) => this.up(e));
    plate.addEventListener("keydown", (event) => this.key(event));
    document.addEventListener("keydown", (event) => event.key === "Escape" && this.stopRun());
    window.addEventListener("pagehide", () => this.stopRun());
    // For whoever measures from outside, such as a test: what was measured since it was last asked.
    window.colophonyDelays = () => {
      const measured = { toEar: this.delays, toCard: this.toCard, gaps: this.gaps, ready: this.readyMs };
      [this.delays, this.toCard] = [[], []];
      return measured;
    };
  }

  // Another string needs another voice; any other change glides.
  set(scene) {
    const before = this.scene;
    const same = before && ["instrument", "size", "string", "note"].every((name) => before.fields[name] === scene.fields[name]);
    this.scene = scene;
    this.surface.set(scene);
    const [low, high] = scene.limits.weight_n;
    [this.weight.min, this.weight.max] = [low, high];
    if (!before || before.fields.weight_n !== scene.fields.weight_n) this.weight.value = scene.fields.weight_n;
    this.sayWeight();
    if (!same && this.worker) this.open();
    if (this.running) this.tellRun();
  }

  sayWeight() {
    this.section.querySelector("#hand-weight-now").textContent = `${figures(Number(this.weight.value))}\u00a0N`;
  }

  // The sound's parts, made once at the first approach of hand or key.
  prepare() {
    this.ready ??= this.make().catch((error) => {
      this.ready = null;
      this.complain(words("no_sound", { error: error.name }));
      throw error;
    });
    return this.ready;
  }

  async make() {
    this.context = new AudioContext({ sampleRate: RATE, latencyHint: "interactive" });
    await this.context.audioWorklet.addModule(new URL("./bench-worklet.js", import.meta.url));
    const node = new AudioWorkletNode(this.context, "bow", { numberOfInputs: 0, outputChannelCount: [1] });
    const gain = new GainNode(this.context, { gain: 0 });
    node.connect(gain).connect(this.context.destination);
    this.player.onGain((value) => gain.gain.setTargetAtTime(value, this.context.currentTime, 0.02));
    this.worker = new Worker(new URL("./bench-stream.js", import.meta.url), { type: "module" });
    const { port1, port2 } = new MessageChannel();
    node.port.postMessage({ port: port1 }, [port1]);
    this.worker.postMessage({ card: port2 }, [port2]);
    this.worker.onmessage = ({ data }) => this.told(data);
    node.port.onmessage = ({ data }) => this.measure(data);
    this.open();
  }

  open() {
    this.connected = true;
    const { instrument, size, string, note, distance_mm } = this.scene.fields;
    const query = new URLSearchParams({ instrument, size, string, note, distance_mm });
    this.worker.postMessage({ open: new URL(`/bench/bow?${query}`, location.href.replace(/^http/, "ws")).href });
  }

  async begin() {
    await this.prepare();
    if (!this.connected) this.open();
    if (this.context.state !== "running") await this.context.resume();
    this.player.stop();
    this.complain("");
  }

  complain(line) {
    const place = this.section.querySelector("[data-hand-line]");
    place.textContent = line;
    place.hidden = !line;
  }

  told(data) {
    if (data.line) {
      this.stopRun();
      this.complain(data.line);
    }
    if (data.closed) this.connected = false;
    if (data.state && (this.running || this.pointer !== null)) this.sayState(data);
  }

  sayState({ state, html }) {
    const place = this.section.querySelector("[data-hand-state]");
    if (place.dataset.said === state) return;
    place.dataset.said = state;
    place.innerHTML = html;
  }

  // The pointer

  down(event) {
    if (this.pointer !== null || event.button > 0) return;
    this.stopRun();
    this.pointer = event.pointerId;
    this.box = this.plate.getBoundingClientRect(); // the surface takes the touch: nothing scrolls meanwhile
    this.plate.setPointerCapture(event.pointerId);
    this.plate.focus({ preventScroll: true });
    event.preventDefault();
    this.trail = [];
    this.begin();
    this.move(event);
  }

  move(event) {
    if (event.pointerId !== this.pointer) return;
    const box = this.box;
    const all = event.getCoalescedEvents?.() ?? [];
    const before = this.trail.at(-1)?.at ?? -Infinity;
    for (const one of all.length ? all : [event]) {
      if (one.timeStamp > before) this.trail.push({ x: one.clientX, at: one.timeStamp });
    }
    if (this.trail.at(-1).at <= before) return; // known from the other kind of event
    const last = this.trail.at(-1);
    while (this.trail.length > 2 && last.at - this.trail[1].at >= OVER_MS) this.trail.shift();
    const first = this.trail[0];
    const seconds = (last.at - first.at) / 1000;
    const speed = seconds > 0 ? ((last.x - first.x) * this.surface.metresPerPx) / seconds : 0;
    const pressed = event.pointerType === "pen" && event.pressure > 0 ? 2 * event.pressure : 1;
    const distance_mm = this.surface.distance(event.clientY - box.top - this.plate.clientTop);
    this.along = (last.x - box.left) * this.surface.metresPerPx;
    this.send({ speed, weight: pressed * this.weight.value, distance_mm, stamp: event.timeStamp });
  }

  up(event) {
    if (event.pointerId !== this.pointer) return;
    this.pointer = null;
    this.send({ speed: 0, weight: 0, distance_mm: this.now.distance_mm, stamp: event.timeStamp });
  }

  send({ speed, weight, distance_mm, stamp }) {
    this.now = { speed, weight, distance_mm };
    const gesture = { speed, weight, distance: distance_mm / 1000, tilt: Number(this.scene.fields.tilt_deg) };
    this.worker?.postMessage({ gesture, stamp });
    this.paint();
  }

  // Once a frame at most.
  paint() {
    this.painting ??= requestAnimationFrame(() => {
      this.painting = null;
      const { weight, distance_mm } = this.now;
      this.surface.lay(distance_mm, this.along ?? 0, weight > 0);
    });
    this.saying ??= setTimeout(() => {
      this.saying = null;
      const { speed, weight, distance_mm } = this.now;
      const say = (name, text) => (this.section.querySelector(`[data-now="${name}"]`).textContent = text);
      say("speed", `${Math.abs(100 * speed).toFixed(0)}\u00a0cm/s`);
      say("distance", `${distance_mm.toFixed(0)}\u00a0mm`);
      say("weight", `${figures(weight.toFixed(2))}\u00a0N`);
    }, SAY_EVERY_MS);
  }

  // The steady bow

  async toggleRun() {
    if (this.running) return this.stopRun();
    this.running = true;
    this.runButton.setAttribute("aria-pressed", "true");
    this.runButton.textContent = words("stop_run");
    await this.begin();
    return this.tellRun();
  }

  tellRun() {
    const { speed_cm_s, weight_n, distance_mm, tilt_deg } = this.scene.fields;
    const hair = this.scene.hair_mm / 1000;
    const run = { speed: speed_cm_s / 100, weight: Number(weight_n), distance: distance_mm / 1000, tilt: Number(tilt_deg), hair };
    if (this.running) this.worker?.postMessage({ run });
    this.now = { speed: run.speed, weight: run.weight, distance_mm: Number(distance_mm) };
    this.paint();
  }

  stopRun() {
    if (!this.running) return;
    this.running = false;
    this.runButton.setAttribute("aria-pressed", "false");
    this.runButton.textContent = words("run");
    this.worker?.postMessage({ run: null });
    this.now = { ...this.now, speed: 0, weight: 0 };
    this.paint();
  }

  key(event) {
    if (event.key === " " || event.key === "Enter") {
      event.preventDefault();
      this.toggleRun();
      return;
    }
    const up = this.scene.turned ? -1 : 1;
    const steps = {
      ArrowUp: ["distance_mm", (v) => v + up],
      ArrowDown: ["distance_mm", (v) => v - up],
      ArrowRight: ["speed_cm_s", (v) => v + 1],
      ArrowLeft: ["speed_cm_s", (v) => v - 1],
      "+": ["weight_n", (v) => v * 1.1],
      "-": ["weight_n", (v) => v / 1.1],
    };
    if (!(event.key in steps) || event.ctrlKey || event.metaKey || event.altKey) return;
    event.preventDefault();
    const [name, step] = steps[event.key];
    const [low, high] = this.scene.limits[name];
    const value = Number(Math.min(high, Math.max(low, step(Number(this.scene.fields[name])))).toPrecision(3));
    this.scene.fields[name] = String(value);
    if (name === "distance_mm") this.surface.lay(value, this.along ?? 0, this.running);
    if (this.running) this.tellRun();
    this.changed({ [name]: value });
  }

  // Delay: from the pointer's event to the first sample that was computed with it, at the sound card and,
  // with what the device adds as the browser says, at the ear.
  measure({ marks, gaps, ready }) {
    const now = this.context.currentTime;
    for (; this.gaps < gaps; this.gaps++) this.lately.push(now);
    this.lately = this.lately.filter((at) => now - at < 60);
    this.readyMs = ready;
    const heard = this.context.getOutputTimestamp();
    for (const { stamp, at, wall } of marks) {
      this.toCard.push(wall - performance.timeOrigin - stamp);
      if (heard.performanceTime > 0) this.delays.push(heard.performanceTime + 1000 * (at - heard.contextTime) - stamp);
    }
    this.toCard.splice(0, this.toCard.length - KEPT);
    this.delays.splice(0, this.delays.length - KEPT);
    if (!this.measures.open) return; // to sort them all would cost what the sound needs
    const say = (name, text) => (this.section.querySelector(`[data-latency="${name}"]`).textContent = text);
    const ms = (value) => (Number.isFinite(value) ? `${value.toFixed(0)}\u00a0ms` : "–");
    say("p50", ms(quantile(this.toCard, 0.5)));
    say("p95", ms(quantile(this.toCard, 0.95)));
    say("ready", ms(ready));
    say("device", ms(1000 * (this.context.outputLatency || this.context.baseLatency)));
    say("gaps", String(gaps));
    say("lately", String(this.lately.length));
  }
}

function quantile(values, share) {
  if (values.length === 0) return NaN;
  const sorted = [...values].sort((a, b) => a - b);
  return sorted[Math.min(sorted.length - 1, Math.floor(share * sorted.length))];
}
