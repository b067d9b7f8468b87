"""The picture of a map: where on the string, and under what weight, the bow finds a clear tone.

The place of the bow is drawn as the player sees it, bridge below and fingerboard above (a cello turned), in
true proportion; weight runs across, in equal ratios. A region is filled with the sign of what the string does
there, and named. The clear tone lies on top with its edges as they were found; where clear and not clear
alternate, single cells show it. Thin dashed lines are published limits. The cross is one stroke and its room.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
from markupsafe import Markup, escape

from colophony.app.look.map_cells import Cells, cells_of
from colophony.app.look.map_regions import (
    ORDER,
    WIDE,
    Box,
    Rect,
    draw_clear,
    draw_names,
    draw_regions,
    sign_patterns,
)
from colophony.app.look.pen import Pen, faces, round_step, wrapped
from colophony.app.look.signs import number
from colophony.app.look.tokens import INK, TEXT_FAMILY, Theme
from colophony.language import _, figures
from colophony.physics.maps import PlayableRanges, SteadyMap
from colophony.teaching.wording import hand_weight
from colophony.teaching.wording.bowed import simulated_word

WIDTH = 1000.0  #: drawing units
_LEFT, _RIGHT = 168.0, 722.0  # of a single map; several share what is between the strip and the edge
_EDGE, _MARGIN = 960.0, 40.0
_PANEL = 520.0  # height of a map
_STRIP = 74.0  # the string, drawn beside the map
_GAP = 26.0
_HEAD = 104.0  # from the last line of the sentence to a map
_FOOT = 96.0  # below each map
_IN_A_ROW = 3
_LETTERS, _LINE, _SMALL_LETTERS = 76, 30.0, 118
#: So far beyond the least and greatest weight that ever speaks a picture reaches.
_BESIDE = (0.35, 2.0)
#: Weights named by something a hand knows.
_TICKS_N = tuple(step * 10.0**power for power in range(-3, 2) for step in (1.0, 2.0, 5.0))
_HANDS_N = (0.05, 0.1, 0.25, 0.6, 1.5, 5.0)


@dataclass(frozen=True, slots=True)
class Cross:
    """One stroke on a map, and its room: weight held while the place moves, place held while weight does."""

    distance_m: float
    weight_n: float
    weights_n: tuple[float, float] | None = None  #: least and greatest at this distance
    distances_m: tuple[float, float] | None = None  #: nearest and farthest at this weight


@dataclass(frozen=True, slots=True, eq=False)
class Panel:
    """One map with what stands on and beside it."""

    steady: SteadyMap
    closed_form: PlayableRanges
    title: str = ""  #: "20 cm/s"; of several maps
    cross: Cross | None = None
    #: Beside each sounding point, from 1: two short lines. Only beside a single map.
    readings: Sequence[tuple[str, str]] = ()


@dataclass(frozen=True, slots=True, eq=False)
class Caption:
    """What stands around the maps, said by the caller."""

    sentence: str
    setting: str
    points_m: Sequence[float]  #: middles of the sounding points
    bowable_m: float  #: bridge to the fingerboard's end
    is_turned: bool = False  #: a cello: the bridge is above
    description: str = ""  #: the picture in words, for who cannot see it
    notes: Sequence[str] = field(default=())  #: small lines below


def map_picture(panels: Sequence[Panel], caption: Caption, *, theme: Theme | None = INK) -> Markup:
    """Return the picture as one ``<svg>`` element.

    Parameters
    ----------
    panels : one map, or several speeds of one string, which share their scales
    caption : words and places around them
    theme : the colours, and typefaces carried inside; None takes both from the page around
    """
    pen = Pen(theme)
    lines = wrapped(caption.sentence, _LETTERS)
    top = 58.0 + _LINE * (len(lines) - 1) + _HEAD
    rows = math.ceil(len(panels) / _IN_A_ROW)
    bottom = top + rows * (_PANEL + _FOOT)
    cells = [cells_of(panel.steady, panel.closed_form) for panel in panels]
    states = [s for s in ORDER if any((one.told == s).any() for one in cells)]
    legend, legend_height = _legend(pen, panels, states, bottom, caption)
    height = bottom + legend_height + 20.0
    parts = [sign_patterns(pen, states), _heading(pen, caption, lines)]
    for k, (panel, one) in enumerate(zip(panels, cells, strict=True)):
        parts.append(_panel(pen, panel, one, caption, _box(k, len(panels), top, panels, caption)))
    parts.append(legend)
    own = f"<style>{faces()}</style>" if theme is not None else ""
    ground = (
        f'<rect width="{number(WIDTH)}" height="{number(height)}" fill="{theme.ground}"/>' if theme else ""
    )
    title = f"{caption.sentence} {caption.setting}"
    return Markup(
        f'<svg xmlns="http://www.w3.org/2000/svg" class="drawing map" viewBox="0 0 {number(WIDTH)} '
        f'{number(height)}" width="{number(WIDTH)}" height="{number(height)}" role="img" '
        f'aria-labelledby="map-title map-desc" font-family="{TEXT_FAMILY}, Gill Sans, Trebuchet MS, '
        f'sans-serif" stroke-linecap="round" stroke-linejoin="round"><title id="map-title">{escape(title)}'
        f'</title><desc id="map-desc">{escape(caption.description or title)}</desc>{own}{ground}'
        f"{''.join(parts)}</svg>"
    )


def _box(k: int, count: int, top: float, panels: Sequence[Panel], caption: Caption) -> Box:
    row, column = divmod(k, _IN_A_ROW)
    in_row = min(count, _IN_A_ROW)
    y = top + row * (_PANEL + _FOOT)
    farthest = max(
        caption.bowable_m if caption.bowable_m < 0.5 * panels[k].steady.ranges.length_m else 0.0,
        *(float(panel.steady.ranges.played_distance_m.max()) * 1.02 for panel in panels),
    )
    if count == 1:
        left, right = _LEFT, _RIGHT if panels[k].readings else _EDGE
    else:
        width = (_EDGE - _LEFT - _GAP * (in_row - 1)) / in_row
        left = _LEFT + column * (width + _GAP)
        right = left + width
    return Box(left, right, y, y + _PANEL, _shown_weights(panels), farthest, caption.is_turned)


def _shown_weights(panels: Sequence[Panel]) -> tuple[float, float]:
    """Weights from one edge of the maps to the other: where nothing speaks far and wide is left out."""
    low = max(float(panel.steady.weight_n[0]) for panel in panels)
    high = min(float(panel.steady.weight_n[-1]) for panel in panels)
    least = [w for panel in panels for w in panel.steady.ranges.ragged_min_n.tolist() if math.isfinite(w)]
    most = [w for panel in panels for w in panel.steady.ranges.ragged_max_n.tolist() if math.isfinite(w)]
    if not least:
        return low, high
    return max(low, _BESIDE[0] * min(least)), min(high, _BESIDE[1] * max(most))


def _heading(pen: Pen, caption: Caption, lines: Sequence[str]) -> str:
    parts, y = [], 58.0
    for words in lines:
        parts.append(pen.text(words, _MARGIN, y, size=24, voice=True))
        y += _LINE
    parts.append(pen.text(caption.setting, _MARGIN, y + 1, size=18, paint=pen.paint("quiet")))
    return "".join(parts)


def _panel(pen: Pen, panel: Panel, cells: Cells, caption: Caption, box: Box) -> str:
    parts = [draw_regions(pen, cells, box), draw_clear(pen, cells, box)]
    limits, taken = _limits(pen, panel.closed_form, box)
    parts += [_lanes(pen, caption, box), limits, _frame(pen, panel, box)]
    if panel.cross is not None:
        drawn, rects = _cross(pen, panel.cross, box)
        parts.append(drawn)
        taken += rects
    parts += [draw_names(pen, cells, box, taken), _axes(pen, caption, box)]
    if panel.readings:
        parts.append(_readings(pen, panel.readings, caption, box))
    return "".join(parts)


def _lanes(pen: Pen, caption: Caption, box: Box) -> str:
    """Thin lines between the sounding points."""
    width = caption.points_m[1] - caption.points_m[0]
    parts = []
    for k in range(1, len(caption.points_m)):
        y = box.y(width * k)
        parts.append(pen.line([(box.left, y), (box.right, y)], pen.paint("edge"), 0.8, opacity=0.35))
    return "".join(parts)


def _limits(pen: Pen, closed: PlayableRanges, box: Box) -> tuple[str, list[Rect]]:
    """Published limits: thin, dashed, named in words at the fingerboard; and where the words stand."""
    parts: list[str] = []
    taken: list[Rect] = []
    quiet = pen.paint("ink")
    named = box.right - box.left > WIDE
    for values, name, anchor in (
        (closed.weight_min_n, _("measured least"), "end"),
        (closed.weight_max_n, _("measured greatest"), "start"),
    ):
        known = np.isfinite(values) & (values >= box.weights_n[0]) & (values <= box.weights_n[1])
        if known.sum() < 2:
            continue
        points = [
            (box.x(weight), box.y(place))
            for place, weight in zip(closed.distance_m[known].tolist(), values[known].tolist(), strict=True)
        ]
        parts.append(pen.line(points, quiet, 1.2, dash="5 5", opacity=0.8))
        if not named:
            continue
        x, y = points[-1]
        x += -7.0 if anchor == "end" else 7.0
        room = 7.2 * len(name)
        if anchor == "end" and x - room < box.left:
            x, anchor = points[-1][0] + 7.0, "start"
        if anchor == "start" and x + room > box.right:
            x, anchor = points[-1][0] - 7.0, "end"
        y += -6.0 if box.is_turned else 16.0
        parts.append(pen.text(name, x, y, size=15, paint=quiet, anchor=anchor, over=True))
        first = x - room if anchor == "end" else x
        taken.append((first, y - 16, first + room, y + 6))
    return "".join(parts), taken


def _frame(pen: Pen, panel: Panel, box: Box) -> str:
    """The bridge and the fingerboard's end; the title of one map of several."""
    bridge_y = box.top if box.is_turned else box.bottom
    parts = [pen.line([(box.left, bridge_y), (box.right, bridge_y)], pen.paint("rosin"), 5.0)]
    nearest_y = box.y(float(panel.steady.ranges.played_distance_m.min()))
    if abs(nearest_y - bridge_y) > 34 and box.right - box.left > WIDE:
        parts.append(
            pen.text(
                _("nearer than this map reaches"),
                (box.left + box.right) / 2,
                (nearest_y + bridge_y) / 2 + (8 if box.is_turned else 14),
                size=15,
                paint=pen.paint("quiet"),
                anchor="middle",
            )
        )
    if panel.title:
        parts.append(
            pen.text(panel.title, (box.left + box.right) / 2, box.top - 14, bold=True, anchor="middle")
        )
    return "".join(parts)


