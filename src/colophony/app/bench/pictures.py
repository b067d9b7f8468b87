"""The motion of the string, drawn: seen from above, and as the bow and the bridge feel it.

Colours are classes of the look (``c-ink``), so one drawing serves both themes. Every picture says its unit
on its axes; two strokes that are compared take one `Scale`.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Any

import numpy as np
from markupsafe import Markup, escape
from numpy.typing import NDArray

from colophony.app.bench.answer import Answer
from colophony.app.look.bowed_signs import bowed_sign_path, is_heavy
from colophony.app.look.signs import SIGNS, number, path_of
from colophony.language import N_, _, figures
from colophony.listening.take import ToneState

_Line = list[tuple[float, float]]
_Axis = tuple[float, float, float]

# The string from above: bridge on the left, the player looking along it from there.
_WIDTH, _HEIGHT = 480.0, 190.0
_LEFT, _RIGHT, _MIDDLE, _REACH = 22.0, 458.0, 88.0, 64.0
_STILLS = 8
_FRAMES = 96  # at most, over two vibrations, are moved through
#: Marks on the hair, in drawing units, about this far apart.
_MARKS = 13.0
_NICE = (1.0, 1.5, 2.0, 3.0, 5.0, 7.0, 10.0)

PERIODS_SHOWN = 4
_PLOT_WIDTH, _PLOT_HEIGHT = 428.0, 178.0
_AXIS_X, _AXIS_TOP, _AXIS_BOTTOM, _AXIS_RIGHT = 52.0, 28.0, 142.0, 380.0
_MOST_POINTS = 700


@dataclass(frozen=True, slots=True)
class Scale:
    """How large things are drawn: times the real sideways movement; least and greatest of the axes, and the
    step between their lines, in cm/s and N."""

    times: float
    speed_cm_s: _Axis
    force_n: _Axis


def scale_of(answers: Sequence[Answer]) -> Scale:
    """Return one scale on which every answer fits."""
    longest_m = max(answer.setting.length_m for answer in answers)
    widest_m = max(float(np.max(np.abs(answer.motion.shapes_m), initial=0.0)) for answer in answers)
    real = (_RIGHT - _LEFT) / longest_m
    times = _nice_below(_REACH / (real * widest_m)) if widest_m > 0 else 1.0
    shown = [_shown(answer) for answer in answers]
    speeds = [100 * np.asarray(motion.velocity_m_s) for motion in shown]
    speeds += [100 * np.asarray(motion.bow_speed_m_s) for motion in shown]
    return Scale(min(times, 200.0), _axis(speeds), _axis([_force(motion) for motion in shown]))


def _nice_below(value: float) -> float:
    tens = 10.0 ** math.floor(math.log10(value))
    return tens * max(step for step in _NICE if step * tens <= value * 1.0001)


def _axis(values: Sequence[NDArray[np.floating]]) -> _Axis:
    """Return the least and greatest of an axis that holds every value and zero, and the step of its lines."""
    low = min(float(np.min(one, initial=0.0)) for one in values)
    high = max(float(np.max(one, initial=0.0)) for one in values)
    wanted = max(high - low, 1e-3) / 3.2
    tens = 10.0 ** math.floor(math.log10(wanted))
    step = tens * min(nice for nice in (1.0, 2.0, 5.0, 10.0) if nice * tens >= wanted * 0.9999)
    return step * math.floor(low / step + 1e-6), step * max(1, math.ceil(high / step - 1e-6)), step


def sign(state: str, word: str, *, size: float = 20.0) -> Markup:
    """Return sign, word and colour of a simulated state, which stand together."""
    known = next((tone for tone in SIGNS if tone.value == state), ToneState.STEADY)
    thick = 3.2 if is_heavy(state) else 2
    return Markup(
        '<span class="state state-{}"><svg class="sign" viewBox="0 0 64 24" width="{}" height="{}" '
        'aria-hidden="true" focusable="false"><path d="{}" fill="none" stroke="currentColor" '
        'stroke-width="{}" stroke-linecap="round" stroke-linejoin="round"/></svg> {}</span>'
    ).format(known.value, number(size * 8 / 3), number(size), bowed_sign_path(state), thick, word)


# The string from above


@dataclass(frozen=True, slots=True, eq=False)
class _View:
    """The shapes of one answer in drawing units: [frames, positions]."""

    xs: NDArray[np.float64]
    ys: NDArray[np.float64]
    corners: list[tuple[float, float] | None]


def has_corner(answer: Answer) -> bool:
    """Return whether the string swings with one corner, which is drawn as a dot."""
    return answer.state in {"helmholtz", "s-motion"}


def _view(answer: Answer, scale: Scale) -> _View:
    motion = answer.motion
    across = (_RIGHT - _LEFT) / answer.setting.length_m
    every = max(1, math.ceil(len(motion.shapes_m) / _FRAMES))
    xs = _LEFT + np.asarray(motion.shape_positions_m, dtype=np.float64) * across
    ys = _MIDDLE + np.asarray(motion.shapes_m[::every], dtype=np.float64) * across * scale.times
    corners: list[tuple[float, float] | None] = [None] * len(ys)
    if has_corner(answer):
        # Two straight pieces and one corner: the corner is where the string is farthest from rest.
        places = np.argmax(np.abs(ys - _MIDDLE), axis=1)
        corners = [(float(xs[i]), float(ys[k, i])) for k, i in enumerate(places)]
    return _View(xs, ys, corners)


def _path(view: _View, frame: int) -> str:
    return path_of([(float(x), float(y)) for x, y in zip(view.xs, view.ys[frame], strict=True)])


def string_picture(answer: Answer, scale: Scale) -> Markup:
    """Return the string seen from above: where it goes in one vibration, and where it is at one moment.

    A script moves ``.now`` and ``.corner`` by `moving`.
    """
    view = _view(answer, scale)
    frames = len(view.ys)
    setting = answer.setting
    parts = [_neck(answer), _ribbon(answer)]
    parts.append(f'<path class="c-line" d="M{number(_LEFT)} {number(_MIDDLE)}H{number(_RIGHT)}" {_STROKE}/>')
    if frames:
        for k in range(_STILLS):
            still = _path(view, k * (frames // 2) // _STILLS)
            parts.append(f'<path class="c-edge ghost" d="{still}" {_STROKE} stroke-width="1"/>')
        frame = frames // 7
        parts.append(f'<path class="c-ink now" d="{_path(view, frame)}" {_STROKE} stroke-width="2.6"/>')
        corner = view.corners[frame]
        if corner is not None:
            x, y = corner
            parts.append(
                f'<circle class="c-rosin corner" cx="{number(x)}" cy="{number(y)}" r="5.5" '
                'fill="currentColor"/>'
            )
    parts.append(
        f'<path class="c-rosin" d="M{number(_LEFT)} {number(_MIDDLE - 26)}v52" {_STROKE} stroke-width="6"/>'
    )
    parts.append(
        f'<path class="c-ink" d="M{number(_RIGHT)} {number(_MIDDLE - 14)}v28" {_STROKE} stroke-width="4"/>'
    )
    end = _("finger") if setting.note and setting.note != setting.bowed.note else _("nut")
    parts.append(_text(_("bridge"), 8, 180) + _text(end, 474, 180, anchor="end"))
    x = _LEFT + setting.distance_mm / 1000 * (_RIGHT - _LEFT) / setting.length_m
    parts.append(_text(_("bow"), x + 16, 16))
    label = _("The string from above, bridge left, the bow {distance} mm from it. {says}").format(
        distance=figures(f"{setting.distance_mm:g}"), says=answer.says
    )
    return _svg("string-view", _WIDTH, _HEIGHT, label, "".join(parts))


_STROKE = 'fill="none" stroke="currentColor"'


def _neck(answer: Answer) -> str:
    """The fingerboard under the string, as a shade."""
    setting = answer.setting
    across = (_RIGHT - _LEFT) / setting.length_m
    start = _LEFT + setting.bowed.bowable_length_m * across
    if start >= _RIGHT:
        return ""
    return (
        f'<rect class="c-board neck" x="{number(start)}" y="{number(_MIDDLE - 34)}" '
        f'width="{number(_WIDTH - start)}" height="68" fill="currentColor" fill-opacity="0.1"/>'
    )


def _ribbon(answer: Answer) -> str:
    """The hair at its place and width; each line of hair as strong as its share of the weight."""
    setting = answer.setting
    across = (_RIGHT - _LEFT) / setting.length_m
    offsets, shares = answer.bowed.instrument.ribbon.lay(setting.tilt_deg)
    centre = _LEFT + setting.distance_mm / 1000 * across
    gap = (offsets[-1] - offsets[0]) / max(len(offsets) - 1, 1) * across
    left = centre + offsets[0] * across - gap / 2
    drawn = (
        f'<rect class="c-edge hair" x="{number(left)}" y="4" width="{number(max(gap * len(offsets), 2.0))}" '
        f'height="{number(2 * (_MIDDLE - 4))}" fill="currentColor" fill-opacity="0.18"/>'
    )
    marks, _ = _marks(answer, 1.0)
    strongest = max(shares)
    for offset, share in zip(offsets, shares, strict=True):
        if share <= 0:
            continue
        x = centre + offset * across
        drawn += (
            f'<path class="c-edge hair-line" d="M{number(x)} 4V{number(2 * _MIDDLE - 4)}" {_STROKE} '
            f'stroke-width="{number(0.6 + 1.6 * share / strongest)}" '
            f'stroke-dasharray="{marks * 0.7:.2f} {marks * 0.3:.2f}"/>'
        )
    return drawn


def _marks(answer: Answer, times: float) -> tuple[float, float]:
    """Return how far apart marks on the hair are, and how far the bow goes while the frames last.

    A whole number of marks pass while the frames last, so that they may be shown over and over.
    """
    across = (_RIGHT - _LEFT) / answer.setting.length_m
    shown_s = 2.0 / answer.motion.frequency_hz
    travel = answer.setting.speed_cm_s / 100 * shown_s * across * times
    count = max(1, round(travel / _MARKS))
    return (travel / count if travel >= 4.0 else _MARKS), travel


def moving(answer: Answer, scale: Scale) -> dict[str, Any]:
    """Return what a script needs to move the string: heights by frame, in drawing units."""
    view = _view(answer, scale)
    marks, travel = _marks(answer, scale.times)
    return {
        "xs": [round(float(x), 1) for x in view.xs],
        "ys": [[round(float(y), 1) for y in row] for row in view.ys],
        "corners": [corner and [round(corner[0], 1), round(corner[1], 1)] for corner in view.corners],
        "marks": round(marks, 3),
        "travel": round(travel, 3),
        "frequency_hz": round(answer.motion.frequency_hz, 2),
    }


# What the bow and the bridge feel


def _shown(answer: Answer) -> Any:
    return answer.motion.last(PERIODS_SHOWN)


def _force(motion: Any) -> NDArray[np.float64]:
    """The alternating part of the force on the bridge: what is heard."""
    force = np.asarray(motion.bridge_force_n, dtype=np.float64)
    return force - force.mean() if len(force) else force


#: How the picture of the speed under the bow is read.
HOW_TO_READ_SPEED = N_("Where the line lies on the dashed one, the string sticks to the hair.")


def velocity_picture(answer: Answer, scale: Scale) -> Markup:
    """Return the speed of the string under the bow over a few vibrations, and the bow's own, dashed."""
    motion = _shown(answer)
    bow = 100 * float(motion.bow_speed_m_s[-1])
    return _plot(
        motion,
        100 * np.asarray(motion.velocity_m_s, dtype=np.float64),
        axis=scale.speed_cm_s,
        title=_("Speed of the string under the bow, cm/s"),
        label=_(
            "Speed of the string under the bow over {n} vibrations; the bow moves at {speed} cm/s. {how}"
        ).format(n=PERIODS_SHOWN, speed=f"{bow:.0f}", how=_(HOW_TO_READ_SPEED)),
        level=(bow, _("bow")),
    )


