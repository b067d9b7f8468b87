// The String bench: every change of a control asks the studio what the string answers, and shows it.
// Without this script the form asks by itself and the pictures stand still.

import { Hand } from "./bench-hand.js";
import { BowMap } from "./bench-map.js";
import { moveString } from "./bench-motion.js";
import { Player } from "./bench-player.js";
import { words } from "./words.js";

const CURE_AFTER_MS = 350;
const PAUSE_MS = 120; // a point on the map that rests for so long is played
const VARIABLES = ["distance_mm", "speed_cm_s", "weight_n", "tilt_deg"];

const form = document.querySelector("[data-controls]");
const part = (name) => document.querySelector(`[data-part="${name}"]`);
const field = (name) => form.elements.namedItem(name);

let scene = JSON.parse(document.getElementById("scene").textContent);
let asking = false;
let next = null;
let cureTimer = 0;
let curing = false;
let strings = [];
let pausing = 0;

const player = new Player(document);
const hand = new Hand(document.querySelector("[data-hand]"), { player, changed: fromHand });
const map = new BowMap(document.querySelector("[data-map]"), JSON.parse(document.getElementById("map-scene").textContent), {
  moved: fromMap,
  isBowing: () => hand.running || hand.pointer !== null,
});

start();

function start() {
  swap(document);
  for (const range of form.querySelectorAll("[data-range]")) {
    const box = field(range.dataset.range);
    range.hidden = false;
    range.addEventListener("input", () => {
      box.value = range.value;
      ask();
    });
    box.addEventListener("input", () => {
      range.value = box.value;
      if (box.value !== "") ask();
    });
  }
  form.addEventListener("submit", (event) => {
    event.preventDefault();
    ask();
  });
  field("instrument").addEventListener("change", () => ask({ instrument: field("instrument").value }));
  field("size").addEventListener("change", () => {
    ask({ instrument: field("instrument").value, size: field("size").value, string: field("string").value });
  });
  field("string").addEventListener("change", () => {
    field("note").value = "";
    ask();
  });
  field("note").addEventListener("change", () => ask());
  form.querySelector("[data-keep]").addEventListener("click", keep);
  form.querySelector("[data-copy]").addEventListener("click", copy);
  form.querySelector("[data-run]").addEventListener("click", () => hand.toggleRun());
  document.addEventListener("click", follow);
  show(scene);
}

// What the controls say; numbers as typed, so that nothing is rounded on the way.
function fields() {
  const values = {};
  for (const name of ["instrument", "size", "string", "note", ...VARIABLES]) values[name] = field(name).value;
  return values;
}

// One question at a time; while it is under way only the newest waits.
async function ask(values = fields(), kept = scene.kept) {
  window.clearTimeout(pausing);
  map.unasked = false;
  next = { ...values, ...kept };
  if (VARIABLES.every((name) => next[name])) map.follow(next);
  if (asking) return;
  asking = true;
  while (next) {
    const query = new URLSearchParams(next).toString();
    next = null;
    const answer = await fetchJson(`/bench/answer?${query}`);
    if (!next && answer) take(answer);
  }
  asking = false;
}

async function fetchJson(address) {
  try {
    const response = await fetch(address, { headers: { Accept: "application/json" } });
    const answer = await response.json();
    complain(response.ok ? "" : answer.line);
    return response.ok ? answer : null;
  } catch {
    complain(words("unreachable"));
    return null;
  }
}

function complain(line) {
  const place = document.querySelector("[data-line]");
  place.textContent = line;
  place.hidden = !line;
}

function take(answer) {
  scene = answer;
  for (const [name, html] of Object.entries(answer.parts)) replace(name, html);
  history.replaceState(null, "", `/bench?${answer.query}`);
  window.clearTimeout(cureTimer);
  part("cure").hidden = true;
  if (!answer.clear) cureTimer = window.setTimeout(cure, CURE_AFTER_MS, answer.query);
  show(answer);
}

function replace(name, html) {
  const place = part(name);
  if (name === "says" && place.innerHTML.trim() === html.trim()) return; // said once, not at every change
  place.innerHTML = html;
  place.hidden = !html;
  swap(place);
}

// What only works with this script comes, what stands in for it goes.
function swap(place) {
  for (const element of place.querySelectorAll("[data-scripted]")) element.hidden = false;
  for (const element of place.querySelectorAll("[data-plain]")) element.hidden = true;
}

