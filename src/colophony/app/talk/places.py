"""Where the string sings: the map of a talk with its strokes on it, and the room at each sounding point."""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache

import numpy as np

from colophony.app.bench.map import LOOKS, BenchMap, ask_map
from colophony.app.bench.setting import Setting
from colophony.app.look.map_regions import ORDER, Box, draw_clear, draw_names, draw_regions, sign_patterns
from colophony.app.look.pen import Pen
from colophony.app.look.signs import number
from colophony.app.talk.marks import Scene, drawing, line, words
from colophony.app.talk.played import PlayedStroke
from colophony.app.talk.sequence import Talk
from colophony.language import _, figures
from colophony.teaching.sounding_points import POINTS, point_to_m

_LEFT, _RIGHT, _TOP, _BOTTOM = 96.0, 468.0, 8.0, 160.0
_TICKS_N = (0.03, 0.1, 0.3, 1.0, 3.0, 10.0)
_SPOT, _BAR = 12.0, 22.0
#: The cellist looks along the strings from the scroll's side (common practice, no source).
_TURNED = ("cello",)


@lru_cache(maxsize=8)
def map_of(instrument: str, size: str, string: str) -> BenchMap:
    """Return the map of an open string at the bench's usual speed with flat hair."""
    found = ask_map(Setting.usual(instrument, size, string), LOOKS["closer"])
    assert found is not None  # nobody stops it
    return found


def map_scene(talk: Talk, strokes: Sequence[PlayedStroke]) -> Scene:
    """Return the map with the strokes on it, numbered; a script marks the one that is played."""
    found = map_of(talk.instrument, talk.size, talk.string)
    box, pen, cells = _box(talk, found, found.limits[0][1]), Pen(None), found.cells
    places = []
    for one in strokes:
        request = one.bowed.request
        places.append((box.x(request.weight_n or 0.0), box.y((request.distance_mm or 0.0) / 1000.0)))
    taken = [(x - _SPOT - 4, y - _SPOT - 4, x + _SPOT + 4, y + _SPOT + 4) for x, y in places]
    far_y = _BOTTOM - 9 if box.is_turned else _TOP + 18
    parts = [
        sign_patterns(pen, [state for state in ORDER if (cells.told == state).any()]),
        draw_regions(pen, cells, box),
        draw_clear(pen, cells, box),
        draw_names(pen, cells, box, taken),
        _axes(box),
        words(_("too little"), _LEFT + 8, far_y, is_bold=True, is_over=True),
        words(_("too much"), _RIGHT - 8, far_y, anchor="end", is_bold=True, is_over=True),
        *(_spot(k, x, y) for k, (x, y) in enumerate(places, 1)),
    ]
    label = _(
        "Map of what the string does: the weight of the bow across, its distance from the bridge along the "
        "string. The strokes are numbered."
    )
    return Scene(drawing("map-view", label, "".join(parts)))


def rooms_scene(talk: Talk) -> Scene:
    """Return the weights under which the string sings at each sounding point, as bars."""
    found = map_of(talk.instrument, talk.size, talk.string)
    box = _box(talk, found, point_to_m(POINTS + 0.5, talk.bowed))
    parts = [_axes(box)]
    for point in range(1, POINTS + 1):
        distance_m = point_to_m(point, talk.bowed)
        y = box.y(distance_m)
        parts.append(line(f"M{_LEFT:g} {y:.1f}H{_RIGHT:g}", "c-line", 1.0))
        span = room_at(found, distance_m)
        if span is not None:
            x0, x1 = box.x(span[0]), box.x(span[1])
            parts.append(
                f'<rect class="state-helmholtz" x="{x0:.1f}" y="{y - _BAR / 2:.1f}" width="{x1 - x0:.1f}" '
                f'height="{_BAR:g}" rx="3" fill="currentColor"/>'
            )
    label = _("The weights under which the string sings at each of the five sounding points, at one speed.")
    return Scene(drawing("rooms-view", label, "".join(parts)))


def room_at(found: BenchMap, distance_m: float) -> tuple[float, float] | None:
    """Return least and greatest weight that sing at a distance from the bridge, N; None where none does."""
    cells = found.cells
    if not cells.lower_m[0] <= distance_m <= cells.upper_m[-1]:
        return None
    row = int(np.abs(cells.distance_m - distance_m).argmin())
    least, greatest = float(cells.weight_min_n[row]), float(cells.weight_max_n[row])
    return (least, greatest) if greatest > least else None  # nan: no clean stretch


def _box(talk: Talk, found: BenchMap, farthest_m: float) -> Box:
    return Box(
        _LEFT, _RIGHT, _TOP, _BOTTOM, found.limits[1], farthest_m, is_turned=talk.instrument in _TURNED
    )


def _spot(number_: int, x: float, y: float) -> str:
    place = f'cx="{number(x)}" cy="{number(y)}"'
    return (
        f'<g class="spot" data-spot="{number_}"><circle {place} r="{_SPOT:g}" fill="var(--ground)" '
        f'stroke="var(--ink)" stroke-width="2"/><text x="{number(x)}" y="{number(y + 5.5)}" font-size="16" '
        f'font-weight="700" text-anchor="middle">{number_}</text></g>'
    )


def _axes(box: Box) -> str:
    """Bridge and fingerboard at the left, weight below."""
    near, far = (_TOP + 12, _BOTTOM) if box.is_turned else (_BOTTOM, _TOP + 12)
    parts = line(f"M{_LEFT:g} {_TOP:g}V{_BOTTOM:g}H{_RIGHT:g}", "c-edge", 1.5)
    parts += words(_("bridge"), _LEFT - 8, near, anchor="end")
    parts += words(_("fingerboard"), _LEFT - 8, far, anchor="end")
    for value in _TICKS_N:
        if box.weights_n[0] <= value <= box.weights_n[1]:
            x = box.x(value)
            parts += line(f"M{x:.1f} {_BOTTOM:g}v6", "c-edge", 1.5)
            parts += words(figures(f"{value:g}") + "\u00a0N", x, _BOTTOM + 23, anchor="middle")
    return parts