def force_picture(answer: Answer, scale: Scale) -> Markup:
    """Return the alternating force of the string on the bridge over a few vibrations."""
    motion = _shown(answer)
    return _plot(
        motion,
        _force(motion),
        axis=scale.force_n,
        title=_("Sideways force on the bridge, N"),
        label=_("Sideways force of the string on the bridge over {n} vibrations.").format(n=PERIODS_SHOWN),
    )


def _plot(
    motion: Any,
    values: NDArray[np.float64],
    *,
    axis: _Axis,
    title: str,
    label: str,
    level: tuple[float, str] | None = None,
) -> Markup:
    shown_ms = 1000 * PERIODS_SHOWN / motion.frequency_hz
    low, high, step = axis

    def height(value: float) -> float:
        return _AXIS_BOTTOM - (value - low) / (high - low) * (_AXIS_BOTTOM - _AXIS_TOP)

    parts = [_text(title, 0, 15, bold=True)]
    for value in np.arange(low, high + step / 2, step).tolist():
        y = height(value)
        parts.append(
            f'<path class="c-line" d="M{number(_AXIS_X)} {number(y)}H{number(_AXIS_RIGHT)}" {_STROKE}/>'
        )
        parts.append(_text(_signed(value), _AXIS_X - 6, y + 5, anchor="end"))
    for k in range(PERIODS_SHOWN + 1):
        x = _AXIS_X + k * (_AXIS_RIGHT - _AXIS_X) / PERIODS_SHOWN
        parts.append(
            f'<path class="c-line" d="M{number(x)} {number(_AXIS_TOP)}V{number(_AXIS_BOTTOM)}" {_STROKE}/>'
        )
        if k in (0, PERIODS_SHOWN):
            time = figures(f"{shown_ms * k / PERIODS_SHOWN:.3g} ms")
            parts.append(_text(time, x, 164, anchor="start" if k == 0 else "end"))
    parts.append(
        _text(_("{n} vibrations").format(n=PERIODS_SHOWN), (_AXIS_X + _AXIS_RIGHT) / 2, 164, anchor="middle")
    )
    if level is not None:
        y = height(level[0])
        parts.append(
            f'<path class="c-rosin" d="M{number(_AXIS_X)} {number(y)}H{number(_AXIS_RIGHT)}" {_STROKE} '
            'stroke-width="2" stroke-dasharray="6 5"/>'
        )
        parts.append(_text(level[1], _AXIS_RIGHT + 6, y + 5))
    line = _thinned(values)
    across = (_AXIS_RIGHT - _AXIS_X) / max(len(values) - 1, 1)
    path = path_of([(_AXIS_X + i * across, height(value)) for i, value in line])
    parts.append(f'<path class="c-ink" d="{path}" {_STROKE} stroke-width="2" stroke-linejoin="round"/>')
    return _svg("plot", _PLOT_WIDTH, _PLOT_HEIGHT, label, "".join(parts))


