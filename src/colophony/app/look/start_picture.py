"""The picture of a map of starts: under what weight, and how quickly, a stroke may set out.

Weight runs across as in the picture of a range, the bow's acceleration upward, both in equal ratios. A region
is filled with the sign of its kind of start, the motion that goes before and the teeth that follow; the
paler, the longer until the string sings. The line runs around the starts that players accept; thin dashed
lines are the published window.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
from markupsafe import Markup, escape
from numpy.typing import NDArray

from colophony.app.look.map_cells import blocks
from colophony.app.look.pen import Pen, faces, wrapped
from colophony.app.look.signs import SIGNS, number, path_of
from colophony.app.look.tokens import INK, TEXT_FAMILY, Theme
from colophony.language import N_, _, figures
from colophony.listening.take import ToneState
from colophony.physics.bowings import START_KINDS
from colophony.physics.maps import StartMap
from colophony.teaching.wording import hand_weight

WIDTH = 1000.0  #: drawing units
_LEFT, _RIGHT, _HEIGHT = 150.0, 820.0, 520.0
_MARGIN = 40.0
_LETTERS, _LINE, _SMALL_LETTERS = 76, 30.0, 118
#: What a start goes through before the string sings: the state whose motion it is, by kind.
_MOTION = {
    "clean": ToneState.HELMHOLTZ,
    "creaking": ToneState.RAUCOUS,
    "slipping": ToneState.MULTIPLE_SLIP,
    "unknown": ToneState.UNSURE,
}
_WORDS = {
    "clean": N_("clean"),
    "creaking": N_("creaking"),
    "slipping": N_("slipping"),
    "unknown": N_("kind unclear"),
}
#: Strength of a shade, from a start that settles at once to one that takes this many periods or never does.
_STRONG, _PALE, _LONG_PERIODS = 0.36, 0.07, 30.0
_SHADES = 5
_TICKS = tuple(step * 10.0**power for power in range(-3, 4) for step in (1.0, 2.0, 5.0))
_HANDS_N = (0.05, 0.1, 0.25, 0.6, 1.5, 5.0)


@dataclass(frozen=True, slots=True, eq=False)
class Caption:
    """What stands around the map, said by the caller."""

    sentence: str
    setting: str
    reached_cm_s: float  #: an acceleration is also told as the time in which the bow has this speed
    weight_n: float | None = None  #: marked: the weight of which the sentence speaks
    description: str = ""  #: the picture in words, for who cannot see it
    notes: Sequence[str] = field(default=())  #: small lines below


def start_sign_path(kind: str) -> str:
    """Return SVG path data of a start's sign in a box of 64 by 24 units: what goes before, then teeth."""
    if kind in ("clean", "unknown"):
        lines = SIGNS[_MOTION[kind]].drawing
    else:
        before = [point for point in SIGNS[_MOTION[kind]].drawing[0] if point[0] <= 4.0]
        teeth = [(4.2, -1.0), (5.96, 1.0), (6.2, -1.0), (7.8, 1.0), (8.0, -1.0)]
        lines = ((*before, *teeth),)
    scale, reach = (64.0 - 6.0) / 8.0, 9.0
    return "".join(path_of([(3.0 + scale * x, 12.0 - reach * y) for x, y in line]) for line in lines)


def start_picture(found: StartMap, caption: Caption, *, theme: Theme | None = INK) -> Markup:
    """Return the picture as one ``<svg>`` element; ``theme`` as in `map_picture.map_picture`."""
    pen = Pen(theme)
    lines = wrapped(caption.sentence, _LETTERS)
    top = 58.0 + _LINE * (len(lines) - 1) + 96.0
    box = _Box(found, top)
    legend, legend_height = _legend(pen, top + _HEIGHT + 92.0, caption)
    height = top + _HEIGHT + 92.0 + legend_height + 20.0
    parts = [_patterns(pen), _heading(pen, caption, lines), _regions(pen, found, box)]
    parts += [_accepted(pen, found, box), _window(pen, found, box), _marked(pen, caption, box)]
    parts += [_names(pen, found, caption, box), _axes(pen, caption, box), legend]
    own = f"<style>{faces()}</style>" if theme is not None else ""
    ground = (
        f'<rect width="{number(WIDTH)}" height="{number(height)}" fill="{theme.ground}"/>' if theme else ""
    )
    title = f"{caption.sentence} {caption.setting}"
    return Markup(
        f'<svg xmlns="http://www.w3.org/2000/svg" class="drawing starts" viewBox="0 0 {number(WIDTH)} '
        f'{number(height)}" width="{number(WIDTH)}" height="{number(height)}" role="img" '
        f'aria-labelledby="starts-title starts-desc" font-family="{TEXT_FAMILY}, Gill Sans, Trebuchet MS, '
        f'sans-serif" stroke-linecap="round" stroke-linejoin="round"><title id="starts-title">'
        f'{escape(title)}</title><desc id="starts-desc">{escape(caption.description or title)}</desc>'
        f"{own}{ground}{''.join(parts)}</svg>"
    )


