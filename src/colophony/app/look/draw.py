"""The picture of a take: one string from left to right, moving as it was heard to move.

In silence the string lies straight. In a span it makes the motion of the span's tone state, as tall as the
sound was loud, so that the picture needs no second code for the state: the line is the sign. The take is
cut into pieces of equal length that a page sets one after the other like bars on a line of music.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterable

import numpy as np
from markupsafe import Markup
from numpy.typing import NDArray

from colophony.app.look.figures import clock, note
from colophony.app.look.signs import SIGNS, number, path_of
from colophony.app.look.tokens import TEXT_FAMILY, Theme, colour
from colophony.language import _, ngettext
from colophony.listening.take import Span, Stroke, Take
from colophony.teaching.telling import is_quiet, told_spans, told_state

WIDTH, HEIGHT = 440.0, 104.0  #: of one piece, in drawing units
_MIDDLE, _REACH = 50.0, 26.0
_STEP = 4.6  #: drawing units for a motion's length of 1
_PIECE_SECONDS = (6.0, 10.0, 15.0, 30.0, 60.0)
_MOST_PIECES = 36
_LETTER = 9.0  #: room for one letter of a label
_QUIETEST = 0.16  #: of the reach: a soft stroke still shows its motion


def piece_seconds(duration_s: float) -> float:
    """Length in s of one piece of the picture: two pieces for a short take, at most 36 for any."""
    if duration_s <= 2 * _PIECE_SECONDS[0]:
        return max(duration_s / 2, 0.5)
    for seconds in _PIECE_SECONDS:
        if duration_s / seconds <= _MOST_PIECES:
            return seconds
    return 60.0 * math.ceil(duration_s / 60.0 / _MOST_PIECES)


class _Loudness:
    """Height of the picture at a time, 0 to 1, from the take's peaks; even where a take has no track."""

    def __init__(self, take: Take) -> None:
        track = take.track
        self._times: NDArray[np.float32] | None = None
        if track is not None and len(track.peak) and float(track.peak.max()) > 0:
            # Peaks over 50 ms: the motion drawn is far slower than the rows of the track.
            padded = np.pad(track.peak, 2, mode="edge")
            peak = np.lib.stride_tricks.sliding_window_view(padded, 5).max(axis=1)
            self._times = track.times_s
            self._height = (peak / np.percentile(peak[peak > 0], 99.0)).clip(0, 1) ** 0.6

    def at(self, times_s: Iterable[float]) -> NDArray[np.float64]:
        times = np.asarray(list(times_s), dtype=np.float64)
        if self._times is None:
            return np.full(len(times), 0.7)
        height: NDArray[np.float64] = np.interp(times, self._times, self._height).clip(_QUIETEST, 1.0)
        return height


def _motion_path(
    span: Span, start_s: float, end_s: float, x_of: float, origin_s: float, loud: _Loudness
) -> str:
    """Path data of a span's motion between two times; ``x_of`` is drawing units a second."""
    motion = SIGNS[span.state].motion
    width = (end_s - start_s) * x_of
    step = min(_STEP, width / motion.length)
    left = (start_s - origin_s) * x_of
    points: list[list[tuple[float, float]]] = []
    for k in range(math.ceil(width / (step * motion.length) - 1e-6)):
        for line in motion.lines:
            moved = [((k * motion.length + x) * step, y) for x, y in line]
            kept = [(x, y) for x, y in moved if x <= width + 1e-6]
            if len(kept) < min(2, len(line)):
                continue
            if len(line) > 1 and points and len(points[-1]) > 1 and points[-1][-1][0] == kept[0][0]:
                points[-1].extend(kept[1:])
            else:
                points.append(kept)
    flat = [x for line in points for x, _ in line]
    heights = iter(loud.at(start_s + x / x_of for x in flat))
    return "".join(
        path_of([(left + x, _MIDDLE - _REACH * y * next(heights)) for x, y in line]) for line in points
    )


