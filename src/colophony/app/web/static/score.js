// Page Score: plays the piece as planned, moves along the page while it sounds, and says of each stroke what it is.
// The sound comes in blocks, each computed while the one before is heard. Without this script the browser's own
// player plays the whole piece.

const AHEAD_S = 8; // blocks are fetched when so little is left
const LEAD_S = 0.15;
const SVG = "http://www.w3.org/2000/svg";

const scene = JSON.parse(document.getElementById("scene").textContent);
const player = document.querySelector("[data-player]");
const told = player.querySelector("[data-told]");
const answered = player.querySelector("[data-answer]");
const pieceButton = player.querySelector("[data-play-piece]");
const strokeButton = player.querySelector("[data-play-stroke]");
const drawings = [...document.querySelectorAll("[data-drawing]")];

let context = null;
let gain = null;
let chosen = -1;
let playing = null; // { button, sources, origin: context time of second 0, ends, stopped }

for (const element of document.querySelectorAll("[data-scripted]")) element.hidden = false;
for (const element of document.querySelectorAll("[data-plain]")) element.hidden = true;
widen();
followLoudness();
pieceButton?.addEventListener("click", () => playPiece());
strokeButton.addEventListener("click", () => playStroke(Math.max(chosen, 0)));
for (const button of player.querySelectorAll("[data-step]")) {
  button.addEventListener("click", () => {
    stop();
    choose(chosen < 0 ? 0 : chosen + Number(button.dataset.step), true);
  });
}
for (const drawing of drawings) {
  drawing.addEventListener("click", (event) => {
    const way = event.target.closest(".way");
    if (!way) return;
    stop();
    choose(Number(way.dataset.stroke));
    playStroke(chosen);
  });
}
document.addEventListener("click", (event) => {
  const link = event.target.closest("[data-stroke-link]");
  if (!link || event.button !== 0 || event.metaKey || event.ctrlKey || event.shiftKey) return;
  event.preventDefault();
  stop();
  choose(Number(link.dataset.strokeLink) - 1);
  playStroke(chosen);
});
document.addEventListener("keydown", (event) => event.key === "Escape" && stop());

// Gives every line that may be chosen a wide, unseen one to be hit.
function widen() {
  for (const way of document.querySelectorAll(".way")) {
    const line = way.querySelector("path");
    const reach = line.cloneNode();
    reach.setAttribute("class", "reach");
    way.append(reach);
  }
}

function followLoudness() {
  const loudness = document.querySelector("#loudness");
  const set = () => {
    document.querySelector("#loudness-now").textContent = `${loudness.value}\u00a0%`;
    if (gain) gain.gain.value = (loudness.value / 100) ** 2;
  };
  loudness.addEventListener("input", set);
  set();
}

function ready() {
  if (!context) {
    context = new AudioContext();
    gain = context.createGain();
    gain.gain.value = (document.querySelector("#loudness").value / 100) ** 2;
    gain.connect(context.destination);
  }
  context.resume();
}

// The stroke that the buttons mean, marked on the page and told in words.
function choose(index, seen = false) {
  chosen = Math.min(Math.max(index, 0), scene.strokes.length - 1);
  for (const way of document.querySelectorAll(".way.now")) way.classList.remove("now");
  const ways = document.querySelectorAll(`.way[data-stroke="${chosen}"]`);
  for (const way of ways) way.classList.add("now");
  told.textContent = scene.strokes[chosen].says;
  answered.replaceChildren();
  strokeButton.disabled = !scene.strokes[chosen].address;
  if (seen) [...ways].find((way) => way.getClientRects().length)?.scrollIntoView({ block: "center" });
}

function complain(line) {
  const place = player.querySelector("[data-line]");
  place.textContent = line;
  place.hidden = !line;
}

async function fetchSound(address) {
  const response = await fetch(address, { headers: { Accept: "application/json" } });
  if (!response.ok) throw new Error((await response.json()).line);
  return context.decodeAudioData(await response.arrayBuffer());
}

function begin(button) {
  stop();
  ready();
  complain("");
  button.setAttribute("data-playing", "");
  playing = { button, sources: [], origin: 0, ends: 0, stopped: false };
  told.setAttribute("aria-live", "off"); // not told over the music
  return playing;
}

function stop() {
  if (!playing) return;
  playing.stopped = true;
  for (const source of playing.sources) source.stop();
  playing.button.removeAttribute("data-playing");
  playing = null;
  told.setAttribute("aria-live", "polite");
  for (const line of document.querySelectorAll(".now-at")) line.remove();
}