class _Box:
    """Where the map lies, and its two scales of equal ratios."""

    def __init__(self, found: StartMap, top: float) -> None:
        self.top, self.bottom = top, top + _HEIGHT
        self.weight_edges = _edges(found.weight_n)
        self.acceleration_edges = _edges(found.acceleration_m_s2)

    def x(self, weight_n: float) -> float:
        low, high = self.weight_edges[0], self.weight_edges[-1]
        share = math.log(weight_n / low) / math.log(high / low)
        return _LEFT + float(min(max(share, 0.0), 1.0)) * (_RIGHT - _LEFT)

    def y(self, acceleration: float) -> float:
        low, high = self.acceleration_edges[0], self.acceleration_edges[-1]
        share = math.log(acceleration / low) / math.log(high / low)
        return self.bottom - float(min(max(share, 0.0), 1.0)) * _HEIGHT


def _edges(values: NDArray[np.float64]) -> NDArray[np.float64]:
    steps = np.sqrt(values[1:] * values[:-1])
    return np.concatenate([[values[0] ** 2 / steps[0]], steps, [values[-1] ** 2 / steps[-1]]])


def _heading(pen: Pen, caption: Caption, lines: Sequence[str]) -> str:
    parts, y = [], 58.0
    for words in lines:
        parts.append(pen.text(words, _MARGIN, y, size=24, voice=True))
        y += _LINE
    parts.append(pen.text(caption.setting, _MARGIN, y + 1, size=18, paint=pen.paint("quiet")))
    return "".join(parts)


def _paint(pen: Pen, kind: str) -> str:
    return pen.paint(_MOTION[kind].value)


def _patterns(pen: Pen) -> str:
    parts = []
    for kind in START_KINDS:
        sign = (
            f'<path d="{start_sign_path(kind)}" fill="none" stroke="{_paint(pen, kind)}" '
            f'stroke-opacity="0.38" stroke-width="{4.6 if kind == "unknown" else 2.6}"/>'
        )
        places = ((3.0, 4.0), (45.0, 26.0), (-39.0, 26.0))
        drawn = "".join(f'<g transform="translate({x} {y}) scale(0.5)">{sign}</g>' for x, y in places)
        parts.append(
            f'<pattern id="start-{kind}" width="84" height="44" patternUnits="userSpaceOnUse">{drawn}'
            "</pattern>"
        )
    return f"<defs>{''.join(parts)}</defs>"


def _outline(mask: NDArray[np.bool_], box: _Box) -> str:
    """Return path data around the cells of a mask [weights, accelerations]."""
    parts = []
    for first, last, runs in blocks(mask):
        x0, x1 = box.x(float(box.weight_edges[first])), box.x(float(box.weight_edges[last + 1]))
        for a, b in runs:
            y0, y1 = box.y(float(box.acceleration_edges[a])), box.y(float(box.acceleration_edges[b]))
            parts.append(f"M{x0:.5g} {y0:.5g}H{x1:.5g}V{y1:.5g}H{x0:.5g}Z")
    return "".join(parts)


def _shades(found: StartMap) -> NDArray[np.int64]:
    """Return how strong each cell is shaded: 0 (settles late or never) to the number of shades less 1."""
    late = np.nan_to_num(found.settling_periods, nan=_LONG_PERIODS) / _LONG_PERIODS
    return np.round((1.0 - np.clip(late, 0.0, 1.0)) * (_SHADES - 1)).astype(np.int64)


def _regions(pen: Pen, found: StartMap, box: _Box) -> str:
    shades, parts = _shades(found), []
    for index, kind in enumerate(START_KINDS):
        mask = found.kind == index
        for shade in range(_SHADES):
            data = _outline(mask & (shades == shade), box)
            if data:
                strength = _PALE + (_STRONG - _PALE) * shade / (_SHADES - 1)
                parts.append(pen.area(data, _paint(pen, kind), opacity=round(strength, 3)))
        if kind != "clean" and mask.any():
            parts.append(f'<path d="{_outline(mask, box)}" fill="url(#start-{kind})"/>')
    return "".join(parts)


