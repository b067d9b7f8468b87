// Puts a drawn string where it is at one moment of its vibrations. `moving` holds its shapes over time, as
// the engine computed them: heights by frame, the corner, how far the hair goes. Shared by bench and talk.

export function partsOf(place) {
  return {
    line: place.querySelector(".now"),
    corner: place.querySelector(".corner"),
    hair: [...place.querySelectorAll(".hair-line")],
  };
}

// turn: 0 to 1, the share of all frames that has passed.
export function placeString(parts, moving, turn) {
  const frames = moving.ys.length;
  const at = turn * frames;
  const [a, b] = [Math.floor(at) % frames, (Math.floor(at) + 1) % frames];
  const share = at - Math.floor(at);
  const points = moving.xs.map((x, i) => `${x} ${(moving.ys[a][i] * (1 - share) + moving.ys[b][i] * share).toFixed(1)}`);
  parts.line.setAttribute("d", `M${points.join("L")}`);
  if (parts.corner && moving.corners[a]) {
    const [from, to] = [moving.corners[a], moving.corners[b] ?? moving.corners[a]];
    // Where the corner turns at an end of the string it is not drawn across.
    const near = Math.abs(from[0] - to[0]) < 60 ? share : 0;
    parts.corner.setAttribute("cx", from[0] * (1 - near) + to[0] * near);
    parts.corner.setAttribute("cy", from[1] * (1 - near) + to[1] * near);
  }
  for (const mark of parts.hair) mark.setAttribute("stroke-dashoffset", (-turn * moving.travel).toFixed(2));
}
