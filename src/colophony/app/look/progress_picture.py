"""The picture of one measure over weeks: a dot a day, and the line through them where a change is sure."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from markupsafe import Markup, escape

from colophony.app.look.pen import Pen
from colophony.app.look.signs import number
from colophony.app.look.tokens import TEXT_FAMILY, Theme
from colophony.teaching.progress import Change, Measure
from colophony.teaching.wording.progress import measured

WIDTH, HEIGHT = 520.0, 168.0
_LEFT, _RIGHT, _TOP, _BOTTOM = 62.0, 500.0, 14.0, 132.0
_LEAST_SWING_DB = 4.0
_SMALL = 15.0


@dataclass(frozen=True, slots=True)
class Weeks:
    """The days that a picture spans, and the names of some of them below it."""

    first: int
    last: int
    named: Sequence[tuple[int, str]]

    def x(self, day: float) -> float:
        """Return where a day lies from left to right."""
        if self.last == self.first:
            return 0.5 * (_LEFT + _RIGHT)
        return _LEFT + (_RIGHT - _LEFT) * (day - self.first) / (self.last - self.first)


def progress_picture(
    measure: Measure,
    days: Sequence[tuple[int, float]],
    *,
    weeks: Weeks,
    change: Change | None,
    others: Sequence[tuple[int, float]] = (),
    description: str,
    theme: Theme | None = None,
) -> Markup:
    """Return the picture as ``<svg>``; without a theme in the colours of the page around it.

    Parameters
    ----------
    days : (day, value) on the instrument played now, in order
    change : its line is drawn where the change is clear
    others : days on another instrument or size, as rings
    description : the picture in words
    """
    pen = Pen(theme)
    top = _top(measure, [value for _, value in (*days, *others)])

    def y(value: float) -> float:
        return _BOTTOM - (_BOTTOM - _TOP) * min(value, top) / top

    parts = [_scale(pen, measure, top), _names(pen, weeks)]
    if change is not None and change.is_clear:
        ends = [(weeks.x(days[0][0]), y(change.first)), (weeks.x(days[-1][0]), y(change.last))]
        parts.append(pen.line(ends, pen.paint("rosin"), 4))
    ring = f'fill="{pen.paint("paper")}" stroke="{pen.paint("quiet")}" stroke-width="2"'
    parts += [_dot(weeks.x(day), y(value), ring) for day, value in others]
    parts += [_dot(weeks.x(day), y(value), f'fill="{pen.paint("ink")}"') for day, value in days]
    return Markup(
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH:g} {HEIGHT:g}" role="img" '
        f'aria-label="{escape(description)}" font-family="{TEXT_FAMILY}, sans-serif">{"".join(parts)}</svg>'
    )


def _top(measure: Measure, values: Sequence[float]) -> float:
    if measure != "level_swing_db":
        return 1.0
    return max(_LEAST_SWING_DB, 2.0 * math.ceil(max(values, default=0.0) / 2.0))


def _scale(pen: Pen, measure: Measure, top: float) -> str:
    """Return three quiet lines across, each with its figure."""
    parts = []
    for share in (0.0, 0.5, 1.0):
        height = _BOTTOM - (_BOTTOM - _TOP) * share
        parts.append(pen.line([(_LEFT, height), (_RIGHT, height)], pen.paint("line"), 1))
        parts.append(
            pen.text(
                measured(measure, share * top),
                _LEFT - 10,
                height + 5,
                size=_SMALL,
                paint=pen.paint("quiet"),
                anchor="end",
            )
        )
    return "".join(parts)


def _names(pen: Pen, weeks: Weeks) -> str:
    parts = []
    for day, name in weeks.named:
        x = weeks.x(day)
        anchor = "start" if x < _LEFT + 20 else "end" if x > _RIGHT - 20 else "middle"
        parts.append(pen.line([(x, _BOTTOM), (x, _BOTTOM + 6)], pen.paint("edge"), 1.5))
        parts.append(pen.text(name, x, _BOTTOM + 25, size=_SMALL, paint=pen.paint("quiet"), anchor=anchor))
    return "".join(parts)


def _dot(x: float, y: float, style: str) -> str:
    return f'<circle cx="{number(x)}" cy="{number(y)}" r="5.5" {style}/>'
