// Moves a drawn string: the studio sends its shapes over two vibrations, this shows them over and over.

const VIBRATION_MS = 3000;
const still = matchMedia("(prefers-reduced-motion: reduce)");
let wanted = !still.matches; // one choice for every string on the page

export function moveString(place, moving) {
  const line = place.querySelector(".now");
  const corner = place.querySelector(".corner");
  const hair = [...place.querySelectorAll(".hair-line")];
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
    if (button) button.textContent = wanted ? "Hold it still" : "Let it move";
    cancelAnimationFrame(running);
    running = wanted && seen ? requestAnimationFrame(draw) : 0;
  }

  function stop() {
    cancelAnimationFrame(running);
    watch.disconnect();
    document.removeEventListener("string-moves", obey);
  }

  function draw(now) {
    const turn = (Math.max(0, now - began) / (2 * VIBRATION_MS)) % 1; // of the two vibrations
    const at = turn * frames;
    const [a, b] = [Math.floor(at) % frames, (Math.floor(at) + 1) % frames];
    const share = at - Math.floor(at);
    const points = moving.xs.map((x, i) => `${x} ${(moving.ys[a][i] * (1 - share) + moving.ys[b][i] * share).toFixed(1)}`);
    line.setAttribute("d", `M${points.join("L")}`);
    if (corner && moving.corners[a]) {
      const [from, to] = [moving.corners[a], moving.corners[b] ?? moving.corners[a]];
      // Where the corner turns at an end of the string it is not drawn across.
      const near = Math.abs(from[0] - to[0]) < 60 ? share : 0;
      corner.setAttribute("cx", from[0] * (1 - near) + to[0] * near);
      corner.setAttribute("cy", from[1] * (1 - near) + to[1] * near);
    }
    for (const mark of hair) mark.setAttribute("stroke-dashoffset", (-turn * moving.travel).toFixed(2));
    running = requestAnimationFrame(draw);
  }
}
