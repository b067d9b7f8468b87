// The form that sends a take: recorded here or chosen as a file. Without this script the file part works alone.

import { Recorder } from "./recorder.js";
import { figures, words } from "./words.js";

const QUIET_DB = -36; // peaks below: too quiet to tell tone from the room's noise
const LOUD_DB = -3; // peaks above: about to be cut off
const SILENT_DB = -60;
const WORD_HOLDS_MS = 700; // a word stays this long, so that it can be read, and read out
const PEAK_HOLDS_MS = 1500;

const form = document.querySelector("[data-take-form]");
if (form) new TakeForm(form).show("idle");

function TakeForm(form) {
  const part = (name) => form.querySelector(`[data-${name}]`);
  const input = form.querySelector("input[type=file]");
  const submit = form.querySelector("[data-submit]");
  let recorded = null;
  let sending = null;
  let starting = false;
  let peakAt = 0;
  let peak = 0;
  let word = null;
  let wordAt = 0;

  const recorder = new Recorder({
    limitSeconds: Number(form.dataset.limitS),
    tell: showLevel,
    ended: (why) => stop(why),
  });

  this.show = show;
  part("recorder").hidden = false;
  if (!Recorder.possible) {
    part("record").hidden = true;
    say(words("no_recorder"));
  }
  part("record").addEventListener("click", () => (recorder.running ? stop("person") : start()));
  part("discard").addEventListener("click", discard);
  part("cancel").addEventListener("click", () => sending?.abort());
  form.addEventListener("submit", send);
  input.addEventListener("change", () => {
    complain("");
    show(form.dataset.stage);
  });
  document.addEventListener("keydown", (event) => {
    if (event.key === "Escape" && recorder.running) stop("person");
  });
  window.addEventListener("beforeunload", (event) => {
    if (recorder.running || recorded || sending) event.preventDefault();
  });

  function show(stage) {
    form.dataset.stage = stage;
    part("record").hidden = !["idle", "recording"].includes(stage) || !Recorder.possible;
    part("record").setAttribute("aria-pressed", String(stage === "recording"));
    part("running").hidden = stage !== "recording";
    part("recorded").hidden = part("recorded-buttons").hidden = stage !== "recorded";
    part("sending").hidden = stage !== "sending";
    part("choose").hidden = stage !== "idle";
    submit.hidden = stage === "recording" || stage === "sending";
    submit.classList.toggle("second", stage === "idle" && !input.files.length); // Record is the first thing to do
    input.disabled = stage !== "idle";
  }

  function say(text) {
    part("said").textContent = text;
  }

  function complain(text) {
    part("alert").textContent = text;
    part("alert").hidden = !text;
  }

  // While the browser asks, further presses do nothing; the button keeps the focus, so the key that began ends.
  async function start() {
    if (starting) return;
    starting = true;
    complain("");
    say(words("asking"));
    try {
      await recorder.start();
    } catch (error) {
      say("");
      complain(refusal(error));
      return;
    } finally {
      starting = false;
    }
    [peak, peakAt, word, wordAt] = [0, 0, null, 0];
    say(words("recording"));
    show("recording");
  }

  async function stop(why) {
    if (!recorder.running) return;
    const { file, seconds } = await recorder.stop();
    if (seconds === 0) {
      show("idle");
      complain(words("nothing_came"));
      return;
    }
    const name = `take ${stamp(new Date())}.wav`;
    recorded = { file: new File([file], name, { type: "audio/wav" }), address: URL.createObjectURL(file) };
    part("playback").src = recorded.address;
    part("save").href = recorded.address;
    part("save").download = name;
    say(words(`ended_${why}`, { time: clock(seconds) }));
    show("recorded");
    part("playback").focus();
  }

  function discard() {
    part("playback").removeAttribute("src");
    part("playback").load();
    URL.revokeObjectURL(recorded.address);
    recorded = null;
    complain("");
    say(words("discarded"));
    show("idle");
    part("record").focus();
  }

  function send(event) {
    event.preventDefault();
    complain("");
    const file = recorded?.file ?? input.files[0];
    const limit = Number(form.dataset.limitBytes);
    if (!file) return complain(words("nothing_chosen"));
    if (file.size === 0) return complain(words("empty", { file: file.name }));
    if (file.size > limit) {
      return complain(words("too_large", { file: file.name, size: figures((limit / 1e9).toFixed(1)) }));
    }
    input.disabled = true; // the file is added by hand, once
    const fields = new FormData(form);
    fields.append("recording", file, file.name);
    const stage = recorded ? "recorded" : "idle";
    sending = new XMLHttpRequest();
    sending.open("POST", form.action);
    sending.setRequestHeader("Accept", "application/json");
    sending.responseType = "json";
    sending.upload.addEventListener("progress", (sent) => {
      if (sent.lengthComputable) part("sent").value = sent.loaded / sent.total;
    });
    const back = (text) => {
      sending = null;
      show(stage);
      say("");
      complain(text);
      submit.focus();
    };
    const kept = stage === "recorded" ? ` ${words("still_here")}` : "";
    sending.addEventListener("load", () => {
      const answer = sending.response;
      if (sending.status === 200 && answer?.go) {
        sending = recorded = null;
        location.assign(answer.go);
        return;
      }
      back((answer?.line ?? words("no_answer")) + kept);
    });
    sending.addEventListener("error", () => back(words("unreachable") + kept));
    sending.addEventListener("abort", () => back(words("not_sent") + kept));
    part("sent").value = 0;
    show("sending");
    say(words("sending"));
    part("cancel").focus();
    sending.send(fields);
    return undefined;
  }

  function showLevel({ seconds, peak: now }) {
    const at = performance.now();
    part("elapsed").textContent = clock(seconds);
    part("bar").style.inlineSize = `${Math.max(0, Math.min(100, (100 * (decibels(now) - SILENT_DB)) / -SILENT_DB))}%`;
    if (now >= peak || at - peakAt > PEAK_HOLDS_MS) [peak, peakAt] = [now, at];
    const next = levelWord(peak);
    if (next !== word && at - wordAt > WORD_HOLDS_MS) {
      [word, wordAt] = [next, at];
      part("level").dataset.level = next;
      part("level-word").textContent = words(next);
    }
  }
}

export function levelWord(peak) {
  if (peak >= 0.999) return "cut";
  const db = decibels(peak);
  if (db > LOUD_DB) return "loud";
  if (db > QUIET_DB) return "good";
  return db > SILENT_DB ? "quiet" : "silent";
}

function decibels(peak) {
  return peak > 0 ? 20 * Math.log10(peak) : -200;
}

function refusal(error) {
  const known = { NotAllowedError: "not_allowed", NotFoundError: "not_found", NotReadableError: "busy" };
  return words(known[error.name] ?? "not_started", { error: error.name });
}

function clock(seconds) {
  const whole = Math.floor(seconds);
  return `${Math.floor(whole / 60)}:${String(whole % 60).padStart(2, "0")}`;
}

function stamp(date) {
  const two = (value) => String(value).padStart(2, "0");
  return `${date.getFullYear()}-${two(date.getMonth() + 1)}-${two(date.getDate())} ${two(date.getHours())}-${two(date.getMinutes())}`;
}
