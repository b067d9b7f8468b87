// Plays one stroke of the take, with a moment before and after it.

const BEFORE_S = 0.1;
const AFTER_S = 0.15;

const sound = document.querySelector("[data-take-sound]");
let until = Infinity;

if (sound) {
  for (const button of document.querySelectorAll("[data-play]")) {
    button.hidden = false;
    button.addEventListener("click", () => {
      const [start, end] = button.dataset.play.split(" ").map(Number);
      sound.currentTime = Math.max(0, start - BEFORE_S);
      until = end + AFTER_S;
      sound.play();
    });
  }
  const watch = () => {
    if (sound.currentTime >= until) {
      until = Infinity;
      sound.pause();
    }
    if (!sound.paused) requestAnimationFrame(watch);
  };
  sound.addEventListener("play", watch);
  sound.addEventListener("seeking", () => {
    if (sound.currentTime > until) until = Infinity;
  });
}
