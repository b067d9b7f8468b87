"""The picture of a simulated stroke: the string from above, and what happened at bow and bridge.

Above, the string between bridge and nut (or finger), sideways displacement drawn far too large and said so:
the envelope as a shade, passing shapes as thin lines, one instant in ink with its travelling corner, the
hair ribbon to scale. Below, on one axis of time, the speed of the string under the bow and the force on the
bridge over three periods. One ``<svg>`` that stands alone, with its typefaces inside.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from markupsafe import Markup, escape
from numpy.typing import NDArray

from colophony.app.look.bowed_signs import bowed_colour, bowed_sign_path, is_heavy
from colophony.app.look.figures import with_unit
from colophony.app.look.pen import Pen, faces, round_step, wrapped
from colophony.app.look.signs import number, path_of
from colophony.app.look.tokens import INK, TEXT_FAMILY, Theme
from colophony.language import _, figures
from colophony.physics.limits import schelleng_1973
from colophony.physics.motion import Motion

Array = NDArray[np.float64]

WIDTH, HEIGHT = 1000.0, 912.0  #: drawing units, with one line of a sentence
PERIODS = 3
_LEFT, _RIGHT = 96.0, 940.0  # of every panel
_STRING_MIDDLE, _STRING_REACH = 286.0, 84.0
_SPEED_TOP, _FORCE_TOP, _PANEL = 476.0, 650.0, 132.0
_FIGURES_TOP = 858.0
_NAME_LETTERS, _NAME_LINE = 22, 19.0  #: of a figure's name: letters in a line, height of a further line
_GHOSTS = 10
_MOST_SLIPS = 6 * PERIODS
_LETTERS, _LINE = 74, 30.0  # of the sentence: letters a line at most, height of a line
#: A corner is marked in these: elsewhere there is none, or several.
_ONE_CORNER = ("helmholtz", "s-motion")


@dataclass(frozen=True, slots=True)
class Caption:
    """What stands around the picture, said by the caller: state, words, settings, figures, places.

    ``figures`` are (name, value) pairs, four to six.
    """

    state: str
    word: str
    sentence: str
    setting: str
    figures: Sequence[tuple[str, str]]
    distance_m: float  #: bridge to the middle of the ribbon
    ribbon_m: float  #: width of the ribbon on the string
    hair: tuple[
        Sequence[float], Sequence[float]
    ]  #: places in the ribbon, m from its middle; shares of weight
    sounding_length_m: float
    stopped: bool = False  #: the far end is a finger, not the nut


def stroke_picture(motion: Motion, caption: Caption, *, theme: Theme = INK) -> Markup:
    """Return the picture as one ``<svg>`` element that needs nothing beside it.

    Parameters
    ----------
    motion : at least three periods; without shapes the string is left out and said so
    caption : words and figures around the picture
    theme : the colours; ink on white by default
    """
    draw = _Pen(theme, bowed_colour(caption.state, theme))
    lines = wrapped(caption.sentence, _LETTERS)
    lower = _LINE * (len(lines) - 1)  # every further line of the sentence moves the rest down
    height = HEIGHT + lower + _NAME_LINE * (_lines_of_names(caption) - 1)
    parts = [
        _heading(draw, caption, lines),
        f'<g transform="translate(0 {number(lower)})">',
        _string(draw, motion, caption),
        _waves(draw, motion.last(PERIODS)),
        _figures(draw, caption),
        "</g>",
    ]
    label = f"{caption.sentence} {caption.setting}"
    return Markup(
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {number(WIDTH)} {number(height)}" '
        f'width="{number(WIDTH)}" height="{number(height)}" role="img" aria-label="{escape(label)}" '
        f'font-family="{TEXT_FAMILY}, Gill Sans, Trebuchet MS, sans-serif" stroke-linecap="round" '
        f'stroke-linejoin="round">'
        f"<title>{escape(label)}</title><style>{faces()}</style>"
        f'<rect width="{number(WIDTH)}" height="{number(height)}" fill="{theme.ground}"/>'
        f"{''.join(parts)}</svg>"
    )


class _Pen(Pen):
    """Marks in the colours of a theme; ``state`` is the colour of the state."""

    theme: Theme

    def __init__(self, theme: Theme, state: str) -> None:
        super().__init__(theme)
        self.state = state

    def rect(self, x: float, y: float, width: float, height: float, paint: str, *, opacity: float) -> str:
        return (
            f'<rect x="{number(x)}" y="{number(y)}" width="{number(width)}" height="{number(height)}" '
            f'fill="{paint}" fill-opacity="{opacity:g}"/>'
        )


def _heading(draw: _Pen, caption: Caption, lines: Sequence[str]) -> str:
    thick = 3.2 if is_heavy(caption.state) else 2.0
    sign = (
        f'<g transform="translate(40 34) scale(1.5)"><path d="{bowed_sign_path(caption.state)}" fill="none" '
        f'stroke="{draw.state}" stroke-width="{thick:g}"/></g>'
    )
    parts = [sign, draw.text(caption.word, 150, 61, size=28, paint=draw.state, bold=True)]
    y = 104.0
    for words in lines:
        parts.append(draw.text(words, 40, y, size=24, voice=True))
        y += _LINE
    parts.append(draw.text(caption.setting, 40, y + 1, size=18, paint=draw.theme.quiet))
    return "".join(parts)


def _string(draw: _Pen, motion: Motion, caption: Caption) -> str:
    theme = draw.theme
    scale_x = (_RIGHT - _LEFT) / caption.sounding_length_m
    bow_x = _LEFT + scale_x * caption.distance_m
    parts = [_ends(draw, caption), _ribbon(draw, motion, caption, scale_x)]
    rest = draw.line([(_LEFT, _STRING_MIDDLE), (_RIGHT, _STRING_MIDDLE)], theme.line, 1.2)
    if len(motion.shapes_m) == 0:
        parts += [rest, draw.text(_("The shape of the string was not kept."), 520, _STRING_MIDDLE - 14)]
        return "".join(parts)
    shapes = np.asarray(motion.shapes_m, dtype=float)
    widest = max(float(np.abs(shapes).max()), 1e-9)
    scale_y = _STRING_REACH / widest
    xs = _LEFT + scale_x * np.asarray(motion.shape_positions_m, dtype=float)

    def points(shape: Array) -> list[tuple[float, float]]:
        return [(float(x), _STRING_MIDDLE - scale_y * float(y)) for x, y in zip(xs, shape, strict=True)]

    outline = points(shapes.max(axis=0)) + points(shapes.min(axis=0))[::-1]
    shade = f'<path d="{path_of(outline)}Z" fill="{draw.state}" fill-opacity="0.10"/>'
    first = len(shapes) // 2  # the last period
    period = len(shapes) - first
    ghosts = [
        draw.line(points(shapes[first + k * period // _GHOSTS]), draw.state, 1.0, opacity=0.35)
        for k in range(min(_GHOSTS, period))
    ]
    instant, corner, heading = _instant(shapes[first:], one_corner=caption.state in _ONE_CORNER)
    parts += [shade, rest, *ghosts, draw.line(points(shapes[first + instant]), theme.ink, 2.6)]
    if corner is not None:
        x, y = points(shapes[first + instant])[corner]
        parts.append(f'<circle cx="{number(x)}" cy="{number(y)}" r="6" fill="{draw.state}"/>')
        beside = y - math.copysign(16, y - _STRING_MIDDLE)
        parts.append(_arrow(draw, x + heading * 16, beside, heading, draw.state))
    parts += [_scale_bar(draw, scale_y, widest), _millimetres(draw, caption, scale_x, bow_x)]
    return "".join(parts)


def _arrow(draw: _Pen, x: float, y: float, heading: float, paint: str, *, length: float = 34.0) -> str:
    """A level arrow that begins at a place."""
    tip = x + heading * length
    return draw.line([(x, y), (tip, y)], paint, 2.0) + draw.line(
        [(tip - heading * 7, y - 5), (tip, y), (tip - heading * 7, y + 5)], paint, 2.0
    )


def _instant(shapes: Array, *, one_corner: bool) -> tuple[int, int | None, float]:
    """Index of the shape to draw in ink, and of its corner where it has one; which way that runs, 1 or -1.

    ``shapes`` is one period. The corner is where the string is farthest from its mean shape, for two
    straight pieces meet there (Helmholtz 1863). With one corner: the shape in which it is nearest to two
    thirds of the string, on the side that the bow pulls to. Else the widest shape.
    """
    moving = shapes - shapes.mean(axis=0)
    if not one_corner:
        return int(np.abs(moving).max(axis=1).argmax()), None, 0.0
    corners = np.abs(moving).argmax(axis=1)
    pulled = [k for k, shape in enumerate(moving) if shape[corners[k]] > 0] or list(range(len(shapes)))
    best = min(pulled, key=lambda k: abs(int(corners[k]) - 0.66 * shapes.shape[1]))
    later = corners[(best + max(1, len(shapes) // 20)) % len(shapes)]
    return best, int(corners[best]), 1.0 if later > corners[best] else -1.0


def _ends(draw: _Pen, caption: Caption) -> str:
    """Bridge and nut (or finger), where the string cannot move."""
    top, bottom = _STRING_MIDDLE - _STRING_REACH - 16, _STRING_MIDDLE + _STRING_REACH + 16
    bridge = draw.line([(_LEFT, top + 40), (_LEFT, bottom - 40)], draw.theme.rosin, 7)
    nut = draw.line([(_RIGHT, top + 62), (_RIGHT, bottom - 62)], draw.theme.board, 7)
    far = _("finger") if caption.stopped else _("nut")
    return (
        bridge
        + nut
        + draw.text(_("bridge"), _LEFT, top + 30, size=16, paint=draw.theme.quiet, anchor="middle")
        + draw.text(far, _RIGHT, top + 52, size=16, paint=draw.theme.quiet, anchor="middle")
    )


def _ribbon(draw: _Pen, motion: Motion, caption: Caption, scale_x: float) -> str:
    """The hair across the string, as wide as it is, stronger where more weight is, and the bow's way."""
    top, bottom = _STRING_MIDDLE - _STRING_REACH - 22, _STRING_MIDDLE + _STRING_REACH + 16
    width = max(scale_x * caption.ribbon_m, 3.0)
    left = max(_LEFT + scale_x * (caption.distance_m - caption.ribbon_m / 2), _LEFT)
    middle = left + width / 2
    parts = [draw.rect(left, top, width, bottom - top, draw.theme.rosin, opacity=0.16)]
    hairs = max(2, round(width / 4))
    for k in range(hairs + 1):
        x = left + k * width / hairs
        share = _share_at((x - middle) / scale_x, *caption.hair)
        parts.append(draw.line([(x, top), (x, bottom)], draw.theme.rosin, 0.7, opacity=0.12 + 0.68 * share))
    speed = float(motion.bow_speed_m_s[-1]) if len(motion.bow_speed_m_s) else 0.0
    if speed:
        # Up on the picture is where a down bow pulls the string.
        tail, tip = (top - 6, top - 34) if speed > 0 else (top - 34, top - 6)
        head = 7.0 if speed > 0 else -7.0
        parts.append(draw.line([(middle, tail), (middle, tip)], draw.theme.rosin, 2.4))
        parts.append(
            draw.line(
                [(middle - 5, tip + head), (middle, tip), (middle + 5, tip + head)], draw.theme.rosin, 2.4
            )
        )
    words = _("bow, down") if speed > 0 else _("bow, up") if speed < 0 else _("bow")
    parts.append(draw.text(words, middle + 14, top - 14, size=16, paint=draw.theme.rosin))
    return "".join(parts)


