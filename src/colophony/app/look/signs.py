"""The sign of each tone state: the motion of the string under the bow that defines it, with its word.

A sign is drawn from the same `Motion` that the picture of a take repeats along time, so the sign in a
sentence and the line in the picture are one thing. Shapes: a string that sticks rises slowly and evenly
with the bow and falls fast when it slips (Helmholtz 1862; drawn in Cremer 1984, *The Physics of the
Violin*, chapter 3); two falls a period are multiple slip, one fall over two periods is an anomalous low
frequency (Hanson, Schneider and Halgedahl 1994). The drawing itself is ours.
"""

from __future__ import annotations

import math
import random
from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

from markupsafe import Markup, escape

from colophony.app.look.tokens import Theme
from colophony.listening.take import ToneState
from colophony.teaching.wording import state_word

Line = tuple[tuple[float, float], ...]


@dataclass(frozen=True, slots=True)
class Motion:
    """A motion to be repeated: ``lines`` of points (along, height from -1 to 1); one point alone is a dot.

    ``length`` is how far along the motion repeats. A sign is 8 long; a period of the note takes 2, in the
    motion with several slips 8/3, so that its small tooth stays visible.
    """

    length: float
    lines: tuple[Line, ...]


@dataclass(frozen=True, slots=True)
class Sign:
    """A tone state as a reader meets it: the word beside the sign, and the motion it is drawn from.

    ``motion`` repeats along a take; ``drawing`` is the sign itself, 8 long.
    """

    state: ToneState
    motion: Motion
    drawing: tuple[Line, ...]
    heavy: bool = False

    @property
    def word(self) -> str:
        """The word beside the sign, in the language of the moment."""
        return state_word(self.state)


def _sine(start: float, end: float, *, steps: int = 8) -> Line:
    """A stretch of a sine of period 1 that starts at its trough at 0."""
    xs = (start + (end - start) * i / steps for i in range(steps + 1))
    return tuple((round(x, 3), round(-math.cos(2 * math.pi * x), 3)) for x in xs)


def _ragged(periods: int) -> Line:
    """A line without period: rises and falls of unequal length and height, always the same ones.

    Steps follow the fractional parts of multiples of the golden ratio, which never repeat.
    """
    golden = (math.sqrt(5) - 1) / 2
    points = [(0.0, 0.0)]
    x, k, up = 0.0, 0, True
    while x < periods - 0.5:
        x += 0.16 + 0.5 * ((k * golden) % 1)
        height = 0.45 + 0.55 * ((k * golden * golden * 1.7 + 0.4) % 1)
        points.append((round(min(x, periods - 0.2), 3), round(height if up else -height, 3)))
        k, up = k + 1, not up
    points.append((float(periods), 0.0))
    return tuple(points)


def _speckle(periods: int, per_period: int) -> tuple[Line, ...]:
    """Dots without order, evenly dense: one in each of many small squares, off its middle by chance."""
    columns, rows = periods * per_period // 3, 3
    chance = random.Random(1)  # the same speckle in every drawing
    dots = []
    for column in range(columns):
        for row in range(rows):
            x = periods * (column + 0.12 + 0.76 * chance.random()) / columns
            y = 2.0 * (row + 0.12 + 0.76 * chance.random()) / rows - 1.0
            dots.append(((round(x, 3), round(y, 3)),))
    return tuple(dots)


def _repeat(motion: Motion, length: float) -> tuple[Line, ...]:
    """The motion laid end to end over a length; unbroken lines are joined."""
    lines: list[Line] = []
    for k in range(round(length / motion.length)):
        for line in motion.lines:
            moved = tuple((x + k * motion.length, y) for x, y in line)
            if lines and len(line) > 1 and lines[-1][-1] == moved[0]:
                lines[-1] = lines[-1] + moved[1:]
            else:
                lines.append(moved)
    return tuple(lines)