def _accepted(pen: Pen, found: StartMap, box: _Box) -> str:
    """A line along every side between a start that players accept and one that they do not."""
    good = np.pad(found.accepted & (found.kind >= 0), 1)
    parts = []
    for i, j in zip(*np.nonzero(good[1:, 1:-1] != good[:-1, 1:-1]), strict=True):
        x = box.x(float(box.weight_edges[i]))
        y0, y1 = (box.y(float(box.acceleration_edges[j + k])) for k in (0, 1))
        parts.append(f"M{x:.5g} {y0:.5g}V{y1:.5g}")
    for i, j in zip(*np.nonzero(good[1:-1, 1:] != good[1:-1, :-1]), strict=True):
        y = box.y(float(box.acceleration_edges[j]))
        x0, x1 = (box.x(float(box.weight_edges[i + k])) for k in (0, 1))
        parts.append(f"M{x0:.5g} {y:.5g}H{x1:.5g}")
    return pen.path("".join(parts), pen.paint("helmholtz"), 2.0) if parts else ""


def _window(pen: Pen, found: StartMap, box: _Box) -> str:
    parts, ink = [], pen.paint("ink")
    edges = box.acceleration_edges
    for rows, column, name in (
        (found.guettler_low_m_s2, 0, _("least by theory")),
        (found.guettler_high_m_s2, 1, _("greatest by theory")),
    ):
        inside = (rows[:, column] >= edges[0]) & (rows[:, column] <= edges[-1])
        if inside.sum() < 2:
            continue
        points = [
            (box.x(w), box.y(a))
            for w, a in zip(found.weight_n[inside].tolist(), rows[inside, column].tolist(), strict=True)
        ]
        parts.append(pen.line(points, ink, 1.2, dash="5 5", opacity=0.8))
        x, y = points[-1]
        parts.append(pen.text(name, x - 8, y + (18 if column == 0 else -8), size=15, anchor="end", over=True))
    return "".join(parts)


def _marked(pen: Pen, caption: Caption, box: _Box) -> str:
    """The weight of which the sentence speaks."""
    if caption.weight_n is None:
        return ""
    x = box.x(caption.weight_n)
    return pen.line([(x, box.top), (x, box.bottom + 10)], pen.paint("rosin"), 2.0) + pen.text(
        figures(f"{caption.weight_n:.2g} N"),
        x,
        box.top - 8,
        size=17,
        paint=pen.paint("rosin"),
        anchor="middle",
        bold=True,
    )


def _names(pen: Pen, found: StartMap, caption: Caption, box: _Box) -> str:
    """Sign and word in the middle of the largest rectangle of each kind."""
    parts = []
    for index, kind in enumerate(START_KINDS):
        place = _roomiest(found.kind == index, box)
        if place is None:
            continue
        half = max(36.0, 5.2 * len(_(_WORDS[kind])) + 8)
        x, y = max(place[0], _LEFT + half + 6), place[1]
        line = -1e9 if caption.weight_n is None else box.x(caption.weight_n)
        if abs(x - line) < half + 6:  # beside the marked weight, not on it
            x = line - half - 6 if line - 2 * half > _LEFT else line + half + 6
        parts.append(
            f'<rect x="{number(x - half)}" y="{number(y - 27)}" width="{number(2 * half)}" height="54" '
            f'rx="5" fill="{pen.paint("ground")}" fill-opacity="0.86"/>'
        )
        parts.append(_sign(pen, kind, x - 32, y - 24))
        parts.append(
            pen.text(_(_WORDS[kind]), x, y + 20, size=19, paint=_paint(pen, kind), anchor="middle", bold=True)
        )
    return "".join(parts)


def _sign(pen: Pen, kind: str, x: float, y: float, *, scale: float = 1.0) -> str:
    thick = 3.2 if kind == "unknown" else 2.0
    return (
        f'<path transform="translate({number(x)} {number(y)}) scale({scale:g})" d="{start_sign_path(kind)}" '
        f'fill="none" stroke="{_paint(pen, kind)}" stroke-width="{thick}"/>'
    )