def _share_at(offset_m: float, places_m: Sequence[float], shares: Sequence[float]) -> float:
    """Weight at a place in the ribbon against its greatest, 0 to 1; 0 where the hair does not touch."""
    half = abs(places_m[-1] - places_m[0]) / max(len(places_m) - 1, 1) / 2
    if not min(places_m) - 1.01 * half <= offset_m <= max(places_m) + 1.01 * half:
        return 0.0
    return float(np.interp(offset_m, places_m, shares)) / max(shares)


def _scale_bar(draw: _Pen, scale_y: float, widest_m: float) -> str:
    """How wide the string really swings: a bar of a round number of millimetres."""
    mm = round_step(1000 * widest_m)
    length = scale_y * mm / 1000
    x, foot = _RIGHT - 66, _STRING_MIDDLE + _STRING_REACH + 10
    bar = [
        (x - 5, foot),
        (x + 5, foot),
        (x, foot),
        (x, foot - length),
        (x - 5, foot - length),
        (x + 5, foot - length),
    ]
    return draw.line(bar, draw.theme.quiet, 1.6) + draw.text(
        figures(f"{mm:g} mm"), x + 12, foot - length / 2 + 5, size=16, paint=draw.theme.quiet
    )


def _millimetres(draw: _Pen, caption: Caption, scale_x: float, bow_x: float) -> str:
    """Distance from the bridge along the string, with the bow's own place named."""
    y = _STRING_MIDDLE + _STRING_REACH + 34
    length_mm = 1000 * caption.sounding_length_m
    step = round_step(length_mm / 6)
    parts = [draw.line([(_LEFT, y), (_RIGHT, y)], draw.theme.line, 1.2)]
    bow_mm = 1000 * caption.distance_m
    for k in range(int(length_mm / step) + 1):
        mm = k * step
        x = _LEFT + scale_x * mm / 1000
        parts.append(draw.line([(x, y), (x, y + 6)], draw.theme.edge, 1.2))
        if abs(x - bow_x) > 44:
            words = figures(f"{mm:g} mm" if mm + step > length_mm else f"{mm:g}")
            parts.append(draw.text(words, x, y + 24, size=16, paint=draw.theme.quiet, anchor="middle"))
    parts.append(draw.line([(bow_x, y - 6), (bow_x, y + 6)], draw.theme.rosin, 2.4))
    parts.append(
        draw.text(
            figures(f"{bow_mm:.3g} mm"),
            bow_x,
            y + 24,
            size=16,
            paint=draw.theme.rosin,
            anchor="middle",
            bold=True,
        )
    )
    return "".join(parts)


