// Moves a drawn string: the studio sends its shapes over two vibrations, this shows them over and over.

import { partsOf, placeString } from "./string-frame.js";

const VIBRATION_MS = 3000;
const still = matchMedia("(prefers-reduced-motion: reduce)");
let wanted = !still.matches; // one choice for every string on the page

export function moveString(place, moving) {
  const parts = partsOf(place);
  const { line } = parts;
  const button = place.querySelector("[data-move]");
  const slow = place.querySelector("[data-slow]");
  const frames = moving.ys.length;
  let running = 0;
  let began = performance.now();

  if (!line || frames === 0) return { stop() {} };
  if (slow) {
    slow.hidden = false;
    slow.querySelector("[data-times]").textContent = String(Number((moving.frequency_hz * VIBRATION_MS / 1000).toPrecision(2)));
  }
  if (button) {
    button.hidden = false;
    button.addEventListener("click", () => {
      wanted = !wanted;
      document.dispatchEvent(new CustomEvent("string-moves"));
    });
  }
  document.addEventListener("string-moves", obey);
  // Nothing is drawn that nobody sees.
  let seen = true;
  const watch = new IntersectionObserver(([entry]) => {
    seen = entry.isIntersecting;
    obey();
  });
  watch.observe(line.ownerSVGElement);
  return { stop };

  function obey() {
    if (button) button.textContent = wanted ? button.dataset.stillWords : button.dataset.moveWords;
    cancelAnimationFrame(running);
    running = wanted && seen ? requestAnimationFrame(draw) : 0;
  }

  function stop() {
    cancelAnimationFrame(running);
    watch.disconnect();
    document.removeEventListener("string-moves", obey);
  }

  function draw(now) {
    placeString(parts, moving, (Math.max(0, now - began) / (2 * VIBRATION_MS)) % 1); // of the two vibrations
    running = requestAnimationFrame(draw);
  }
}
