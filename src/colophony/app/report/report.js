// Plays the strokes of the take that this page carries, and shows where it is. Without it the page still reads.
"use strict";
(() => {
  const sound = document.querySelector("audio");
  const buttons = [...document.querySelectorAll("[data-play]")];
  const pieces = [...document.querySelectorAll("svg[data-start]")];
  const WIDTH = 440;
  const MARK = new Intl.NumberFormat(document.documentElement.lang).format(1.1)[1];
  const strokes = buttons.map((button) => {
    const [start, end] = button.dataset.play.split(" ").map(Number);
    return { button, start, end, line: button.closest(".stroke") };
  });
  const whole = document.querySelector("#play-take");
  const place = document.querySelector("#place");
  let playing = null;

  for (const { button } of strokes) button.hidden = false;
  whole.hidden = false;
  document.documentElement.classList.add("can-play");

  function clock(seconds) {
    const tenths = Math.round(seconds * 10);
    return `${Math.floor(tenths / 600)}:${String(Math.floor((tenths % 600) / 10)).padStart(2, "0")}${MARK}${tenths % 10}`;
  }

  const mark = document.createElementNS("http://www.w3.org/2000/svg", "path");
  for (const [name, value] of Object.entries({ class: "playhead", stroke: "currentColor", "stroke-width": "2" })) {
    mark.setAttribute(name, value);
  }

  function show() {
    const now = sound.currentTime;
    if (Number.isFinite(sound.duration)) place.textContent = place.dataset.words.replace("{now}", clock(now)).replace("{whole}", clock(sound.duration));
    const piece = pieces.find((svg) => now >= Number(svg.dataset.start) && now < Number(svg.dataset.end));
    if (!piece || (sound.paused && now === 0)) return mark.remove();
    const start = Number(piece.dataset.start);
    const x = (WIDTH * (now - start)) / (Number(piece.dataset.end) - start);
    mark.setAttribute("d", `M${x.toFixed(1)} 20V80`);
    if (mark.parentNode !== piece) piece.append(mark);
  }

  function settle(stroke) {
    playing = stroke;
    whole.toggleAttribute("data-playing", !stroke && !sound.paused);
    for (const each of strokes) {
      each.button.toggleAttribute("data-playing", each === stroke);
      each.line.classList.toggle("sounding", each === stroke);
    }
  }

  function follow() {
    show();
    if (playing && sound.currentTime >= playing.end) {
      sound.pause();
      return;
    }
    if (!sound.paused) requestAnimationFrame(follow);
  }

  function play(stroke) {
    settle(stroke);
    const begin = () => {
      sound.currentTime = stroke.start;
      sound.play();
    };
    if (sound.readyState > 0) begin();
    else sound.addEventListener("loadedmetadata", begin, { once: true });
  }

  for (const stroke of strokes) {
    stroke.button.addEventListener("click", () => (playing === stroke ? sound.pause() : play(stroke)));
  }
  whole.addEventListener("click", () => {
    if (!playing && !sound.paused) return sound.pause();
    settle(null);
    sound.play();
    settle(null);
  });
  sound.addEventListener("play", () => requestAnimationFrame(follow));
  sound.addEventListener("pause", () => settle(null));
  sound.addEventListener("ended", () => settle(null));
  sound.addEventListener("loadedmetadata", show);
  sound.addEventListener("seeked", show);
  document.addEventListener("keydown", (event) => {
    if (event.key === "Escape") sound.pause();
  });

  // With a mouse or a finger the picture itself can be played; the list below does the same for the keyboard.
  for (const piece of pieces) {
    piece.addEventListener("click", (event) => {
      const box = piece.getBoundingClientRect();
      const start = Number(piece.dataset.start);
      const now = start + ((event.clientX - box.left) / box.width) * (Number(piece.dataset.end) - start);
      const stroke = strokes.find((each) => now >= each.start && now <= each.end);
      if (stroke) play(stroke);
    });
  }
})();