_TOOTH = Motion(2.0, (((0.0, -1.0), (1.76, 1.0), (2.0, -1.0)),))
_TWO_TEETH = Motion(8 / 3, (((0.0, -1.0), (1.4, 1.0), (1.6, -0.3), (2.44, 0.5), (8 / 3, -1.0)),))
_LONG_TOOTH = Motion(4.0, (((0.0, -1.0), (3.7, 1.0), (4.0, -1.0)),))
_RAGGED = Motion(8.0, (_ragged(8),))
_SPECKLE = Motion(8.0, _speckle(8, 4))
_RIPPLE = Motion(1.0, (_sine(0.0, 1.0),))
#: The rises of an even wave; the falls, where slips would show, are left out.
_OPEN_WAVE = Motion(2.0, (tuple((2 * x + 0.08, y) for x, y in _sine(-0.04, 0.56)),))
_DOTS = Motion(8.0, tuple(((x, 0.0),) for x in (0.4, 1.2, 2.0, 2.8, 5.2, 6.0, 6.8, 7.6)))


def _decay() -> tuple[Line, ...]:
    points = []
    for i in range(97):
        x = 8.0 * i / 96
        points.append((round(x, 3), round(math.exp(-x / 3.0) * math.sin(2 * math.pi * x / 1.25), 3)))
    return (tuple(points),)


def _sign(
    state: ToneState, motion: Motion, drawing: tuple[Line, ...] | None = None, *, heavy: bool = False
) -> Sign:
    return Sign(state, motion, drawing or _repeat(motion, 8.0), heavy)


_ALL = (
    _sign(ToneState.HELMHOLTZ, _TOOTH),
    _sign(ToneState.MULTIPLE_SLIP, _TWO_TEETH),
    _sign(ToneState.RAUCOUS, _RAGGED),
    _sign(ToneState.LOW_ANOMALOUS, _LONG_TOOTH),
    _sign(ToneState.NOISE, _SPECKLE, heavy=True),
    _sign(ToneState.PLUCKED, _RIPPLE, _decay()),
    _sign(ToneState.STEADY, _OPEN_WAVE),
    _sign(ToneState.UNSURE, _DOTS, heavy=True),
)

#: Every tone state's sign, in the order in which a legend lists them.
SIGNS: Mapping[ToneState, Sign] = MappingProxyType({sign.state: sign for sign in _ALL})

_WIDTH, _HEIGHT, _SIDE = 64.0, 24.0, 3.0


def number(value: float) -> str:
    """A coordinate with at most one decimal, without a trailing zero."""
    text = f"{value:.1f}"
    return text[:-2] if text.endswith(".0") else text


def path_of(points: list[tuple[float, float]]) -> str:
    """SVG path data through points in drawing units; one point becomes a dot."""
    if len(points) == 1:
        return f"M{number(points[0][0])} {number(points[0][1])}h0"
    first, *rest = points
    return f"M{number(first[0])} {number(first[1])}L" + " ".join(f"{number(x)} {number(y)}" for x, y in rest)


def sign_path(state: ToneState) -> str:
    """SVG path data of a sign in a box of 64 by 24 units; stroke it, 2 units wide, with round ends."""
    scale = (_WIDTH - 2 * _SIDE) / 8.0
    middle, reach = _HEIGHT / 2, _HEIGHT / 2 - _SIDE
    return "".join(
        path_of([(_SIDE + scale * x, middle - reach * y) for x, y in line]) for line in SIGNS[state].drawing
    )


def sign_svg(
    state: ToneState,
    *,
    size: float = 24.0,
    title: str | None = None,
    theme: Theme | None = None,
) -> Markup:
    """Return a sign as one ``<svg>`` element, ``size`` px high and 8/3 as wide.

    Without a title it is decoration beside its word (hidden from a screen reader). Without a theme it takes
    its colour from the page's style sheet; with one it stands alone, for a file or for paper.
    """
    state = ToneState(state)
    sign = SIGNS[state]
    stroke = "currentColor" if theme is None else theme.states[state]
    spoken = Markup('role="img" aria-label="{}"').format(title) if title else Markup('aria-hidden="true"')
    return Markup(
        '<svg xmlns="http://www.w3.org/2000/svg" class="sign state-{state}" viewBox="0 0 64 24" '
        'width="{width}" height="{height}" {spoken} focusable="false"><path d="{path}" '
        'fill="none" stroke="{stroke}" '
        'stroke-width="{thick}" stroke-linecap="round" stroke-linejoin="round"/></svg>'
    ).format(
        state=state.value,
        width=number(size * 8 / 3),
        height=number(size),
        spoken=spoken,
        path=escape(sign_path(state)),
        stroke=stroke,
        thick="3.2" if sign.heavy else "2",
    )
