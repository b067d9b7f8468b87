// The map of the bench: the stroke as a point on what the string does over contact distance and weight.
// The studio computes and draws the map; here the point is moved, the state under it is looked up at once, and
// maps are asked for: a first look with every change, a closer one when the hand rests.

import { figures, words } from "./words.js";

const REST_MS = 450; // after the last change the hand rests
const AGAIN_MS = 1200; // while a bow is drawn a closer map waits
const REDRAW_PX = 24; // a drawing is made anew when the page's width has changed by this
const KEY_MM = 1;
const KEY_WEIGHT = 1.06;

export class BowMap {
  // moved(values, settled): the point was moved to these values; settled when the hand has let go.
  constructor(section, scene, { moved, isBowing }) {
    Object.assign(this, { section, moved, isBowing, data: scene.table ? scene : null, signs: scene.signs, held: null });
    this.unasked = false; // moved, and the string was not asked yet
    this.page = Math.random().toString(36).slice(2, 12);
    this.plate = section.querySelector("[data-map-plate]");
    this.dot = section.querySelector("[data-map-dot]");
    this.ring = section.querySelector("[data-map-kept]");
    this.state = section.querySelector("[data-map-state]");
    this.values = null;
    section.dataset.live = "";
    this.plate.addEventListener("pointerdown", (event) => this.down(event));
    this.plate.addEventListener("pointermove", (event) => this.move(event));
    for (const name of ["pointerup", "pointercancel"]) this.plate.addEventListener(name, (event) => this.up(event));
    this.plate.addEventListener("click", (event) => this.tap(event));
    this.dot.addEventListener("keydown", (event) => this.key(event));
    new ResizeObserver(() => this.resized()).observe(this.plate);
  }

  // Asking

  // A stroke that was asked for, and the one kept, as fields of an address.
  follow(fields) {
    const query = new URLSearchParams(fields).toString();
    if (query === this.asked) return;
    this.asked = query;
    if (!this.isAhead) this.values = { distance_mm: Number(fields.distance_mm), weight_n: Number(fields.weight_n) };
    this.show();
    this.look();
  }

  // First looks: one question at a time, the newest next; each is drawn, so that the map follows a control.
  async look() {
    this.waits = true;
    this.rest();
    if (this.looking) return;
    this.looking = true;
    while (this.waits) {
      this.waits = false;
      await this.fetch("first");
    }
    this.looking = false;
  }

  rest(after = REST_MS) {
    window.clearTimeout(this.resting);
    this.resting = window.setTimeout(() => this.lookCloser(), after);
  }

  async lookCloser() {
    if (this.isBowing() || this.held || this.looking) return this.rest(AGAIN_MS);
    if (this.data?.look === "closer" && !this.waits && this.drawn === this.asked) return undefined;
    const status = await this.fetch("closer");
    if (status === 503) this.rest(AGAIN_MS);
    return undefined;
  }

  async fetch(look) {
    const asked = this.asked;
    const more = new URLSearchParams({ look, wide: Math.round(this.plate.clientWidth), has: this.data?.id ?? "", page: this.page });
    try {
      const response = await fetch(`/bench/map?${asked}&${more}`, { headers: { Accept: "application/json" } });
      // A closer map of what was left meanwhile is not shown.
      if (response.ok) {
        const answer = await response.json();
        if (look === "first" || asked === this.asked) this.take(answer, asked);
      }
      return response.status;
    } catch {
      return 0; // the stroke's own question says that the studio cannot be reached
    }
  }

  take(answer, asked) {
    const { parts } = answer;
    const newest = asked === this.asked && !this.isAhead;
    if (parts.drawing) {
      this.data = answer;
      for (const name of ["drawing", "legend", "note"]) this.part(name).innerHTML = parts[name];
    }
    this.room(newest ? answer.room : "");
    this.data.kept_point = answer.kept_point;
    if (newest) {
      this.drawn = asked;
      for (const name of ["says", "points"]) this.part(name).innerHTML = parts[name];
      if (this.data.look !== "closer") this.rest();
    }
    this.show();
  }

  part(name) {
    return this.section.querySelector(`[data-map-part="${name}"]`);
  }

  resized() {
    if (!this.asked || !this.data) return undefined;
    if (Math.abs(this.plate.clientWidth - this.data.frame.width) < REDRAW_PX) return this.show();
    window.clearTimeout(this.sizing);
    this.sizing = window.setTimeout(() => this.look(), 80);
    return undefined;
  }

  // Whether the point is newer than any question.
  get isAhead() {
    return this.held !== null || this.unasked;
  }

  // Showing