def _axes(pen: Pen, caption: Caption, box: Box) -> str:
    quiet, parts, free = pen.paint("quiet"), [], box.left - 40
    base = box.bottom + 10.0
    low, high = box.weights_n
    for weight in _TICKS_N:
        if low <= weight <= high:
            x = box.x(weight)
            parts.append(pen.line([(x, base), (x, base + 6)], pen.paint("edge"), 1.2))
            half = 4.2 * len(f"{weight:g}")
            if x - half >= free + 8:
                parts.append(
                    pen.text(figures(f"{weight:g}"), x, base + 23, size=16, paint=quiet, anchor="middle")
                )
                free = x + half
    wide = box.right - box.left > WIDE
    if wide:
        free = box.left
        for weight in _HANDS_N:
            words = hand_weight(weight)
            half = 3.4 * len(words)
            x = box.x(weight)
            if low <= weight <= high and x - half >= free - 10 and x + half <= box.right + 24:
                parts.append(pen.text(words, x, base + 44, size=15, paint=quiet, anchor="middle"))
                free = x + half + 18
    title = _("weight of the bow on the string, N") if wide else _("weight, N")
    parts.append(
        pen.text(
            title,
            (box.left + box.right) / 2,
            base + (66 if wide else 44),
            size=16,
            paint=pen.paint("ink"),
            anchor="middle",
        )
    )
    if box.left == _LEFT:  # the first of its row: the string stands beside it
        parts.append(_place(pen, caption, box))
    return "".join(parts)