function failed(run, error) {
  if (run.stopped) return;
  stop();
  complain(error instanceof TypeError ? player.dataset.unreachable : error.message);
}

function start(run, sound, at) {
  const source = new AudioBufferSourceNode(context, { buffer: sound });
  source.connect(gain);
  source.start(at);
  run.sources.push(source);
  run.ends = Math.max(run.ends, at + sound.duration);
}

async function playStroke(index) {
  const again = playing?.button === strokeButton;
  stop();
  const stroke = scene.strokes[index];
  if (again || !stroke?.address) return;
  choose(index);
  const run = begin(strokeButton);
  try {
    const sound = await fetchSound(stroke.address);
    if (run.stopped) return;
    const at = context.currentTime + LEAD_S;
    start(run, sound, at);
    run.origin = at - stroke.start_s;
    run.until = stroke.end_s;
    move(run);
    answer(index);
  } catch (error) {
    failed(run, error);
  }
}

// What the string did in a stroke that is heard: its sign and word, where that is told.
async function answer(index) {
  const response = await fetch(scene.strokes[index].address.replace(".wav", ".json"));
  if (!response.ok || index !== chosen) return;
  answered.innerHTML = (await response.json()).html;
}

async function playPiece() {
  const again = playing?.button === pieceButton;
  stop();
  if (again) return;
  const run = begin(pieceButton);
  const from = chosen > 0 && chosen < scene.strokes.length - 1 ? scene.strokes[chosen].start_s : 0;
  let number = scene.blocks.findLastIndex((block) => block.start_s <= from + 1e-6);
  number = Math.max(number, 0);
  try {
    for (; number < scene.blocks.length; number += 1) {
      const block = scene.blocks[number];
      const sound = await fetchSound(block.address);
      if (run.stopped) return;
      const earliest = context.currentTime + LEAD_S;
      if (run.sources.length === 0) {
        run.origin = earliest - block.start_s;
        run.until = Infinity;
        move(run);
      } else if (run.origin + block.start_s < earliest) {
        run.origin = earliest - block.start_s; // the block came late: all waits for it
      }
      start(run, sound, run.origin + block.start_s);
      while (!run.stopped && run.ends - context.currentTime > AHEAD_S) await pause(200);
      if (run.stopped) return;
    }
    run.until = scene.strokes[scene.strokes.length - 1].end_s;
  } catch (error) {
    failed(run, error);
  }
}

const pause = (ms) => new Promise((done) => setTimeout(done, ms));

// Moves a line along the music at the time that is heard, and marks the stroke that sounds.
function move(run) {
  if (run.stopped) return;
  const heard = context.currentTime - (context.outputLatency || 0) - run.origin;
  if (heard > run.until && context.currentTime > run.ends) {
    stop();
    return;
  }
  if (heard >= 0) {
    show(heard, run.button === pieceButton);
    const index = scene.strokes.findLastIndex((stroke) => stroke.start_s <= heard + 0.01);
    if (run.button === pieceButton && index >= 0 && index !== chosen) choose(index);
  }
  requestAnimationFrame(() => move(run));
}

function show(time, follows) {
  const drawing = drawings.find((one) => one.getClientRects().length);
  if (!drawing) return;
  const place = placeOf(scene.lines[drawing.dataset.drawing], time);
  let line = document.querySelector(".now-at");
  if (!place) return;
  const svg = drawing.children[place.line];
  if (!line || line.parentNode !== svg) {
    line?.remove();
    line = document.createElementNS(SVG, "line");
    line.setAttribute("class", "now-at");
    line.setAttribute("y1", 0);
    line.setAttribute("y2", svg.viewBox.baseVal.height);
    svg.append(line);
    if (follows) svg.scrollIntoView({ block: "center" });
  }
  line.setAttribute("x1", place.x);
  line.setAttribute("x2", place.x);
}

// Where on the page the piece is at a time: between the two moments around it.
function placeOf(lines, time) {
  for (let k = 0; k < lines.length; k += 1) {
    for (const run of lines[k]) {
      if (time < run[0][0] || time > run[run.length - 1][0]) continue;
      const next = Math.max(run.findIndex(([at]) => at > time), 1);
      const [[t0, x0], [t1, x1]] = [run[next - 1], run[next]];
      return { line: k, x: x0 + ((x1 - x0) * (time - t0)) / Math.max(t1 - t0, 1e-6) };
    }
  }
  return null;
}
