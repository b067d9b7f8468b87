"""The bench's map drawn for a page: one unit of the drawing is one CSS px, colours are those of the page.

Bridge below and fingerboard above, as on the drawn strings; turned for the cello. Weight runs across in equal
ratios, all that can be set and no more, so that nothing moves when speed or tilt change but the regions.
"""

from __future__ import annotations

from typing import Any

from markupsafe import Markup, escape

from colophony.app.bench.map import BenchMap
from colophony.app.bench.map_room import Spot
from colophony.app.bench.setting import Setting
from colophony.app.look.map_regions import ORDER, Box, draw_clear, draw_names, draw_regions, sign_patterns
from colophony.app.look.pen import Pen, round_step
from colophony.app.look.signs import number
from colophony.language import _, figures
from colophony.teaching.sounding_points import POINTS, point_to_m, point_width_m

#: Widths in px that a page may ask for, and the one for pages without a script.
WIDTHS, USUAL_WIDTH = (280, 1000), 560
#: Below this width the map is drawn higher than wide.
_NARROW = 480
_LEFT, _RIGHT, _TOP, _BOTTOM = 46.0, 30.0, 12.0, 46.0
_TEXT = 15.0
TURNED = frozenset({"cello", "double bass"})
_TICKS_N = (0.02, 0.05, 0.1, 0.2, 0.5, 1.0, 2.0, 5.0, 10.0)


class Frame:
    """Where the map lies on its drawing."""

    def __init__(self, found: BenchMap, width: int) -> None:
        """Lay it out for a width in px, held within `WIDTHS`."""
        self.width = min(max(width, WIDTHS[0]), WIDTHS[1])
        self.height = round(self.width * 1.12 if self.width < _NARROW else min(470.0, self.width * 0.8))
        (_, far), weights = found.limits
        self.box = Box(
            left=_LEFT,
            right=self.width - _RIGHT,
            top=_TOP,
            bottom=self.height - _BOTTOM,
            weights_n=weights,
            farthest_m=far,
            is_turned=found.setting.instrument in TURNED,
        )

    def to_json(self) -> dict[str, Any]:
        """Return the places and scales, for a script that puts points on the drawing."""
        box = self.box
        return {
            "width": self.width,
            "height": self.height,
            "left": box.left,
            "right": box.right,
            "top": box.top,
            "bottom": box.bottom,
            "weights_n": list(box.weights_n),
            "farthest_mm": 1000 * box.farthest_m,
            "turned": box.is_turned,
        }


def draw(found: BenchMap, frame: Frame, kept: Setting | None, setting: Setting, room: str) -> Markup:
    """Return the map as one ``<svg>`` element, with the stroke, its room, and a stroke kept beside it."""
    pen, box, cells = Pen(None), frame.box, found.cells
    x, y = box.x(setting.weight_n), box.y(setting.distance_mm / 1000)
    taken = [(x - 22, y - 22, x + 22, y + 22)]
    states = [state for state in ORDER if (cells.told == state).any()]
    parts = [
        sign_patterns(pen, states),
        draw_regions(pen, cells, box),
        draw_clear(pen, cells, box),
        _place(pen, found, box),
        _weights(pen, box),
        draw_names(pen, cells, box, taken),
        f'<path class="map-room" d="{room}" fill="none" stroke="{pen.paint("ink")}" stroke-width="2"/>',
        _stroke(pen, x, y),
    ]
    if kept is not None:
        parts.append(_kept(pen, box.x(kept.weight_n), box.y(kept.distance_mm / 1000)))
    label = (
        _("Map of what the string does: weight of the bow across, distance from the bridge downwards.")
        if box.is_turned
        else _("Map of what the string does: weight of the bow across, distance from the bridge upwards.")
    )
    return Markup(
        f'<svg xmlns="http://www.w3.org/2000/svg" class="drawing bow-map-drawing" viewBox="0 0 {frame.width} '
        f'{frame.height}" role="img" aria-label="{escape(label)}" focusable="false" stroke-linecap="round" '
        f'stroke-linejoin="round">{"".join(parts)}</svg>'
    )


def room_path(frame: Frame, spot: Spot, setting: Setting) -> str:
    """Return path data of the room around a stroke: a bar along the string, a bar of weights."""
    box = frame.box
    x, y = box.x(setting.weight_n), box.y(setting.distance_mm / 1000)
    path = ""
    if spot.distances_m is not None:
        y0, y1 = (box.y(place) for place in spot.distances_m)
        path += f"M{number(x - 6)} {number(y0)}h12M{number(x)} {number(y0)}V{number(y1)}"
        path += f"M{number(x - 6)} {number(y1)}h12"
    if spot.weights_n is not None:
        x0, x1 = (box.x(weight) for weight in spot.weights_n)
        path += f"M{number(x0)} {number(y - 6)}v12M{number(x0)} {number(y)}H{number(x1)}"
        path += f"M{number(x1)} {number(y - 6)}v12"
    return path