def _shade_path(start_s: float, end_s: float, x_of: float, origin_s: float, loud: _Loudness) -> str:
    """Path data of the surface between the loudness and its mirror image."""
    count = max(2, min(160, round((end_s - start_s) * x_of / 3)))
    times = np.linspace(start_s, end_s, count)
    heights = _REACH * loud.at(times)
    xs = (times - origin_s) * x_of
    upper = [(float(x), _MIDDLE - float(h)) for x, h in zip(xs, heights, strict=True)]
    lower = [(float(x), _MIDDLE + float(h)) for x, h in zip(xs[::-1], heights[::-1], strict=True)]
    return path_of(upper + lower) + "Z"


def _bow_mark(stroke: Stroke, x: float) -> str:
    """The engraver's sign for down-bow or up-bow above a stroke's beginning; nothing where it is unknown."""
    if stroke.bow == "down":
        return f"M{number(x)} 18V10H{number(x + 8)}V18M{number(x)} 11.5H{number(x + 8)}"
    if stroke.bow == "up":
        return f"M{number(x)} 9L{number(x + 4)} 18L{number(x + 8)} 9"
    return ""


def take_pieces(take: Take, *, theme: Theme | None = None, numbered: bool = True) -> list[Markup]:
    """Return the picture of a take as ``<svg>`` pieces of equal length in seconds, in order of time.

    Without a theme the colours come from the page's style sheet; with one each piece stands alone, for a
    file or for paper. Each piece carries ``data-start`` and ``data-end`` in seconds.
    """
    seconds = piece_seconds(take.duration_s)
    count = max(1, math.ceil(take.duration_s / seconds - 1e-6))
    loud = _Loudness(take)
    return [
        _piece(take, k * seconds, (k + 1) * seconds, theme, loud, numbered=numbered) for k in range(count)
    ]


def _piece(
    take: Take, t0: float, t1: float, theme: Theme | None, loud: _Loudness, *, numbered: bool
) -> Markup:
    x_of = WIDTH / (t1 - t0)
    parts: list[str] = []
    free = t0  # where the string still lies straight
    end = min(t1, take.duration_s)
    for index, stroke in enumerate(take.strokes, start=1):
        if stroke.end_s <= t0 or stroke.start_s >= t1:
            continue
        begin = max(stroke.start_s, t0)
        if begin > free:
            parts.append(_rest(free, begin, x_of, t0, theme))
        for span in told_spans(stroke):
            a, b = max(span.start_s, t0), min(span.end_s, t1)
            if b > a:
                quiet = is_quiet(span, stroke)
                parts.append(_drawn_span(span, a, b, x_of, t0, theme, loud, quiet=quiet))
        parts.append(_labels(stroke, index if numbered else None, x_of, t0, theme))
        free = max(free, min(stroke.end_s, t1))
    if end > free:
        parts.append(_rest(free, end, x_of, t0, theme))
    parts.append(_text(clock(t0), 0.0, HEIGHT - 1.0, "quiet", theme, size=13))
    family = "" if theme is None else f' font-family="{TEXT_FAMILY}"'
    return Markup(
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {number(WIDTH)} {number(HEIGHT)}" '
        f'data-start="{t0:.3f}" data-end="{t1:.3f}" aria-hidden="true" focusable="false"{family}>'
        f"{''.join(parts)}</svg>"
    )


def _paint(name: str, theme: Theme | None) -> str:
    """The colour of a mark, for ``stroke`` or ``fill``: from the class around it or from the theme."""
    return "currentColor" if theme is None else colour(theme, name)


def _rest(start_s: float, end_s: float, x_of: float, t0: float, theme: Theme | None) -> str:
    line = path_of([((start_s - t0) * x_of, _MIDDLE), ((end_s - t0) * x_of, _MIDDLE)])
    return f'<path class="c-edge" d="{line}" stroke="{_paint("edge", theme)}" stroke-width="1"/>'


