// Plays the tones that this page carries, at ordinary speed and slowed, and moves the drawn string with the slow
// ones. Without it the page still reads, and the sound plays as a whole.
"use strict";
(() => {
  const sound = document.querySelector("#tones");
  const slower = Number(sound.dataset.slower);
  const VIBRATION_MS = 1500;
  const tones = [...document.querySelectorAll(".tone")].map((place) => ({
    place,
    start: Number(place.dataset.start),
    end: Number(place.dataset.end),
    buttons: [...place.querySelectorAll("button")],
    moving: JSON.parse(place.dataset.moving),
  }));
  let playing = null; // the tone, and the button that began it
  let pressed = null;
  let began = 0;

  document.documentElement.classList.add("can-play");
  for (const tone of tones) {
    for (const button of tone.buttons) {
      button.hidden = false;
      button.addEventListener("click", () => (pressed === button ? sound.pause() : play(tone, button)));
    }
  }

  function play(tone, button) {
    const slow = button.dataset.slow !== undefined;
    sound.pause();
    settle(tone, button);
    const begin = () => {
      sound.preservesPitch = false; // slowed sound lies lower, as a slowed string does
      sound.playbackRate = slow ? 1 / slower : 1;
      sound.currentTime = tone.start;
      began = performance.now();
      sound.play();
    };
    if (sound.readyState > 0) begin();
    else sound.addEventListener("loadedmetadata", begin, { once: true });
  }

  function settle(tone, button) {
    playing = tone;
    pressed = button;
    for (const each of tones) {
      each.place.classList.toggle("sounding", each === tone);
      for (const one of each.buttons) one.toggleAttribute("data-playing", one === button);
    }
  }

  function follow(now) {
    if (!playing || sound.paused) return;
    if (sound.currentTime >= playing.end) {
      sound.pause();
      return;
    }
    if (pressed.dataset.slow !== undefined) draw(playing, now);
    requestAnimationFrame(follow);
  }

  // Two vibrations are drawn over and over, far slower still than they are heard.
  function draw(tone, now) {
    const { xs, ys, corners, travel } = tone.moving;
    const line = tone.place.querySelector(".now");
    const corner = tone.place.querySelector(".corner");
    if (!line || ys.length === 0) return;
    const turn = (Math.max(0, now - began) / (2 * VIBRATION_MS)) % 1;
    const at = turn * ys.length;
    const [a, b] = [Math.floor(at) % ys.length, (Math.floor(at) + 1) % ys.length];
    const share = at - Math.floor(at);
    line.setAttribute("d", `M${xs.map((x, i) => `${x} ${(ys[a][i] * (1 - share) + ys[b][i] * share).toFixed(1)}`).join("L")}`);
    if (corner && corners[a]) {
      const [from, to] = [corners[a], corners[b] ?? corners[a]];
      const near = Math.abs(from[0] - to[0]) < 60 ? share : 0;
      corner.setAttribute("cx", from[0] * (1 - near) + to[0] * near);
      corner.setAttribute("cy", from[1] * (1 - near) + to[1] * near);
    }
    for (const mark of tone.place.querySelectorAll(".hair-line")) {
      mark.setAttribute("stroke-dashoffset", (-turn * travel).toFixed(2));
    }
  }

  sound.addEventListener("play", () => requestAnimationFrame(follow));
  sound.addEventListener("pause", () => {
    if (sound.paused && (!playing || sound.currentTime > playing.start)) settle(null, null);
  });
  document.addEventListener("keydown", (event) => {
    if (event.key === "Escape") sound.pause();
  });
})();
