"""The string under the hair: its point beside the hair at the left, its speed over time at the right.

Where the line of the speed lies on the bow's own, dashed, the string sticks; where it falls away, it slips.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from colophony.app.talk.marks import Scene, curve, drawing, line, words
from colophony.app.talk.played import PlayedStroke, cut
from colophony.language import _, pgettext
from colophony.listening.take import ToneState

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from colophony.physics.motion import Motion

#: Vibrations that are shown, and how long each takes on the wall, ms: at the end of a stroke, at its start.
STEADY, START = (3, 3000.0), (14, 1200.0)
_FRAMES_A_PERIOD = 100
#: The string slips where the bow gains on it more than this share of the ideal jump vb / beta.
_LOOSE = 0.2

_HAIR_X, _MIDDLE, _SWING, _MARKS = 46.0, 88.0, 34.0, 26.0
_LEFT, _RIGHT, _TOP, _BOTTOM, _FOOT = 104.0, 416.0, 26.0, 152.0, 182.0
#: Below so many slips each stretch has room for its word.
_FEW = 10


@dataclass(frozen=True, slots=True, eq=False)
class _Trace:
    """A stretch of a stroke, and its places on the drawing."""

    one: PlayedStroke
    velocity: NDArray[np.float64]
    bow: NDArray[np.float64]
    xs: NDArray[np.float64]
    low: float
    high: float

    def y(self, speed: NDArray[np.float64] | float) -> Any:
        """Height of a speed in m/s."""
        return _BOTTOM - (speed - self.low) / (self.high - self.low) * (_BOTTOM - _TOP)


def trace_scenes(strokes: Sequence[PlayedStroke], *, is_start: bool) -> list[Scene]:
    """Return a picture for each stroke, all on one scale: of its last vibrations, or of its first ones."""
    windows = [
        cut(one.bowed.motion, 0.0, START[0]) if is_start else one.bowed.motion.last(STEADY[0])
        for one in strokes
    ]
    low = min(float(np.min(window.velocity_m_s)) for window in windows)
    high = max(float(max(np.max(w.velocity_m_s), np.max(w.bow_speed_m_s))) for w in windows)
    room = 0.06 * max(high - low, 1e-3)
    scenes = []
    for one, window in zip(strokes, windows, strict=True):
        count = len(window.velocity_m_s)
        trace = _Trace(
            one,
            np.asarray(window.velocity_m_s, dtype=float),
            np.asarray(window.bow_speed_m_s, dtype=float),
            _LEFT + (_RIGHT - _LEFT) * np.arange(count) / max(count - 1, 1),
            low - room,
            high + room,
        )
        scenes.append(_scene(trace, window, is_start=is_start))
    return scenes


def _scene(trace: _Trace, window: Motion, *, is_start: bool) -> Scene:
    periods, vibration_ms = START if is_start else STEADY
    point, hair = _under_the_hair(trace, window.rate_hz, is_start=is_start)
    ys = trace.y(trace.velocity)
    at = np.linspace(0, len(ys) - 1, periods * _FRAMES_A_PERIOD).round().astype(int)
    whole = float(hair[-1])
    marks = whole / max(1, round(whole / _MARKS)) if whole > _MARKS else _MARKS
    seen = at[round(0.55 * len(at))]
    parts = [
        _slips(trace),
        _ribbon(marks),
        line(f"M{_LEFT:g} {trace.y(0.0):.1f}H{_RIGHT:g}", "c-line", 1.0),
        curve(trace.xs, trace.y(trace.bow), "c-rosin", 2.0, dash="6 5"),
        curve(trace.xs, ys, "c-ink", 1.6 if is_start else 2.2),
        words(_("bow"), _RIGHT + 5, float(trace.y(float(trace.bow[-1]))) + 5, role="rosin"),
        words(_("hair"), _HAIR_X, _FOOT, anchor="middle"),
        words(_("speed of the string under the hair"), (_LEFT + _RIGHT) / 2, _FOOT, anchor="middle"),
        _dot("point", _HAIR_X, _MIDDLE + float(point[seen]), 8.0),
        _dot("head", float(trace.xs[seen]), float(ys[seen]), 6.0),
    ]
    data = {
        "head": [[round(float(trace.xs[i]), 1), round(float(ys[i]), 1)] for i in at],
        "point": [round(float(_MIDDLE + point[i]), 1) for i in at],
        "hair": [round(float(hair[i]), 1) for i in at],
        "ms": periods * vibration_ms,
    }
    label = _("The speed of the string under the hair over {count} vibrations. {says}").format(
        count=periods, says=trace.one.bowed.says("adult")
    )
    return Scene(
        drawing("trace-view", label, "".join(parts)), data, window.frequency_hz * vibration_ms / 1000.0
    )


def _under_the_hair(
    trace: _Trace, rate_hz: float, *, is_start: bool
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return how far the string's point lies from its middle, and how far the hair has gone, as drawn.

    The point's way is the sum of its speed; both are drawn on one scale, so that the point goes with the hair
    while it sticks.
    """
    place = np.cumsum(trace.velocity) / rate_hz
    if not is_start:  # over whole vibrations the string comes back to where it was
        place -= np.linspace(place[0], place[-1], len(place))
    place -= 0.5 * (place.max() + place.min())
    scale = _SWING / max(float(np.abs(place).max()), 1e-9)
    return place * scale, np.cumsum(trace.bow) / rate_hz * scale


