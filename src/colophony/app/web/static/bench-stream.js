// A worker between the sound card and the studio: every question for samples leaves with the newest gesture.
// Apart from the page, so that drawing never keeps the sound waiting.

const REQUEST_BYTES = 24;
const RATE = 48000;
const SMOOTH_MS = 6; // how fast a gesture is followed
const RESTING_MS = 60; // a hand from which nothing comes stands still
const STATE_EVERY_MS = 400;
const TREMBLE_M = 0.0005;
const QUIET = 3e-4;
const RINGING_MS = 800;
const TURN_MS = 90; // of the steady bow, at the end of the hair

let socket = null;
let card = null; // port to the worklet
let number = 0;
let stamps = new Map(); // request -> stamps of the gestures that it answers
let wanted = { speed: 0, weight: 0, distance: 0.03, tilt: 0 };
let now = { ...wanted };
let run = null; // the steady bow
let place = 0; // on the hair, m
let way = 1;
let fresh = []; // stamps of gestures that no request has answered yet
let movedAt = 0;
let heardAt = 0;
let active = false;
let stateAt = 0;

onmessage = ({ data }) => {
  if (data.card) {
    card = data.card;
    card.onmessage = (event) => request(event.data.ask);
  } else if (data.open) open(data.open);
  else if (data.gesture) gesture(data.gesture, data.stamp);
  else if (data.run !== undefined) {
    run = data.run;
    if (run) wake();
    else wanted = { ...wanted, weight: 0 };
  }
};

function open(address) {
  socket?.close();
  const mine = new WebSocket(address);
  socket = mine;
  mine.binaryType = "arraybuffer";
  mine.onopen = () => postMessage({ open: true });
  mine.onmessage = ({ data }) => mine === socket && answer(data);
  mine.onclose = () => {
    if (mine !== socket) return;
    socket = null;
    sleep();
    postMessage({ closed: true });
  };
  stamps.clear();
  fresh = [];
  active = false;
  card?.postMessage({ active: false, fresh: true });
  mine.addEventListener("open", () => (run || wanted.weight > 0) && wake());
}

function gesture(values, stamp) {
  // A hand trembles along the string, and every move along it costs the engine: small ones wait.
  if (now.weight > 0 && Math.abs(values.distance - wanted.distance) < TREMBLE_M) values.distance = wanted.distance;
  wanted = values;
  movedAt = performance.now();
  fresh.push(stamp);
  if (values.weight > 0) wake();
}

function wake() {
  if (active || !card || socket?.readyState !== WebSocket.OPEN) return;
  active = true;
  heardAt = performance.now();
  card.postMessage({ active: true });
}

function sleep() {
  if (!active) return;
  active = false;
  card?.postMessage({ active: false });
}

function request(count) {
  if (socket?.readyState !== WebSocket.OPEN) return;
  const aim = run ? steady(count) : { ...wanted };
  if (!run && performance.now() - movedAt > RESTING_MS) aim.speed = 0;
  const share = 1 - Math.exp((-1000 * count) / RATE / SMOOTH_MS);
  for (const name of ["speed", "weight", "tilt"]) now[name] += (aim[name] - now[name]) * share;
  now.distance = aim.distance; // the engine glides
  if (now.weight < 0.002) now.weight = 0;
  const content = new DataView(new ArrayBuffer(REQUEST_BYTES));
  content.setUint32(0, ++number, true);
  content.setUint32(4, Math.min(count, 4096), true);
  [now.speed, now.weight, now.distance, now.tilt].forEach((value, i) => content.setFloat32(8 + 4 * i, value, true));
  if (fresh.length) stamps.set(number, fresh);
  fresh = [];
  socket.send(content.buffer);
  if (now.weight > 0 && performance.now() - stateAt > STATE_EVERY_MS) {
    stateAt = performance.now();
    socket.send("state");
  }
}

// Whole bows, one after the other: the bow turns where the hair ends.
function steady(count) {
  const seconds = count / RATE;
  const turning = (TURN_MS / 1000) * run.speed;
  place += way * run.speed * seconds;
  if (place > run.hair / 2) way = -1;
  if (place < -run.hair / 2) way = 1;
  const left = run.hair / 2 - way * place;
  const began = run.hair / 2 + way * place;
  const share = Math.sqrt(Math.min(1, Math.max(0.003, Math.min(left, began) / turning)));
  return { speed: way * run.speed * share, weight: run.weight, distance: run.distance, tilt: run.tilt };
}

function answer(data) {
  if (typeof data === "string") {
    const told = JSON.parse(data);
    if (told.line || told.state) postMessage(told);
    return;
  }
  const id = new DataView(data).getUint32(0, true);
  const heard = stamps.get(id) ?? [];
  stamps.delete(id);
  if (loudest(data) > QUIET || now.weight > 0) heardAt = performance.now();
  else if (performance.now() - heardAt > RINGING_MS) sleep();
  card.postMessage({ samples: data, stamps: heard }, [data]);
}

function loudest(data) {
  let peak = 0;
  for (const value of new Float32Array(data, 8)) peak = Math.max(peak, Math.abs(value));
  return peak;
}