def _waves(draw: _Pen, motion: Motion) -> str:
    """Speed under the bow and force on the bridge, one above the other on one axis of time."""
    count = len(motion.velocity_m_s)
    seconds = count / motion.rate_hz
    xs = _LEFT + (_RIGHT - _LEFT) * np.arange(count) / max(count - 1, 1)
    velocity = 100 * np.asarray(motion.velocity_m_s, dtype=float)
    bow = 100 * np.asarray(motion.bow_speed_m_s, dtype=float)
    force = np.asarray(motion.bridge_force_n, dtype=float)
    ideal = schelleng_1973.bridge_force_peak_to_peak_n(
        Z0=motion.impedance_kg_s, vb=float(np.abs(motion.bow_speed_m_s).mean()), beta=motion.beta
    )
    parts = []
    slips = _slips(velocity, bow, motion.beta)
    for start, end in slips:
        x, width = float(xs[start]), float(xs[min(end, count - 1)] - xs[start])
        parts.append(
            draw.rect(x, _SPEED_TOP, width, _FORCE_TOP + _PANEL - _SPEED_TOP, draw.state, opacity=0.10)
        )
    parts += [
        _wave(draw, xs, velocity, _SPEED_TOP, _("String under the bow, cm/s"), bow=float(bow.mean())),
        _wave(draw, xs, force, _FORCE_TOP, _("Force on the bridge, N"), least=0.2 * ideal),
        _time_axis(draw, seconds),
    ]
    if slips:
        start, end = max(slips, key=lambda slip: (slip[1] - slip[0], slip[0]))
        x, foot = float(xs[min(end, count - 1)]), _SPEED_TOP + _PANEL - 12
        outside = x < _RIGHT - 60
        x = x + 8 if outside else float(xs[start]) - 8
        anchor = "start" if outside else "end"
        parts.append(draw.text(_("slips"), x, foot, size=16, paint=draw.state, anchor=anchor, bold=True))
    return "".join(parts)