def slips_of(
    velocity: NDArray[np.float64], bow: NDArray[np.float64], *, beta: float
) -> list[tuple[int, int]]:
    """Return the stretches (first sample, end) in which the string slips under the bow."""
    jump = max(float(np.abs(bow).max()), 1e-9) / beta
    loose = np.concatenate([[False], bow - velocity > _LOOSE * jump, [False]])
    edges = np.flatnonzero(np.diff(loose.astype(int))).tolist()
    return list(zip(edges[::2], edges[1::2], strict=True))


def _slips(trace: _Trace) -> str:
    """The stretches in which the string slips, shaded in the colour of its state; where few, named."""
    slips = slips_of(trace.velocity, trace.bow, beta=trace.one.bowed.motion.beta)
    if not slips:
        return ""
    known = any(tone.value == trace.one.state for tone in ToneState)
    state = trace.one.state if known else ToneState.STEADY.value
    shade = ""
    for first, end in slips:
        x = float(trace.xs[first])
        width = max(float(trace.xs[end - 1]) - x, 0.8)
        shade += f'<rect x="{x:.1f}" y="{_TOP - 8:g}" width="{width:.1f}" height="{_BOTTOM - _TOP + 16:g}"/>'
    parts = f'<g class="state-{state}" fill="currentColor" fill-opacity="0.14">{shade}</g>'
    if len(slips) > _FEW:
        return parts
    first, end = max(slips, key=lambda slip: slip[1] - slip[0])
    left, right = float(trace.xs[first]) - 6, float(trace.xs[end - 1]) + 6
    beside = {"x": right, "anchor": "start"} if right < _RIGHT - 40 else {"x": left, "anchor": "end"}
    parts += words(pgettext("the string", "slips"), y=_BOTTOM - 4, is_bold=True, **beside)  # type: ignore[arg-type]
    ends = [0, *(place for slip in slips for place in slip), len(trace.xs) - 1]
    a, b = max(zip(ends[::2], ends[1::2], strict=True), key=lambda stick: stick[1] - stick[0])
    middle = (float(trace.xs[a]) + float(trace.xs[b])) / 2
    if float(trace.xs[b] - trace.xs[a]) > 50:
        height = float(trace.y(float(trace.bow[-1]))) + 30
        parts += words(pgettext("the string", "sticks"), middle, height, anchor="middle", is_bold=True)
    return parts


def _ribbon(marks: float) -> str:
    """The hair, with marks that a script moves."""
    left, right = _HAIR_X - 14, _HAIR_X + 14
    return (
        f'<rect class="c-edge" x="{_HAIR_X - 20:g}" y="6" width="40" height="158" fill="currentColor" '
        'fill-opacity="0.16"/>'
        + line(
            f"M{left:g} 6v158M{right:g} 6v158",
            "c-rosin hair-line",
            5.0,
            more=f' stroke-dasharray="{marks / 2:.2f} {marks / 2:.2f}"',
        )
    )


def _dot(kind: str, x: float, y: float, radius: float) -> str:
    return f'<circle class="c-ink {kind}" cx="{x:.1f}" cy="{y:.1f}" r="{radius:g}" fill="currentColor"/>'
