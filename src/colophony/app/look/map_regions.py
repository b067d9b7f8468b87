"""The regions of a map over place and weight: filled with the sign of what the string does there, and named.

The clear tone lies on top with its edges as they were found; where clear and not clear alternate, single
cells show it. Shared by the picture that is printed and the map of the page.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from colophony.app.look.bowed_signs import bowed_sign_path, is_heavy
from colophony.app.look.map_cells import CLEAR, NOT_ASKED, Cells, clean_stretches, outline
from colophony.app.look.pen import Pen
from colophony.app.look.signs import number
from colophony.teaching.wording.bowed import simulated_word

Rect = tuple[float, float, float, float]

#: The states of steady bowing from the lightest bow to the heaviest, as the regions lie from left to right.
ORDER = ("noise", "multiple-slip", "helmholtz", "s-motion", "raucous", "low-anomalous", "choked")
WIDE = 400.0  #: of a map that has room for words
_TINT, _CLEAR_TINT = 0.13, 0.30
_SIGN_OPACITY = 0.34
#: Labels of regions, largest first: scale of the sign, size of the word.
_LABELS = ((1.0, 21.0), (0.78, 18.0), (0.6, 16.0))


@dataclass(frozen=True, slots=True)
class Box:
    """Where a map lies on the drawing, and its scales."""

    left: float
    right: float
    top: float
    bottom: float
    weights_n: tuple[float, float]
    farthest_m: float
    is_turned: bool

    def x(self, weight_n: float) -> float:
        """Place across of a weight, kept inside."""
        low, high = self.weights_n
        share = math.log(weight_n / low) / math.log(high / low)
        return self.left + min(max(share, 0.0), 1.0) * (self.right - self.left)

    def y(self, distance_m: float) -> float:
        """Height of a distance from the bridge, kept inside."""
        share = min(max(distance_m / self.farthest_m, 0.0), 1.0)
        if self.is_turned:
            return self.top + share * (self.bottom - self.top)
        return self.bottom - share * (self.bottom - self.top)


def sign_patterns(pen: Pen, states: Sequence[str]) -> str:
    """A field of each state's sign, to fill its region with: two signs in a tile, set off by half."""
    parts = []
    for state in states:
        if state == CLEAR:
            continue
        scale = 0.5
        thick = 4.6 if is_heavy(state) else 2.6
        sign = (
            f'<path d="{bowed_sign_path(state)}" fill="none" stroke="{pen.state_paint(state)}" '
            f'stroke-opacity="{_SIGN_OPACITY}" stroke-width="{thick}"/>'
        )
        places = ((3.0, 4.0), (45.0, 26.0), (-39.0, 26.0))
        drawn = "".join(f'<g transform="translate({x} {y}) scale({scale})">{sign}</g>' for x, y in places)
        parts.append(
            f'<pattern id="map-{state}" width="84" height="44" patternUnits="userSpaceOnUse">{drawn}'
            "</pattern>"
        )
    return f"<defs>{''.join(parts)}</defs>"


def draw_regions(pen: Pen, cells: Cells, box: Box) -> str:
    """The regions beside and beneath the clear tone, tinted and filled with their signs."""
    parts = []
    for state in ORDER:
        mask = cells.around == state
        if not mask.any():
            continue
        data = outline(mask, cells, box.x, box.y)
        tint = _CLEAR_TINT if state == CLEAR else _TINT
        parts.append(pen.area(data, pen.state_paint(state), opacity=tint))
        if state != CLEAR:
            parts.append(f'<path d="{data}" fill="url(#map-{state})"/>')
    return "".join(parts)


def draw_clear(pen: Pen, cells: Cells, box: Box) -> str:
    """The clear tone on top: clean stretches with fine edges, then single cells in and outside of them."""
    ground, paint = pen.paint("ground"), pen.state_paint(CLEAR)
    parts, edges = [], []
    for rows in clean_stretches(cells):
        near = _side(cells, rows, cells.weight_min_n, box)
        far = _side(cells, rows, cells.weight_max_n, box)
        data = "M" + "L".join(f"{x:.5g} {y:.5g}" for x, y in [*near, *reversed(far)]) + "Z"
        parts += [pen.area(data, ground), pen.area(data, paint, opacity=_CLEAR_TINT)]
        edges.append(pen.line(near, paint, 2.4) + pen.line(far, paint, 2.4))
        for outer, inner in (
            (cells.ragged_min_n, cells.weight_min_n),
            (cells.ragged_max_n, cells.weight_max_n),
        ):
            if np.any(np.abs(np.log(outer[list(rows)] / inner[list(rows)])) > 0.02):
                edges.append(pen.line(_side(cells, rows, outer, box), paint, 2.4, dash="0.1 5"))
    for amounts, state in ((cells.over, CLEAR), (cells.hole, None)):
        for amount in np.unique(np.round(amounts[amounts > 0.02], 1)).tolist():
            mask = np.round(amounts, 1) == amount
            if amount <= 0.0:
                continue
            if state is not None:
                data = outline(mask, cells, box.x, box.y)
                parts += [pen.area(data, ground, opacity=amount)]
                parts.append(pen.area(data, paint, opacity=_CLEAR_TINT * amount))
                continue
            for told in np.unique(cells.around[mask]).tolist():
                data = outline(mask & (cells.around == told), cells, box.x, box.y)
                parts.append(pen.area(data, ground, opacity=amount))
                if told != NOT_ASKED:
                    parts.append(pen.area(data, pen.state_paint(told), opacity=1.6 * _TINT * amount))
    return "".join(parts + edges)