def _slips(velocity: Array, bow: Array, beta: float) -> list[tuple[int, int]]:
    """Stretches (first sample, end) in which the string runs away from the bow.

    A slip begins when the bow gains on the string a quarter of the most it ever gains, at most of the ideal
    jump vb / beta, and lasts as long as it gains more than a tenth. None where the string never turns back,
    or trembles too fast to be shaded.
    """
    speed = max(float(np.abs(bow).mean()), 1e-9)
    gained = (bow - velocity) * np.sign(bow)
    top = min(float(gained.max(initial=0.0)), speed / max(beta, 1e-6))
    if top < 1.2 * speed:
        return []
    loose = gained > 0.1 * top
    edges = np.flatnonzero(np.diff(np.concatenate([[False], loose, [False]]).astype(int)))
    pairs = zip(edges[::2], edges[1::2], strict=True)
    slips = [(int(a), int(b)) for a, b in pairs if gained[a:b].max() > 0.25 * top]
    return slips if len(slips) <= _MOST_SLIPS else []


def _wave(
    draw: _Pen,
    xs: Array,
    values: Array,
    top: float,
    title: str,
    *,
    bow: float | None = None,
    least: float = 0.0,
) -> str:
    """One wave with its scale, which spans ``least`` or more; ``bow`` is the bow's own speed, dashed."""
    low, high = float(values.min()), float(values.max())
    if bow is not None:
        low, high = min(low, bow), max(high, bow)
    if high - low < least:
        low, high = (low + high - least) / 2, (low + high + least) / 2
    step = round_step(max(high - low, 1e-6) / 3)
    low, high = step * math.floor(low / step), step * math.ceil(high / step)
    scale = _PANEL / max(high - low, step)

    def y_of(value: float) -> float:
        return top + (high - value) * scale

    theme, parts = draw.theme, []
    for k in range(round((high - low) / step) + 1):
        value = low + k * step
        zero = abs(value) < 1e-9 * step
        parts.append(
            draw.line([(_LEFT, y_of(value)), (_RIGHT, y_of(value))], theme.edge if zero else theme.line, 1)
        )
        label = with_unit(0.0 if zero else value, "", _decimals(step)).strip()
        parts.append(
            draw.text(label, _LEFT - 10, y_of(value) + 5.5, size=16, paint=theme.quiet, anchor="end")
        )
    if bow is not None:
        parts.append(draw.line([(_LEFT, y_of(bow)), (_RIGHT, y_of(bow))], theme.rosin, 1.8, dash="7 6"))
        parts.append(draw.text(_("bow"), _RIGHT + 8, y_of(bow) + 5.5, size=16, paint=theme.rosin))
    curve = [(float(x), y_of(float(v))) for x, v in zip(xs, values, strict=True)]
    parts.append(draw.line(curve, theme.ink, 2.0))
    parts.append(draw.text(title, _LEFT, top - 12, size=18, bold=True))
    return "".join(parts)