def _drawn_span(
    span: Span,
    a: float,
    b: float,
    x_of: float,
    t0: float,
    theme: Theme | None,
    loud: _Loudness,
    *,
    quiet: bool,
) -> str:
    """A span's loudness as a shade, its motion as a line.

    A ``quiet`` one is but the sound's coming or going: the string lies straight within the shade.
    """
    paint = _paint(span.state.value, theme)
    shade = _shade_path(a, b, x_of, t0, loud)
    if quiet:
        ends = ((a - t0) * x_of, _MIDDLE), ((b - t0) * x_of, _MIDDLE)
        motion, thick = path_of([*ends]), "1"
    else:
        motion = _motion_path(span, a, b, x_of, t0, loud)
        thick = "2.6" if SIGNS[span.state].heavy else "1.5"
    return (
        f'<g class="state-{span.state.value}"><path d="{shade}" fill="{paint}" fill-opacity="0.13"/>'
        f'<path d="{motion}" fill="none" stroke="{paint}" stroke-width="{thick}" '
        f'stroke-linecap="round" stroke-linejoin="round"/></g>'
    )


def _labels(stroke: Stroke, index: int | None, x_of: float, t0: float, theme: Theme | None) -> str:
    """Bow mark and number above, note below, each only where it fits over its own stroke.

    A stroke cut by the end of a piece may show number and note at the beginning of the next.
    """
    parts = []
    mark = ""
    if stroke.start_s >= t0 and _room(stroke, x_of, t0) >= _LETTER:
        mark = _bow_mark(stroke, (stroke.start_s - t0) * x_of + 1)
    if mark:
        parts.append(
            f'<path class="c-ink" d="{mark}" fill="none" stroke="{_paint("ink", theme)}" stroke-width="1.6"/>'
        )
    indent = 13.0 if stroke.bow else 0.0
    words: list[tuple[str, float, float, str, int]] = []
    if index is not None:
        words.append((str(index), indent, 18.0, "quiet", 14))
    if stroke.note:
        words.append((note(stroke.note), 0.0, 92.0, "ink", 15))
    for text, shift, y, role, size in words:
        x = _label_x(stroke, _LETTER * len(text), shift, x_of, t0)
        if x is not None:
            parts.append(_text(text, x, y, role, theme, size=size))
    return "".join(parts)


def _room(stroke: Stroke, x_of: float, t0: float) -> float:
    """How many drawing units of a stroke lie in the piece that begins at ``t0``."""
    return (min(stroke.end_s, t0 + WIDTH / x_of) - max(stroke.start_s, t0)) * x_of


def _label_x(stroke: Stroke, need: float, shift: float, x_of: float, t0: float) -> float | None:
    """Where in the piece that begins at ``t0`` a label stands; None where it does not fit or stood before."""
    if stroke.start_s >= t0:
        fits = _room(stroke, x_of, t0) >= shift + need
        return (stroke.start_s - t0) * x_of + shift if fits else None
    before = t0 - WIDTH / x_of
    cut = stroke.start_s >= before and _room(stroke, x_of, before) < shift + need
    return 0.0 if cut and _room(stroke, x_of, t0) >= need else None


def _text(text: str, x: float, y: float, role: str, theme: Theme | None, *, size: int) -> str:
    return str(
        Markup('<text class="c-{}" x="{}" y="{}" font-size="{}" fill="{}">{}</text>').format(
            role, number(x), number(y), size, _paint(role, theme), text
        )
    )


def take_words(take: Take) -> str:
    """The picture in one sentence, for a reader who hears the page."""
    if not take.strokes:
        line = _("Picture of the take, {time} seconds: no stroke was heard.")
        return line.format(time=f"{take.duration_s:.0f}")
    seen = Counter(told_state(stroke) for stroke in take.strokes)
    told = [_("{n} {state}").format(n=seen[state], state=SIGNS[state].word) for state in SIGNS if seen[state]]
    count = len(take.strokes)
    return ngettext(
        "Picture of the take, {time} seconds, {n} stroke: {states}. It is listed below in words.",
        "Picture of the take, {time} seconds, {n} strokes: {states}. Each stroke is listed below in words.",
        count,
    ).format(time=f"{take.duration_s:.0f}", n=count, states=", ".join(told))


def take_picture(take: Take, *, theme: Theme | None = None, numbered: bool = True) -> Markup:
    """Return the whole picture of a take as one figure, described in a sentence for those who hear it."""
    return Markup(
        '<div class="take" role="img" aria-label="{}"><div class="take-line">{}</div></div>'
    ).format(take_words(take), Markup("").join(take_pieces(take, theme=theme, numbered=numbered)))