def _place(pen: Pen, caption: Caption, box: Box) -> str:
    """The string beside the map, with the sounding points counted and millimetres from the bridge."""
    quiet, parts = pen.paint("quiet"), []
    x = _MARGIN + _STRIP / 2
    bridge_y, board_y = box.y(0.0), box.y(caption.bowable_m)
    way = 1.0 if box.is_turned else -1.0
    ends_y = board_y if caption.bowable_m <= box.farthest_m * 1.001 else box.y(box.farthest_m) + way * 20
    parts.append(pen.line([(x, bridge_y), (x, ends_y)], pen.paint("edge"), 2.2))
    parts.append(pen.line([(x - 24, bridge_y), (x + 24, bridge_y)], pen.paint("rosin"), 7.0))
    parts.append(
        pen.text(
            _("bridge"), x, bridge_y + (-14 if box.is_turned else 26), size=16, paint=quiet, anchor="middle"
        )
    )
    if caption.bowable_m <= box.farthest_m * 1.001:
        far = board_y + way * 26
        a, b = min(board_y, far), max(board_y, far)
        parts.append(
            pen.area(f"M{x - 17:.5g} {a:.5g}H{x + 17:.5g}V{b:.5g}H{x - 17:.5g}Z", pen.paint("board"))
        )
        words_y = b + 18 if box.is_turned else a - 8
        parts.append(pen.text(_("fingerboard"), x, words_y, size=16, paint=quiet, anchor="middle"))
    for number_, place in enumerate(caption.points_m, start=1):
        if place <= box.farthest_m:
            y = box.y(place)
            parts.append(pen.text(str(number_), x - 26, y + 6.5, size=20, anchor="middle", bold=True))
            parts.append(pen.line([(x - 9, y), (x + 9, y)], pen.paint("ink"), 1.6))
    step = round_step(1000 * box.farthest_m / 4.5)
    for k in range(int(1000 * box.farthest_m / step) + 1):
        y = box.y(k * step / 1000)
        parts.append(pen.line([(box.left - 14, y), (box.left - 8, y)], pen.paint("edge"), 1.2))
        words = f"{k * step:g} mm" if k == int(1000 * box.farthest_m / step) else f"{k * step:g}"
        words = figures(words)
        parts.append(pen.text(words, box.left - 18, y + 5.5, size=16, paint=quiet, anchor="end"))
    return "".join(parts)