def _time_axis(draw: _Pen, seconds: float) -> str:
    y = _FORCE_TOP + _PANEL
    ms = 1000 * seconds
    step = round_step(ms / 6)
    parts = []
    count = int(ms / step + 1e-6)
    for k in range(count + 1):
        x = _LEFT + (_RIGHT - _LEFT) * k * step / ms
        parts.append(draw.line([(x, y), (x, y + 6)], draw.theme.edge, 1.2))
        label = figures(f"{k * step:g} ms" if k == count else f"{k * step:g}")
        parts.append(draw.text(label, x, y + 24, size=16, paint=draw.theme.quiet, anchor="middle"))
    return "".join(parts)


def _figures(draw: _Pen, caption: Caption) -> str:
    """Name above, value below, in equal columns."""
    width = (WIDTH - 80) / max(len(caption.figures), 1)
    below = _NAME_LINE * (_lines_of_names(caption) - 1)
    parts = [draw.line([(40, _FIGURES_TOP - 32), (WIDTH - 40, _FIGURES_TOP - 32)], draw.theme.line, 1.2)]
    for k, (name, value) in enumerate(caption.figures):
        x = 40 + k * width
        for line, words in enumerate(wrapped(name, _NAME_LETTERS)):
            y = _FIGURES_TOP - 4 + _NAME_LINE * line
            parts.append(draw.text(words, x, y, size=16, paint=draw.theme.quiet))
        parts.append(draw.text(value, x, _FIGURES_TOP + 24 + below, size=21, bold=True))
    return "".join(parts)


def _lines_of_names(caption: Caption) -> int:
    return max((len(wrapped(name, _NAME_LETTERS)) for name, _ in caption.figures), default=1)


def _decimals(step: float) -> int:
    return max(0, -math.floor(math.log10(step) + 1e-9))
