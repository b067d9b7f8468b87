// Shows a talk one slide at a time: keys and clicker, sound, slow motion, notes here and in a second window.
import { partsOf, placeString } from "./string-frame.js";

const root = document.documentElement;
const talk = document.querySelector("[data-talk]");
const slides = [...talk.querySelectorAll("[data-slide]")].map((section) => ({
  section,
  key: section.id,
  title: section.dataset.title,
  steps: [...section.querySelectorAll("[data-step]")],
  scenes: [...section.querySelectorAll("figure[data-scene]")],
}));
const moving = JSON.parse(document.querySelector("#moving").textContent);
const controls = talk.querySelector("[data-controls]");
const blank = talk.querySelector("[data-blank]");
const loudness = controls.querySelector("[data-loudness]");
const act = (name) => controls.querySelector(`[data-do="${name}"]`);
const isNotes = location.hash === "#notes" && window.opener !== null;
let [slide, step] = [0, 0]; // step: a stroke; one beyond the last asks the question
let held = matchMedia("(prefers-reduced-motion: reduce)").matches;
let scene = null; // what moves now
let turn = 0; // 0 to 1, the share of its motion that has passed
let last = 0;
let sounding = null;
let other = null; // the second window, or the one that opened this

// Without a script each stroke has the browser's own player; with it, a button.
for (const { steps } of slides) {
  for (const item of steps) {
    const name = item.querySelector(".step-name");
    const button = document.createElement("button");
    button.type = "button";
    button.className = "step-name button";
    button.append(...name.childNodes);
    name.replaceWith(button);
    button.addEventListener("click", () => go(slide, steps.indexOf(item), true));
    item.querySelector("audio")?.addEventListener("ended", () => stopSound());
  }
}

function lastStep(index) {
  return slides[index].steps.length;
}

function go(toSlide, toStep, loud) {
  slide = Math.min(Math.max(toSlide, 0), slides.length - 1);
  step = Math.min(Math.max(toStep, 0), lastStep(slide));
  show(loud);
  tell();
}

function next() {
  const { section, steps } = slides[slide];
  if (steps.length && !section.dataset.begun) return go(slide, 0, true); // the first stroke has not been heard
  if (step < lastStep(slide)) return go(slide, step + 1, true);
  if (slide < slides.length - 1) return go(slide + 1, 0, false);
}

function back() {
  if (step > 0) return go(slide, step - 1, false);
  if (slide > 0) return go(slide - 1, lastStep(slide - 1), false);
}

function show(loud) {
  const now = slides[slide];
  stopSound();
  slides.forEach(({ section }, index) => {
    section.toggleAttribute("data-now", index === slide);
    if (index !== slide) delete section.dataset.begun;
  });
  const asking = now.steps.length > 0 && step === now.steps.length;
  now.section.classList.toggle("asking", asking);
  const at = now.steps[Math.min(step, now.steps.length - 1)];
  now.steps.forEach((item, index) => {
    item.toggleAttribute("data-now", item === at);
    const heard = index < step || (index === step && (loud || now.section.dataset.begun));
    item.toggleAttribute("data-heard", Boolean(heard));
  });
  now.scenes.forEach((figure) => figure.toggleAttribute("data-now", figure.dataset.scene === at?.dataset.scene));
  for (const spot of now.section.querySelectorAll("[data-spot]")) {
    spot.toggleAttribute("data-now", Number(spot.dataset.spot) === Math.min(step, now.steps.length - 1) + 1);
  }
  move(now, at);
  if (loud || step > 0) now.section.dataset.begun = "yes";
  if (loud && !asking) playSound();
  act("back").disabled = slide === 0 && step === 0;
  act("next").disabled = slide === slides.length - 1 && step === lastStep(slide);
  act("play").disabled = !soundHere();
  controls.querySelector("[data-count]").textContent = `${slide + 1}/${slides.length}`;
  const words = { n: slide + 1, count: slides.length, title: now.title };
  talk.querySelector("[data-said]").textContent = talk.dataset.placeWords.replace(/\{(\w+)\}/g, (_all, name) => words[name]);
  if (!isNotes) history.replaceState(null, "", `#${now.key}${step ? `.${step + 1}` : ""}`);
}

// Sound

// On a slide without strokes, the first: for setting the loudness.
function soundHere() {
  const { steps } = slides[slide];
  return steps.length ? steps[Math.min(step, steps.length - 1)].querySelector("audio") : talk.querySelector("audio");
}

function playSound() {
  const audio = soundHere();
  if (!audio || isNotes) return;
  stopSound();
  sounding = audio;
  audio.currentTime = 0;
  audio.volume = (loudness.value / 100) ** 2; // half the way is a quarter: even steps to the ear
  audio.play().catch(() => stopSound());
  act("play").setAttribute("data-playing", "");
}

function stopSound() {
  sounding?.pause();
  sounding = null;
  act("play").removeAttribute("data-playing");
}

function toggleSound() {
  if (sounding) return stopSound();
  slides[slide].steps[step]?.setAttribute("data-heard", "");
  slides[slide].section.dataset.begun = "yes";
  playSound();
}

// Motion

function move({ key, section }, item) {
  const data = item && moving[key]?.[item.dataset.scene];
  if (scene?.data === data) return;
  turn = held ? 0.15 : 0; // held still, a moment that shows something
  if (!data) {
    scene = null;
    return;
  }
  const figure = section.querySelector(`figure[data-scene="${item.dataset.scene}"]`);
  scene = { data, parts: partsOf(figure), head: figure.querySelector(".head"), point: figure.querySelector(".point") };
  place();
}