async function cure(query) {
  if (curing) {
    cureTimer = window.setTimeout(cure, CURE_AFTER_MS, query);
    return;
  }
  curing = true;
  const answer = await fetchJson(`/bench/cure?${query}`);
  curing = false;
  if (answer && query === scene.query) replace("cure", answer.html);
}

// Brings controls, words, moving strings and hand in line with the answer.
function show(answer) {
  for (const name of ["size", "string"]) offer(field(name), answer.choices[name]);
  map.limits(answer);
  map.follow({ ...answer.fields, ...answer.kept });
  const held = map.isAhead ? map.values : {}; // a point under the hand is newer than any answer
  for (const [name, value] of Object.entries({ ...answer.fields, ...held })) {
    const control = field(name);
    if (document.activeElement !== control || control.tagName === "SELECT") control.value = value;
  }
  for (const name of VARIABLES) {
    const range = form.querySelector(`[data-range="${name}"]`);
    const [low, high] = answer.limits[name];
    for (const control of [range, field(name)]) [control.min, control.max] = [low, high];
    if (document.activeElement !== range) range.value = held[name] ?? answer.fields[name];
    range.setAttribute("aria-valuetext", `${answer.fields[name]}, ${answer.words[name]}`);
    form.querySelector(`[data-word="${name}"]`).textContent = answer.words[name];
  }
  for (const string of strings) string.stop();
  strings = [moveString(part("picture"), answer.moving)];
  if (answer.kept_moving) {
    const [kept, own] = part("kept").querySelectorAll(".pair-one");
    strings.push(moveString(kept, answer.kept_moving), moveString(own, answer.moving));
  }
  hand.set(answer);
}

function offer(select, choices) {
  if ([...select.options].map((option) => option.value).join() === choices.map(([value]) => value).join()) return;
  select.replaceChildren(...choices.map(([value, label]) => new Option(label, value)));
}

function keep() {
  const kept = {};
  for (const [name, value] of Object.entries(scene.fields)) kept[`kept_${name}`] = value;
  ask(scene.fields, kept).then(() => part("kept").scrollIntoView({ block: "nearest" }));
}

// Links to settings, and buttons that come and go with an answer.
function follow(event) {
  const link = event.target.closest("[data-preset], [data-without]");
  if (link && event.button === 0 && !event.metaKey && !event.ctrlKey && !event.shiftKey) {
    event.preventDefault();
    const own = [...new URL(link.href).searchParams].filter(([name]) => !name.startsWith("kept_"));
    ask(Object.fromEntries(own), link.matches("[data-without]") ? {} : scene.kept);
    document.querySelector("[data-bench]").scrollIntoView({ block: "nearest" });
    return;
  }
  const button = event.target.closest("[data-hear], [data-hear-both]");
  if (!button) return;
  hand.stopRun();
  const own = [...form.querySelectorAll("[data-hear]")].includes(button);
  const address = own ? `/bench/sound.wav?${scene.query}` : button.dataset.hear;
  if (button.matches("[data-hear-both]")) {
    const pair = [...part("kept").querySelectorAll("[data-hear]")];
    player.play(pair.map((each) => ({ button: each, address: each.dataset.hear })));
  } else player.play([{ button, address }]);
}

async function copy() {
  const said = form.querySelector("[data-copied]");
  const address = new URL(`/bench?${scene.query}`, location.href).href;
  try {
    await navigator.clipboard.writeText(address);
    said.textContent = words("copied");
  } catch {
    said.textContent = words("copy_yourself");
  }
}

// A steady bow under the fingers of the keyboard changes the controls; their answer follows.
function fromHand(values) {
  put(values);
  ask();
}

// A point moved on the map: a running bow glides there at once, the answer comes when the hand pauses.
function fromMap(values, settled) {
  put(values);
  if (hand.running) {
    for (const [name, value] of Object.entries(values)) scene.fields[name] = String(value);
    hand.tellRun();
  }
  window.clearTimeout(pausing);
  pausing = window.setTimeout(() => ask(), settled ? 0 : PAUSE_MS);
}

function put(values) {
  for (const [name, value] of Object.entries(values)) {
    field(name).value = value;
    form.querySelector(`[data-range="${name}"]`).value = value;
  }
}
