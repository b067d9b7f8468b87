// The bowing surface, drawn as the player sees it: bridge below and fingerboard above, for the cello turned.
// One unit of the drawing is one CSS px. Knows places and drawing, no sound.

import { words } from "./words.js";

const SVG = "http://www.w3.org/2000/svg";
const EDGE = 34; // room for the bridge and for the fingerboard's end, px
const MARKS_MM = 25;

export class Surface {
  constructor(root) {
    this.root = root;
    this.svg = root.appendChild(element("svg", { "aria-hidden": "true", focusable: "false" }));
    this.bow = root.appendChild(document.createElement("div"));
    this.bow.className = "hand-bow";
    this.marks = this.bow.appendChild(document.createElement("div"));
    this.width = this.height = this.half = 0;
    this.scene = null;
    new ResizeObserver(() => this.build()).observe(root);
  }

  set(scene) {
    this.scene = scene;
    this.width = 0;
    this.build();
  }

  build() {
    const width = Math.round(this.root.clientWidth);
    if (!this.scene || width === 0 || width === this.width) return;
    this.width = width;
    this.height = width < 480 ? Math.round(width * 1.15) : Math.min(460, Math.round(width * 0.72));
    this.svg.setAttribute("viewBox", `0 0 ${this.width} ${this.height}`);
    this.svg.replaceChildren();
    const { bowable_mm, choices, fields, hair_mm, ribbon_mm } = this.scene;
    const end = this.y(bowable_mm);
    const bridge = this.y(0);
    const middle = this.width / 2;
    const spread = Math.min(34, this.width / 14);
    const names = choices.string.map(([name]) => name);
    if (this.scene.turned) names.reverse();
    const [top, bottom] = this.scene.turned ? [end, this.height] : [0, end];
    this.add("path", "c-board", { d: `M${middle - 2.6 * spread} ${top}H${middle + 2.6 * spread}V${bottom}H${middle - 2.6 * spread}Z`, fill: "currentColor", "fill-opacity": 0.16 });
    for (let point = 1; point <= 5; point++) {
      const y = this.y(((point - 0.5) * bowable_mm) / 5);
      this.add("path", "c-line", { d: `M0 ${y}H${this.width - 24}`, stroke: "currentColor" });
      this.add("text", "c-quiet", { x: this.width - 8, y: y + 5, "font-size": 15, fill: "currentColor", "text-anchor": "end" }, String(point));
    }
    names.forEach((name, k) => {
      const x = middle + (k - (names.length - 1) / 2) * spread;
      const bowed = name === fields.string;
      this.add("path", bowed ? "c-ink" : "c-edge", { d: `M${x} 0V${this.height}`, stroke: "currentColor", "stroke-width": bowed ? 3 : 1, "stroke-opacity": bowed ? 1 : 0.6 });
      const y = this.scene.turned ? this.height - 8 : 18;
      this.add("text", bowed ? "c-ink" : "c-quiet", { x: x + 6, y, "font-size": 15, "font-weight": bowed ? 700 : 400, fill: "currentColor" }, name);
    });
    const bend = this.scene.turned ? -10 : 10;
    this.add("path", "c-rosin", { d: `M${middle - 3.4 * spread} ${bridge + bend}Q${middle} ${bridge - bend} ${middle + 3.4 * spread} ${bridge + bend}`, fill: "none", stroke: "currentColor", "stroke-width": 8, "stroke-linecap": "round" });
    this.add("text", "c-quiet", { x: 8, y: bridge + 5, "font-size": 15, fill: "currentColor" }, words("bridge"));
    this.add("text", "c-quiet", { x: 8, y: end + (this.scene.turned ? 18 : -8), "font-size": 15, fill: "currentColor" }, words("fingerboard"));
    this.half = Math.max(4, Math.abs(this.y(ribbon_mm) - this.y(0)) / 2);
    this.step = (MARKS_MM / hair_mm) * this.width;
    this.bow.style.height = `${2 * this.half}px`;
    this.marks.style.inset = `0 ${-this.step}px`;
    this.marks.style.backgroundSize = `${this.step}px 100%`;
    this.lay(Number(fields.distance_mm), 0, false);
  }

  add(name, kind, attributes, text) {
    const made = element(name, { ...attributes, class: kind });
    if (text !== undefined) made.textContent = text;
    this.svg.appendChild(made);
  }

  get farthest() {
    return this.scene.limits.distance_mm[1];
  }

  // Height in the drawing of a distance from the bridge, mm; and back.
  y(distance_mm) {
    const way = (distance_mm / this.farthest) * (this.height - EDGE - 4);
    return this.scene.turned ? EDGE + way : this.height - EDGE - way;
  }

  distance(y) {
    const way = this.scene.turned ? y - EDGE : this.height - EDGE - y;
    const [low, high] = this.scene.limits.distance_mm;
    return Math.min(high, Math.max(low, (way / (this.height - EDGE - 4)) * this.farthest));
  }

  // The whole surface is a whole bow.
  get metresPerPx() {
    return this.scene.hair_mm / 1000 / this.width;
  }

  // Lays the bow at a distance, moved along by so many m, on the string or lifted. Only moves what is drawn
  // already, so that it costs next to nothing while the sound is computed.
  lay(distance_mm, along_m, touching) {
    if (!this.half) return;
    const offset = (along_m / this.metresPerPx) % this.step;
    this.bow.style.transform = `translateY(${(this.y(distance_mm) - this.half).toFixed(1)}px)`;
    this.marks.style.transform = `translateX(${offset.toFixed(1)}px)`;
    this.bow.classList.toggle("touching", touching);
  }
}

function element(name, attributes) {
  const made = document.createElementNS(SVG, name);
  for (const [key, value] of Object.entries(attributes)) made.setAttribute(key, value);
  return made;
}
