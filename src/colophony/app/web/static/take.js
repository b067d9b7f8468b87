// Plays one stroke of the take, with a moment before and after it; its button says Stop meanwhile.

const BEFORE_S = 0.1;
const AFTER_S = 0.15;

const sound = document.querySelector("[data-take-sound]");
const buttons = [...document.querySelectorAll("[data-play]")];
let playing = null;
let until = Infinity;

function settle(button) {
  playing = button;
  for (const each of buttons) each.toggleAttribute("data-playing", each === button);
  if (!button) until = Infinity;
}

function play(button) {
  const [start, end] = button.dataset.play.split(" ").map(Number);
  settle(button);
  until = end + AFTER_S;
  sound.currentTime = Math.max(0, start - BEFORE_S);
  sound.play().catch(() => settle(null));
}

function watch() {
  if (sound.currentTime >= until) sound.pause();
  if (!sound.paused) requestAnimationFrame(watch);
}

if (sound) {
  for (const button of buttons) {
    button.hidden = false;
    button.addEventListener("click", () => (playing === button ? sound.pause() : play(button)));
  }
  sound.addEventListener("play", watch);
  sound.addEventListener("pause", () => settle(null));
  sound.addEventListener("ended", () => settle(null));
  sound.addEventListener("seeking", () => {
    if (sound.currentTime > until) settle(null);
  });
  document.addEventListener("keydown", (event) => {
    if (event.key === "Escape") sound.pause();
  });
}