  show() {
    this.dot.hidden = !this.data || !this.values;
    if (this.dot.hidden) return;
    this.lay(this.dot, this.values);
    const kept = this.data.kept_point;
    this.ring.hidden = !kept;
    if (kept) this.lay(this.ring, kept);
    const { distance_mm, weight_n } = this.values;
    const sign = this.signs[this.letter()];
    const said = `${sign}${distance_mm}|${weight_n}`;
    if (said === this.said) return;
    this.said = said;
    const spot = { distance: plain(distance_mm), weight: plain(weight_n) };
    this.state.innerHTML = `${sign} <span class="figures quiet"></span>`;
    this.state.lastElementChild.textContent = words("spot", spot);
    const word = this.state.firstElementChild.textContent.trim();
    const { farthest_mm } = this.data.frame;
    this.dot.setAttribute("aria-valuemax", farthest_mm);
    this.dot.setAttribute("aria-valuenow", distance_mm);
    this.dot.setAttribute("aria-valuetext", words("spot_aloud", { ...spot, state: word }));
  }

  lay(element, { distance_mm, weight_n }) {
    const { width, height, left, right, top, bottom, weights_n, farthest_mm, turned } = this.data.frame;
    const [low, high] = weights_n;
    const across = left + within(Math.log(weight_n / low) / Math.log(high / low), 0, 1) * (right - left);
    const way = within(distance_mm / farthest_mm, 0, 1) * (bottom - top);
    element.style.left = `${(100 * across) / width}%`;
    element.style.top = `${(100 * (turned ? top + way : bottom - way)) / height}%`;
  }

  room(path) {
    this.section.querySelector(".map-room")?.setAttribute("d", path);
  }

  letter() {
    const { rows, columns, states } = this.data.table;
    const { weights_n, farthest_mm } = this.data.frame;
    const [low, high] = weights_n;
    const row = within(Math.floor((this.values.distance_mm / farthest_mm) * rows), 0, rows - 1);
    const column = within(Math.floor((Math.log(this.values.weight_n / low) / Math.log(high / low)) * columns), 0, columns - 1);
    return states[row * columns + column];
  }

  // The hand

  limits(scene) {
    this.reach = scene.limits;
  }

  down(event) {
    if (event.button > 0 || this.held || !this.data) return;
    const onDot = event.target === this.dot;
    if (event.pointerType === "touch" && !onDot) return; // a finger beside the dot scrolls, or taps
    event.preventDefault();
    const box = this.dot.getBoundingClientRect();
    const offset = onDot ? [event.clientX - box.x - box.width / 2, event.clientY - box.y - box.height / 2] : [0, 0];
    this.held = { id: event.pointerId, offset };
    this.plate.setPointerCapture(event.pointerId);
    this.dot.focus({ preventScroll: true });
    this.section.classList.add("held");
    if (!onDot) this.move(event);
  }

  move(event) {
    if (event.pointerId !== this.held?.id) return;
    this.put(this.at(event.clientX - this.held.offset[0], event.clientY - this.held.offset[1]), false);
  }

  up(event) {
    if (event.pointerId !== this.held?.id) return;
    this.held = null;
    this.section.classList.remove("held");
    this.asked = ""; // asked again in any case: the room around the point is to be told
    this.moved(this.values, true);
  }

  tap(event) {
    if (!this.data || event.pointerType !== "touch" || event.target === this.dot) return;
    this.put(this.at(event.clientX, event.clientY), true);
  }

  at(clientX, clientY) {
    const { width, height, left, right, top, bottom, weights_n, farthest_mm, turned } = this.data.frame;
    const box = this.part("drawing").getBoundingClientRect();
    const x = ((clientX - box.x) / box.width) * width;
    const y = ((clientY - box.y) / box.height) * height;
    const [low, high] = weights_n;
    const way = (turned ? y - top : bottom - y) / (bottom - top);
    const weight_n = low * (high / low) ** ((x - left) / (right - left));
    return { distance_mm: Math.round(2 * way * farthest_mm) / 2, weight_n };
  }

  put({ distance_mm, weight_n }, settled) {
    const [near, far] = this.reach.distance_mm;
    const [light, heavy] = this.reach.weight_n;
    this.values = {
      distance_mm: within(Number(distance_mm.toFixed(1)), near, far),
      weight_n: Number(within(weight_n, light, heavy).toPrecision(2 + (weight_n >= 1))),
    };
    this.unasked = true;
    this.room("");
    this.show();
    this.moved(this.values, settled);
  }

  key(event) {
    if (event.ctrlKey || event.metaKey || event.altKey) return;
    const up = (this.data.frame.turned ? -1 : 1) * KEY_MM;
    const many = event.shiftKey ? 5 : 1;
    const steps = {
      ArrowUp: [up * many, 1],
      ArrowDown: [-up * many, 1],
      PageUp: [5 * up, 1],
      PageDown: [-5 * up, 1],
      ArrowRight: [0, KEY_WEIGHT ** many],
      ArrowLeft: [0, KEY_WEIGHT ** -many],
    };
    if (!(event.key in steps)) return;
    event.preventDefault();
    const [way, factor] = steps[event.key];
    this.put({ distance_mm: this.values.distance_mm + way, weight_n: this.values.weight_n * factor }, false);
  }
}

function within(value, low, high) {
  return Math.min(high, Math.max(low, value));
}

function plain(value) {
  return figures(Number(Number(value).toPrecision(3)));
}