def _thinned(values: NDArray[np.float64]) -> _Line:
    """Return (index, value) of at most `_MOST_POINTS` points; each stretch keeps its least and greatest."""
    if len(values) <= _MOST_POINTS:
        return list(enumerate(values.tolist()))
    points: _Line = []
    edges = np.linspace(0, len(values), _MOST_POINTS // 2 + 1).astype(int)
    for start, end in pairwise(edges):
        piece = values[start:end]
        for k in sorted({int(piece.argmin()), int(piece.argmax())}):
            points.append((float(start + k), float(piece[k])))
    return points


def _signed(value: float) -> str:
    return figures(f"{round(value, 6) + 0.0:g}").replace("-", "\u2212")


def _text(words: str, x: float, y: float, *, anchor: str = "start", bold: bool = False) -> str:
    weight = ' font-weight="700"' if bold else ""
    role = "ink" if bold else "quiet"
    return (
        f'<text class="c-{role}" x="{number(x)}" y="{number(y)}" font-size="15" fill="currentColor" '
        f'text-anchor="{anchor}"{weight}>{escape(words)}</text>'
    )


def _svg(kind: str, width: float, height: float, label: str, inner: str) -> Markup:
    return Markup(
        '<svg xmlns="http://www.w3.org/2000/svg" class="drawing {}" viewBox="0 0 {} {}" role="img" '
        'aria-label="{}" focusable="false">{}</svg>'
    ).format(kind, number(width), number(height), label, Markup(inner))