def _stroke(pen: Pen, x: float, y: float) -> str:
    place = f'cx="{number(x)}" cy="{number(y)}"'
    return (
        f'<g class="map-stroke"><circle {place} r="11" fill="{pen.paint("ground")}"/>'
        f'<circle {place} r="8" fill="{pen.paint("ink")}"/></g>'
    )


def _kept(pen: Pen, x: float, y: float) -> str:
    return (
        f'<g class="map-kept"><circle cx="{number(x)}" cy="{number(y)}" r="8" fill="{pen.paint("ground")}" '
        f'stroke="{pen.paint("ink")}" stroke-width="3"/></g>'
    )


def _on_signs(pen: Pen, words: str, x: float, y: float) -> str:
    """Words on a region, with the ground around their letters."""
    drawn = pen.text(words, x, y, size=_TEXT)
    halo = f'stroke="{pen.paint("ground")}" stroke-width="5" paint-order="stroke"'
    return drawn.replace("<text ", f"<text {halo} ", 1)


def _place(pen: Pen, found: BenchMap, box: Box) -> str:
    """Bridge, fingerboard, the sounding points at the right edge, millimetres at the left."""
    setting, quiet = found.setting, pen.paint("quiet")
    parts = []
    end_m = setting.bowed.bowable_length_m
    far_y = box.bottom if box.is_turned else box.top
    if end_m < box.farthest_m:
        end_y = box.y(end_m)
        top, bottom = min(end_y, far_y), max(end_y, far_y)
        parts.append(
            f'<rect x="{number(box.left)}" y="{number(top)}" width="{number(box.right - box.left)}" '
            f'height="{number(bottom - top)}" fill="{pen.paint("board")}" fill-opacity="0.14"/>'
        )
        parts.append(pen.line([(box.left, end_y), (box.right, end_y)], pen.paint("edge"), 1.2))
        words_y = end_y + 18 if box.is_turned else end_y - 7
        parts.append(_on_signs(pen, _("over the fingerboard"), box.left + 8, words_y))
    bridge_y = box.y(0.0)
    parts.append(pen.line([(box.left, bridge_y), (box.right, bridge_y)], pen.paint("rosin"), 6.0))
    words_y = bridge_y + 20 if box.is_turned else bridge_y - 9
    parts.append(pen.text(_("bridge"), box.left + 8, words_y, size=_TEXT, paint=quiet))
    lane_m = point_width_m(setting.bowed, frequency_hz=setting.frequency_hz)
    for point in range(1, POINTS + 1):
        place = point_to_m(point, setting.bowed, frequency_hz=setting.frequency_hz)
        if point < POINTS:
            y = box.y(point * lane_m)
            parts.append(pen.line([(box.left, y), (box.right, y)], pen.paint("edge"), 0.8, opacity=0.45))
        y = box.y(place)
        parts.append(pen.line([(box.right, y), (box.right + 6, y)], pen.paint("ink"), 1.4))
        parts.append(pen.text(str(point), box.right + 11, y + 5.5, size=17, bold=True))
    step = round_step(1000 * box.farthest_m / 3.5)
    count = int(1000 * box.farthest_m / step)
    for k in range(count + 1):
        y = box.y(k * step / 1000)
        words = figures(f"{k * step:g}")
        parts.append(pen.line([(box.left - 6, y), (box.left, y)], pen.paint("edge"), 1.2))
        y += 12 if k == 0 and box.is_turned else 5
        parts.append(pen.text(words, box.left - 10, y, size=_TEXT, paint=quiet, anchor="end"))
    middle_y = box.y((count - 0.5) * step / 1000)
    parts.append(pen.text("mm", box.left - 10, middle_y + 5, size=_TEXT, paint=quiet, anchor="end"))
    return "".join(parts)


def _weights(pen: Pen, box: Box) -> str:
    quiet, parts = pen.paint("quiet"), []
    low, high = box.weights_n
    for weight in _TICKS_N:
        if low <= weight <= high:
            x = box.x(weight)
            parts.append(pen.line([(x, box.bottom + 4), (x, box.bottom + 9)], pen.paint("edge"), 1.2))
            parts.append(
                pen.text(figures(f"{weight:g}"), x, box.bottom + 24, size=_TEXT, paint=quiet, anchor="middle")
            )
    parts.append(
        pen.text(
            _("weight of the bow, N"),
            (box.left + box.right) / 2,
            box.bottom + 42,
            size=_TEXT,
            anchor="middle",
        )
    )
    return "".join(parts)