function place() {
  if (!scene) return;
  const { data, parts, head, point } = scene;
  if (data.ys) return placeString(parts, data, turn);
  const at = Math.min(Math.floor(turn * data.head.length), data.head.length - 1);
  head.setAttribute("cx", data.head[at][0]);
  head.setAttribute("cy", data.head[at][1]);
  point.setAttribute("cy", data.point[at]);
  for (const mark of parts.hair) mark.setAttribute("stroke-dashoffset", -data.hair[at]);
}

function run(now) {
  const passed = Math.min(now - last, 100);
  last = now;
  if (scene && !held && blank.hidden) {
    turn = (turn + passed / scene.data.ms) % 1;
    place();
  }
  requestAnimationFrame(run);
}

function hold(wanted) {
  held = wanted;
  act("hold").setAttribute("aria-pressed", String(held));
  controls.querySelector("[data-moments]").hidden = !held;
}

function moment(by) {
  hold(true);
  turn = (((turn + by / 48) % 1) + 1) % 1;
  place();
}

// Notes, the second window, the black screen

function notes() {
  const shown = root.classList.toggle("with-notes");
  act("notes").setAttribute("aria-pressed", String(shown));
  controls.querySelector("[data-audiences]").hidden = !shown;
}

function openWindow() {
  other = window.open(`${location.href.split("#")[0]}#notes`, "talk-notes", "popup,width=980,height=760");
}

function tell() {
  other?.postMessage({ talk: [slide, step] }, "*");
}

window.addEventListener("message", (event) => {
  if (!other || event.source !== other) return;
  if (event.data === "talk-ready") tell();
  else if (event.data === "talk-next") next();
  else if (event.data === "talk-back") back();
  else if (isNotes && Array.isArray(event.data?.talk)) {
    [slide, step] = event.data.talk.map(Number);
    show(false);
  }
});

function blacken() {
  blank.hidden = !blank.hidden;
  if (blank.hidden) return controls.querySelector("[data-do=next]").focus();
  stopSound();
  blank.focus();
}

function fullScreen() {
  if (document.fullscreenElement) document.exitFullscreen();
  else root.requestFullscreen?.();
}

const ask = (name) => () => (isNotes ? other.postMessage(`talk-${name}`, "*") : { next, back }[name]());
const doing = {
  next: ask("next"),
  back: ask("back"),
  play: toggleSound,
  hold: () => hold(!held),
  before: () => moment(-1),
  after: () => moment(1),
  notes,
  window: openWindow,
  blank: blacken,
  full: fullScreen,
};
const keys = {
  PageDown: "next", ArrowRight: "next", ArrowDown: "next", PageUp: "back", ArrowLeft: "back", ArrowUp: "back",
  " ": "play", b: "blank", ".": "blank", n: "notes", h: "hold", f: "full",
};

document.addEventListener("keydown", (event) => {
  const { key, target } = event;
  if (event.ctrlKey || event.metaKey || event.altKey) return;
  if (!blank.hidden) {
    event.preventDefault();
    return blacken();
  }
  if (key === "Escape") return stopSound();
  const page = key === "PageDown" || key === "PageUp";
  if (target.matches?.("input") && !page) return;
  if (target.matches?.("button, a, summary") && (key === " " || key === "Enter")) return;
  // What is read by scrolling is scrolled.
  if (target.matches?.(".notes") && !page && key.startsWith("Arrow")) return;
  let name = keys[key.length === 1 ? key.toLowerCase() : key];
  if (event.shiftKey && key === "ArrowRight") name = "after";
  else if (event.shiftKey && key === "ArrowLeft") name = "before";
  if (isNotes && name !== "next" && name !== "back") return;
  if (name) doing[name]();
  else if (/^[1-9]$/.test(key) && Number(key) <= slides[slide].steps.length) go(slide, Number(key) - 1, true);
  else if (key === "Home") go(0, 0, false);
  else if (key === "End") go(slides.length - 1, 0, false);
  else return;
  event.preventDefault();
});
for (const button of controls.querySelectorAll("[data-do]")) {
  button.addEventListener("click", () => doing[button.dataset.do]());
}
blank.addEventListener("click", blacken);
loudness.addEventListener("input", () => {
  if (sounding) sounding.volume = (loudness.value / 100) ** 2;
});
for (const choice of controls.querySelectorAll("[name=audience]")) {
  choice.addEventListener("change", () => {
    root.dataset.audience = choice.value;
  });
}

// In full screen the controls step aside while nobody points.
let rest = 0;
document.addEventListener("pointermove", () => {
  root.classList.remove("at-rest");
  clearTimeout(rest);
  rest = setTimeout(() => root.classList.add("at-rest"), 2500);
});

function begin() {
  root.classList.add("showing");
  root.dataset.audience = controls.querySelector("[name=audience]:checked")?.value ?? "parents";
  controls.hidden = false;
  hold(held);
  if (isNotes) {
    other = window.opener;
    root.classList.add("notes-window");
    controls.querySelector("[data-audiences]").hidden = false;
    show(false);
    other.postMessage("talk-ready", "*");
    return;
  }
  const [key, number] = location.hash.slice(1).split(".");
  const from = Math.max(0, slides.findIndex((each) => each.key === key));
  go(from, Math.max(0, Number(number || 1) - 1), false);
  requestAnimationFrame((now) => {
    last = now;
    run(now);
  });
}

begin();