def _cross(pen: Pen, cross: Cross, box: Box) -> tuple[str, list[Rect]]:
    """The stroke as a dot, its room as two measured bars; and where they lie."""
    ink = pen.paint("ink")
    x, y = box.x(cross.weight_n), box.y(cross.distance_m)
    parts, taken = [], [(x - 14, y - 14, x + 14, y + 14)]
    if cross.distances_m is not None:
        y0, y1 = (box.y(place) for place in cross.distances_m)
        parts.append(
            pen.path(f"M{x - 6:.5g} {y0:.5g}h12M{x:.5g} {y0:.5g}V{y1:.5g}M{x - 6:.5g} {y1:.5g}h12", ink, 1.8)
        )
        room = 1000 * (cross.distances_m[1] - cross.distances_m[0])
        word_y = (y + y1) / 2 + 6 if abs(y1 - y) > 50 else (y + y0) / 2 + 6
        parts.append(pen.text(f"{room:.0f} mm", x + 9, word_y, size=17, bold=True, over=True))
        taken += [(x - 8, min(y0, y1), x + 8, max(y0, y1)), (x, word_y - 18, x + 66, word_y + 8)]
    if cross.weights_n is not None:
        least, greatest = cross.weights_n
        x0, x1 = box.x(least), box.x(greatest)
        parts.append(
            pen.path(f"M{x0:.5g} {y - 6:.5g}v12M{x0:.5g} {y:.5g}H{x1:.5g}M{x1:.5g} {y - 6:.5g}v12", ink, 1.8)
        )
        span = 20 * math.log10(greatest / least)
        word_x = (x + x1) / 2
        parts.append(
            pen.text(f"{span:.0f} dB", word_x, y - 8, size=17, anchor="middle", bold=True, over=True)
        )
        taken += [(x0, y - 8, x1, y + 8), (word_x - 28, y - 26, word_x + 28, y)]
    parts.append(f'<circle cx="{number(x)}" cy="{number(y)}" r="6" fill="{ink}"/>')
    return "".join(parts), taken