def _roomiest(mask: NDArray[np.bool_], box: _Box) -> tuple[float, float] | None:
    """Return the middle of the largest square-ish block of cells that holds a label, None if none does."""
    total = np.pad(mask.astype(np.int64).cumsum(0).cumsum(1), ((1, 0), (1, 0)))
    wide = (_RIGHT - _LEFT) / mask.shape[0]
    high = _HEIGHT / mask.shape[1]
    best = None
    for grow in (1.0, 1.4, 2.0, 2.8):
        w, h = math.ceil(110 * grow / wide), math.ceil(60 * grow / high)
        if w > mask.shape[0] or h > mask.shape[1]:
            break
        full = total[w:, h:] - total[:-w, h:] - total[w:, :-h] + total[:-w, :-h]
        fits = np.argwhere(full >= 0.97 * w * h)
        if not len(fits):
            break
        i, j = fits[np.argmin(np.abs(fits - fits.mean(axis=0)).sum(axis=1))]
        best = _LEFT + (i + w / 2) * wide, box.bottom - (j + h / 2) * high
    return best


def _axes(pen: Pen, caption: Caption, box: _Box) -> str:
    quiet, edge, parts = pen.paint("quiet"), pen.paint("edge"), []
    base = box.bottom + 8.0
    for weight in _TICKS:
        if box.weight_edges[0] <= weight <= box.weight_edges[-1]:
            x = box.x(weight)
            parts.append(pen.line([(x, base), (x, base + 6)], edge, 1.2))
            parts.append(
                pen.text(figures(f"{weight:g}"), x, base + 23, size=16, paint=quiet, anchor="middle")
            )
    free = _LEFT
    for weight in _HANDS_N:
        words = hand_weight(weight)
        half, x = 3.4 * len(words), 0.0
        if box.weight_edges[0] <= weight <= box.weight_edges[-1]:
            x = box.x(weight)
            if x - half >= free - 10 and x + half <= _RIGHT + 24:
                parts.append(pen.text(words, x, base + 44, size=15, paint=quiet, anchor="middle"))
                free = x + half + 18
    middle = (_LEFT + _RIGHT) / 2
    parts.append(
        pen.text(_("weight of the bow on the string, N"), middle, base + 66, size=16, anchor="middle")
    )
    for rate in _TICKS:
        if box.acceleration_edges[0] <= rate <= box.acceleration_edges[-1]:
            y = box.y(rate)
            parts.append(pen.line([(_LEFT - 14, y), (_LEFT - 8, y)], edge, 1.2))
            parts.append(
                pen.text(figures(f"{rate:g}"), _LEFT - 18, y + 5.5, size=16, paint=quiet, anchor="end")
            )
            parts.append(pen.line([(_RIGHT + 8, y), (_RIGHT + 14, y)], edge, 1.2))
            ms = 10.0 * caption.reached_cm_s / rate
            words = figures(f"{ms:.0f} ms" if ms >= 10 else f"{ms:.2g} ms")
            parts.append(pen.text(words, _RIGHT + 18, y + 5.5, size=16, paint=quiet))
    parts.append(pen.text(_("acceleration,"), _MARGIN, box.top - 28, size=16))
    parts.append(pen.text("m/s\u00b2", _MARGIN, box.top - 9, size=16))
    parts.append(pen.text(_("the bow reaches"), _RIGHT + 18, box.top - 28, size=16))
    parts.append(
        pen.text(
            _("{speed} cm/s in").format(speed=f"{caption.reached_cm_s:g}"), _RIGHT + 18, box.top - 9, size=16
        )
    )
    return "".join(parts)


def _legend(pen: Pen, top: float, caption: Caption) -> tuple[str, float]:
    parts = [pen.line([(_MARGIN, top + 4), (WIDTH - _MARGIN, top + 4)], pen.paint("line"), 1.2)]
    y, x, quiet = top + 32.0, _MARGIN, pen.paint("quiet")
    for kind in START_KINDS:
        parts.append(_sign(pen, kind, x, y - 9, scale=0.75))
        parts.append(pen.text(_(_WORDS[kind]), x + 56, y + 5.5, size=17, paint=_paint(pen, kind), bold=True))
        x += 58 + 9.0 * len(_(_WORDS[kind])) + 34
    parts.append(pen.text(_("The paler, the later the string sings."), x, y + 5.5, size=16, paint=quiet))
    y += 34
    parts.append(pen.line([(_MARGIN, y - 5), (_MARGIN + 44, y - 5)], pen.paint("helmholtz"), 2.0))
    parts.append(
        pen.text(
            _("Around the starts that players accept (Guettler and Askenfelt 1997)."),
            _MARGIN + 56,
            y,
            size=16,
            paint=quiet,
        )
    )
    y += 26
    parts.append(pen.line([(_MARGIN, y - 5), (_MARGIN + 44, y - 5)], pen.paint("ink"), 1.2, dash="5 5"))
    parts.append(
        pen.text(
            _("Least and greatest acceleration of a start without fault by theory (Guettler 2002)."),
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