def _side(cells: Cells, rows: range, weights: NDArray[np.float64], box: Box) -> list[tuple[float, float]]:
    """One edge of a stretch of rows, from the bridge on, to the outer ends of its first and last row."""
    places = [float(cells.lower_m[rows[0]]), *cells.distance_m[list(rows)].tolist()]
    places.append(float(cells.upper_m[rows[-1]]))
    values = weights[list(rows)].tolist()
    return [
        (box.x(weight), box.y(place))
        for place, weight in zip(places, [values[0], *values, values[-1]], strict=True)
    ]


def draw_names(pen: Pen, cells: Cells, box: Box, taken: Sequence[Rect]) -> str:
    """Sign and word inside of every region that has room for them."""
    parts, used = [], list(taken)
    for state in ORDER:
        mask = cells.told == state
        if not mask.any():
            continue
        word = simulated_word(state)
        for scale, size in _LABELS if box.right - box.left > WIDE else _LABELS[1:]:
            width = max(64 * scale, 0.55 * size * len(word)) + 14
            height = 24 * scale + size + 10
            place = _spot(mask, cells, box, width, height, used)
            if place is not None:
                x, y = place
                used.append((x - width / 2, y - height / 2, x + width / 2, y + height / 2))
                if state != CLEAR:
                    parts.append(
                        f'<rect x="{number(x - width / 2)}" y="{number(y - height / 2)}" '
                        f'width="{number(width)}" height="{number(height)}" rx="5" '
                        f'fill="{pen.paint("ground")}" fill-opacity="0.86"/>'
                    )
                parts.append(pen.sign(state, x - 32 * scale, y - height / 2 + 12 * scale + 4, scale=scale))
                parts.append(
                    pen.text(
                        word,
                        x,
                        y + height / 2 - 8,
                        size=size,
                        paint=pen.state_paint(state),
                        anchor="middle",
                        bold=True,
                    )
                )
                break
    return "".join(parts)


def _spot(
    mask: NDArray[np.bool_], cells: Cells, box: Box, width: float, height: float, used: Sequence[Rect]
) -> tuple[float, float] | None:
    """Return the middle of the roomiest place for a label inside of a region; None where there is none."""
    step = 6.0
    xs = np.arange(box.left + step / 2, box.right, step)
    ys = np.arange(box.top + step / 2, box.bottom, step)
    edges = np.array([box.x(float(edge)) for edge in cells.weight_edges_n])
    columns = np.clip(np.searchsorted(edges, xs) - 1, 0, mask.shape[1] - 1)
    sides = np.array(
        [[box.y(float(a)), box.y(float(b))] for a, b in zip(cells.lower_m, cells.upper_m, strict=True)]
    )
    inside = np.zeros((len(ys), len(xs)), dtype=bool)
    for row, (a, b) in enumerate(sides):
        here = (ys >= min(a, b)) & (ys < max(a, b))
        inside[here] = mask[row, columns]
    for x0, y0, x1, y1 in used:
        inside[np.ix_((ys >= y0) & (ys <= y1), (xs >= x0) & (xs <= x1))] = False
    total = np.pad(inside.astype(np.int64).cumsum(0).cumsum(1), ((1, 0), (1, 0)))
    wide, high = math.ceil(width / step), math.ceil(height / step)
    best: tuple[float, float] | None = None
    for grow in (1.0, 1.25, 1.6, 2.1, 2.8):  # the roomiest
        w, h = math.ceil(wide * grow), math.ceil(high * grow)
        if w >= inside.shape[1] or h >= inside.shape[0]:
            break
        full = total[h:, w:] - total[:-h, w:] - total[h:, :-w] + total[:-h, :-w]
        fits = np.argwhere(full == w * h)
        if not len(fits):
            break
        middle = fits[np.argmin(np.abs(fits - fits.mean(axis=0)).sum(axis=1))]
        best = float(xs[middle[1]] + (w - 1) * step / 2), float(ys[middle[0]] + (h - 1) * step / 2)
    return best