def _readings(pen: Pen, readings: Sequence[tuple[str, str]], caption: Caption, box: Box) -> str:
    """Beside each sounding point: the weight that speaks, and how much it may vary."""
    x = box.right + 22
    parts = [
        pen.text(words, x, box.top - 34 + 19 * k, size=16, paint=pen.paint("quiet"))
        for k, words in enumerate((_("Weight that speaks,"), _("its range, room to wander")))
    ]
    for place, (first, second) in zip(caption.points_m, readings, strict=True):
        y = box.y(place)
        parts.append(pen.text(first, x, y - 1, size=19, bold=True))
        parts.append(pen.text(second, x, y + 19, size=16, paint=pen.paint("quiet")))
    return "".join(parts)


def _legend(
    pen: Pen, panels: Sequence[Panel], states: Sequence[str], top: float, caption: Caption
) -> tuple[str, float]:
    """Every state with sign and word; what lines mean; and the height of it all."""
    parts = [pen.line([(_MARGIN, top + 4), (WIDTH - _MARGIN, top + 4)], pen.paint("line"), 1.2)]
    y, x = top + 32.0, _MARGIN
    for state in states:
        word = simulated_word(state)
        width = 58 + 9.0 * len(word) + 26
        if x + width > WIDTH - _MARGIN + 20:
            x, y = _MARGIN, y + 30
        parts.append(pen.sign(state, x, y, scale=0.75))
        parts.append(pen.text(word, x + 56, y + 5.5, size=17, paint=pen.state_paint(state), bold=True))
        x += width
    y += 34
    quiet = pen.paint("quiet")
    parts.append(pen.line([(_MARGIN, y - 5), (_MARGIN + 44, y - 5)], pen.paint("ink"), 1.2, dash="5 5"))
    parts.append(
        pen.text(
            _(
                "Limits measured by a bowing machine on one string, carried over to this one "
                "(Schoonderwaldt, Guettler and Askenfelt 2008)."
            ),
            _MARGIN + 56,
            y,
            size=16,
            paint=quiet,
        )
    )
    if any(panel.cross for panel in panels):
        y += 26
        m = _MARGIN + 22
        parts.append(pen.path(f"M{m - 16} {y - 5}h32M{m} {y - 15}v20", pen.paint("ink"), 1.6))
        parts.append(f'<circle cx="{m}" cy="{y - 5}" r="4" fill="{pen.paint("ink")}"/>')
        parts.append(
            pen.text(
                _("One stroke, and how far weight alone and place alone may wander from it."),
                _MARGIN + 56,
                y,
                size=16,
                paint=quiet,
            )
        )
    for line in [line for note in caption.notes for line in wrapped(note, _SMALL_LETTERS)]:
        y += 26
        parts.append(pen.text(line, _MARGIN + 56, y, size=16, paint=quiet))
    return "".join(parts), y - top
