"""The bow plan below each line of music: the way of the bow along its hair, and where on the string it runs.

Two bands under every system. The upper one is the bow from frog to tip: each stroke is a line that begins
under its first note where on the bow it begins, and ends where it ends, so a down-bow falls and an up-bow
rises, a steep line is a fast bow, and a thick one a heavy bow. The lower one is the string from fingerboard
to bridge in its five sounding points. Where a stroke will not go a sign, a word and a colour say so.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise

from markupsafe import escape

from colophony.app.look.pen import Pen
from colophony.app.look.signs import number, path_of
from colophony.app.score.engraving import Page, System, Word
from colophony.app.score.moving import clock_of, notes_of
from colophony.app.score.saying import (
    direction_word,
    is_fault,
    is_short,
    point_figure,
    short_remark,
    stroke_words,
)
from colophony.app.score.values import PlannedScore
from colophony.language import _
from colophony.teaching.score.strokes import Moment, Stroke

Point = tuple[float, float]

_BELOW_MUSIC, _BOW, _BETWEEN, _LANE, _LANES = 16.0, 66.0, 12.0, 8.0, 5
_ROW = 17.0  #: a row of words
_FOOT = 10.0
_LETTER = 6.4  #: room for a letter of the small words
_SMALL = 13.0
_LARGEST = 19.0  #: of the music's own words
#: Thickness of a stroke's line without weight, and what the heaviest of the plan adds.
_THIN, _THICK = 1.6, 5.4
#: A line this long, px, has a number at either end.
_WIDE = 40.0
#: A repeated stroke that lies so near to the first time is not drawn again.
_ALIKE_MM = 50.0
_BEFORE_NEXT = 3.0  #: px between a stroke's end and the next note
_TURNED = {"cello", "double bass"}  #: held so that the bridge is farther from the player's eyes


@dataclass(frozen=True, slots=True)
class Piece:
    """What of a stroke lies on one system: x, mm along the bow, weight in N and sounding point."""

    stroke: Stroke
    points: tuple[tuple[float, float, float, float], ...]
    is_begun: bool  #: the stroke begins here, not on the system before
    is_ended: bool


@dataclass(frozen=True, slots=True)
class Beat:
    """A moment of the piece at a place on the page, for what moves along while it sounds."""

    time_s: float
    x: float


@dataclass(frozen=True, slots=True)
class Line:
    """A system with its plan drawn below: SVG without the music itself; its height, its moments in time."""

    system: System
    drawing: str
    height: float
    beats: tuple[tuple[Beat, ...], ...]  #: one run for each time that it is played
    strokes: tuple[int, ...]


def lines_of(planned: PlannedScore, page: Page, pen: Pen, *, tops: Sequence[float] = ()) -> list[Line]:
    """Return every system of a page with the plan below it; ``tops`` says where each begins, else at 0."""
    pieces = _pieces(planned, page)
    runs = _runs(planned, page)
    heaviest = max((m.weight_n for s in planned.plan.strokes for m in s.path), default=1.0) or 1.0
    return [
        _line(planned, system, pieces[k], runs[k], pen, heaviest, tops[k] if tops else 0.0)
        for k, system in enumerate(page.systems)
    ]


def _line(
    planned: PlannedScore,
    system: System,
    pieces: Sequence[Piece],
    runs: tuple[tuple[Beat, ...], ...],
    pen: Pen,
    heaviest: float,
    begin: float,
) -> Line:
    top = begin + system.height + _BELOW_MUSIC
    bow = _BowBand(planned.plan.bow_mm, top, heaviest, pen)
    parts = [_music_words(word, begin, pen) for word in system.words]
    parts.append(bow.ground(system))
    shown = [piece for piece in pieces if piece.stroke.passing == 1 or _differs(piece, pieces)]
    parts += [bow.way(piece) for piece in shown]
    parts += [bow.lift(*pair) for pair in _lifts(shown)]
    words, rows = _remark_words(shown, system, pen, top + _BOW)
    parts.append(words)
    below = top + _BOW + rows * _ROW + _BETWEEN
    string = _StringBand(below, pen, turned=planned.plan.instrument in _TURNED)
    parts.append(string.ground(system))
    parts += [string.way(piece) for piece in shown if not piece.stroke.is_plucked]
    parts.append(string.numbers(shown))
    height = below + _LANES * _LANE + _FOOT - begin
    strokes = tuple(dict.fromkeys(piece.stroke.index for piece in pieces))
    return Line(system, "".join(parts), height, runs, strokes)


def _music_words(word: Word, begin: float, pen: Pen) -> str:
    size = min(word.size, _LARGEST)
    return pen.text(word.text, word.x, begin + word.y, size=size, anchor=word.anchor, bold=word.bold)


class _BowBand:
    """The bow from the frog, above, to the tip, below."""

    def __init__(self, bow_mm: float, top: float, heaviest: float, pen: Pen) -> None:
        self.bow_mm, self.top, self.heaviest, self.pen = bow_mm, top, heaviest, pen

    def y(self, at_mm: float) -> float:
        """Return the height of a place along the hair."""
        return self.top + _BOW * min(max(at_mm / self.bow_mm, 0.0), 1.0)

    def ground(self, system: System) -> str:
        """Return the empty band: its ends, its quarters, its bar lines and the names of its ends."""
        pen, left, right = self.pen, system.music_left - 8, system.music_right
        bottom = self.top + _BOW
        parts = [
            f'<rect x="{number(left)}" y="{number(self.top)}" width="{number(right - left)}" '
            f'height="{number(_BOW)}" fill="{pen.paint("wood")}"/>'
        ]
        for share, width in ((0.25, 0.7), (0.5, 1.2), (0.75, 0.7)):
            y = self.top + share * _BOW
            parts.append(pen.line([(left, y), (right, y)], pen.paint("line"), width))
        for x in system.bars:
            parts.append(pen.line([(x, self.top), (x, bottom)], pen.paint("line"), 1.0))
        for y in (self.top, bottom):
            parts.append(pen.line([(left, y), (right, y)], pen.paint("edge"), 1.2))
        for words, y in ((_("frog"), self.top + 9), (_("tip"), bottom)):
            parts.append(pen.text(words, left - 5, y, size=_SMALL, paint=pen.paint("quiet"), anchor="end"))
        return "".join(parts)

    def way(self, piece: Piece) -> str:
        """Return the line of a stroke, as thick as the bow is heavy."""
        stroke, pen = piece.stroke, self.pen
        if stroke.is_plucked:
            return "".join(
                pen.sign("plucked", x - 12, self.top + _BOW / 2, scale=0.5) for x, *_rest in piece.points[:1]
            )
        paint = pen.paint(_paint_of(stroke))
        line = [(x, self.y(at)) for x, at, _w, _p in piece.points]
        wide = [0.5 * (_THIN + _THICK * weight / self.heaviest) for _x, _at, weight, _p in piece.points]
        faint = ' fill-opacity="0.45"' if stroke.passing > 1 else ""
        parts = [f'<path d="{_band(line, wide)}" fill="{paint}"{faint}/>']
        if piece.is_begun:
            x, y = line[0]
            parts.append(f'<circle cx="{number(x)}" cy="{number(y)}" r="3.4" fill="{paint}"{faint}/>')
        if is_short(stroke) and piece.is_ended:
            parts.append(self._broken(line[-1], paint))
        return f'<g class="way" data-stroke="{stroke.index}">{"".join(parts)}</g>'

    def _broken(self, end: Point, paint: str) -> str:
        """Return the sign of hair that runs out: the line ends in a ragged edge."""
        x, y = end
        teeth = [(x - 1 + (3.5 if k % 2 else -2.5), y - 8 + 4 * k) for k in range(5)]
        return self.pen.line(teeth, paint, 2.0)

    def lift(self, before: Piece, after: Piece) -> str:
        """Return the way of a bow that leaves the string and is set anew elsewhere."""
        x0, x1 = before.points[-1][0], after.points[0][0]
        y0, y1 = self.y(before.points[-1][1]), self.y(after.points[0][1])
        middle = 0.5 * (x0 + x1)
        data = f"M{number(x0)} {number(y0)}Q{number(middle)} {number(self.top - 9)} {number(x1)} {number(y1)}"
        return self.pen.path(data, self.pen.paint("quiet"), 1.3, dash="1 4")


class _StringBand:
    """The string between bridge and fingerboard as the player sees it, in five sounding points."""

    def __init__(self, top: float, pen: Pen, *, turned: bool) -> None:
        self.top, self.pen, self.turned = top, pen, turned

    def y(self, point: float) -> float:
        """Return the height of a sounding point's middle, or of a place between."""
        lane = point - 0.5 if self.turned else _LANES + 0.5 - point
        return self.top + _LANE * min(max(lane, 0.0), float(_LANES))

    def ground(self, system: System) -> str:
        """Return the empty band: bridge, fingerboard, and the lanes between."""
        pen, left, right = self.pen, system.music_left - 8, system.music_right
        bottom = self.top + _LANES * _LANE
        parts = [
            pen.line([(left, y), (right, y)], pen.paint("line"), 0.7)
            for y in (self.top + _LANE * k for k in range(1, _LANES))
        ]
        bridge, board = (self.top, bottom) if self.turned else (bottom, self.top)
        parts.append(pen.line([(left, board), (right, board)], pen.paint("board"), 3.4))
        parts.append(pen.line([(left, bridge), (right, bridge)], pen.paint("rosin"), 1.6))
        for words, y in ((_("fingerboard"), board), (_("bridge"), bridge)):
            parts.append(
                pen.text(words, left - 5, y + (9 if y == self.top else 0), size=_SMALL,
                         paint=pen.paint("quiet"), anchor="end")
            )  # fmt: skip
        return "".join(parts)

    def way(self, piece: Piece) -> str:
        """Return where on the string a stroke runs."""
        line = [(x, self.y(point)) for x, _at, _w, point in piece.points]
        faint = 0.45 if piece.stroke.passing > 1 else 1.0
        return self.pen.line(line, self.pen.paint("ink"), 2.2, opacity=faint)

    def numbers(self, pieces: Iterable[Piece]) -> str:
        """Return the number of the sounding point where it changes, beside its line."""
        parts, before = [], ""
        for piece in pieces:
            if piece.stroke.is_plucked or piece.stroke.passing > 1:
                continue
            for k, anchor in ((0, "start"), (-1, "end")):
                x, _at, _weight, point = piece.points[k]
                words = point_figure(point)
                is_wide = piece.points[-1][0] - piece.points[0][0] > _WIDE
                if words != before and (k == 0 or is_wide):
                    y = self.y(point)
                    y += 13 if y - self.top < 2 * _LANE else -4
                    parts.append(self.pen.text(words, x, y, size=_SMALL, bold=True, over=True, anchor=anchor))
                    before = words
        return "".join(parts)


def _band(line: Sequence[Point], half: Sequence[float]) -> str:
    """Return path data around a line that is ``2 half`` px thick at each of its points."""
    upper, lower = [], []
    for k, (x, y) in enumerate(line):
        (xa, ya), (xb, yb) = line[max(k - 1, 0)], line[min(k + 1, len(line) - 1)]
        length = math.hypot(xb - xa, yb - ya) or 1.0
        nx, ny = -(yb - ya) / length * half[k], (xb - xa) / length * half[k]
        upper.append((x - nx, y - ny))
        lower.append((x + nx, y + ny))
    return path_of(upper + lower[::-1]) + "Z"


def _paint_of(stroke: Stroke) -> str:
    """Return the colour of a stroke: one that fails is told from the others."""
    return "raucous" if any(is_fault(remark) for remark in stroke.remarks) else "ink"


def _differs(piece: Piece, pieces: Sequence[Piece]) -> bool:
    """Tell whether a repeated stroke goes otherwise than the first time."""
    return not any(
        other.stroke.passing == 1
        and other.stroke.element_ids == piece.stroke.element_ids
        and other.stroke.direction == piece.stroke.direction
        and abs(other.stroke.start_at_mm - piece.stroke.start_at_mm) < _ALIKE_MM
        and abs(other.stroke.end_at_mm - piece.stroke.end_at_mm) < _ALIKE_MM
        for other in pieces
    )


def _lifts(pieces: Sequence[Piece]) -> Iterator[tuple[Piece, Piece]]:
    for before, after in pairwise(pieces):
        if after.stroke.is_retake and after.stroke.index == before.stroke.index + 1 and after.is_begun:
            yield before, after


def _remark_words(pieces: Sequence[Piece], system: System, pen: Pen, top: float) -> tuple[str, int]:
    """Return the short words of what will not go, under its stroke, and how many rows they take."""
    ends: list[float] = []
    parts = []
    told: set[tuple[str, float]] = set()  # a repeated stroke is not told twice
    for piece in pieces:
        words = ", ".join(short_remark(remark) for remark in piece.stroke.remarks)
        if not words or not piece.is_begun or (words, piece.points[0][0]) in told:
            continue
        told.add((words, piece.points[0][0]))
        room = _LETTER * len(words) + 22
        left = max(0.0, min(piece.points[0][0] - 4, system.music_right - room))
        row = next((k for k, end in enumerate(ends) if end <= left), len(ends))
        ends[row : row + 1] = [left + room]
        y = top + _ROW * (row + 1)
        paint = pen.paint(_paint_of(piece.stroke))
        parts.append(_warning(left + 6, y - 4.5, pen, paint))
        parts.append(pen.text(words, left + 15, y, size=_SMALL, paint=paint, bold=True))
    return "".join(parts), len(ends)


def _warning(x: float, y: float, pen: Pen, paint: str) -> str:
    """Return the sign of a caution, as everywhere on the pages: a stroke and a point."""
    return pen.line([(x, y - 6.5), (x, y + 1)], paint, 2.4) + (
        f'<circle cx="{number(x)}" cy="{number(y + 4.6)}" r="1.7" fill="{paint}"/>'
    )


def _at(path: Sequence[Moment], share: float) -> tuple[float, float, float]:
    """Return mm along the bow, weight and sounding point at a share of a stroke's time."""
    for before, after in pairwise(path):
        if share <= after.share:
            span = after.share - before.share
            part = (share - before.share) / span if span else 1.0
            return tuple(
                getattr(before, name) + part * (getattr(after, name) - getattr(before, name))
                for name in ("at_mm", "weight_n", "sounding_point")
            )
    last = path[-1]
    return last.at_mm, last.weight_n, last.sounding_point


def _pieces(planned: PlannedScore, page: Page) -> list[list[Piece]]:
    """Return for each system what of the strokes lies on it, in the order in which it is played."""
    rows: list[list[Piece]] = [[] for _system in page.systems]
    for stroke in planned.plan.strokes:
        knots = list(_knots(planned, page, stroke))
        used = sorted({row for row, _x, _share in knots})
        for row in used:
            own = [(x, share) for r, x, share in knots if r == row]
            points = tuple((x, *_state(stroke, share)) for x, share in own)
            rows[row].append(Piece(stroke, points, row == used[0], row == used[-1]))
    return rows


def _state(stroke: Stroke, share: float) -> tuple[float, float, float]:
    if not stroke.path:
        return stroke.start_at_mm, stroke.weight_n, stroke.sounding_point
    return _at(stroke.path, share)


def _knots(planned: PlannedScore, page: Page, stroke: Stroke) -> Iterator[tuple[int, float, float]]:
    """Yield system, x and share of a stroke's time: at each note, at each bend between, and where it ends."""
    notes = list(notes_of(planned, stroke))
    bends = [moment.share for moment in stroke.path]
    for k, note in enumerate(notes):
        found = _find(page, note.event.element_ids)
        if found is None:
            continue
        row, x = found
        ends = _end_x(planned, page, stroke.event_indices[k], row, x)
        if k == len(notes) - 1:
            ends = max(ends - _BEFORE_NEXT, x + 2.0)
        yield row, x, note.begin
        span = note.end - note.begin
        for share in bends:
            if note.begin < share < note.end:
                yield row, x + (ends - x) * (share - note.begin) / span, share
        following = _find(page, notes[k + 1].event.element_ids) if k + 1 < len(notes) else None
        if following is None or following[0] != row:
            yield row, ends, note.end


def _end_x(planned: PlannedScore, page: Page, index: int, row: int, x: float) -> float:
    """Return where a note at ``x`` ends on the page: at the next note or rest, else at the next bar line."""
    event, system = planned.part.events[index], page.systems[row]
    for later in planned.part.events[index + 1 :]:
        if later.onset_ql > event.onset_ql:
            found = _find(page, later.element_ids)
            if found is not None and found[0] == row and found[1] > x:
                return found[1] - 4.0
            break
    return next((bar for bar in system.bars if bar > x), system.music_right) - 4.0


def _find(page: Page, ids: Iterable[str]) -> tuple[int, float] | None:
    """Return the system and the x of the first of some notes that is drawn."""
    return next((page.where[id_] for id_ in ids if id_ in page.where), None)


def _runs(planned: PlannedScore, page: Page) -> list[tuple[tuple[Beat, ...], ...]]:
    """Return for each system when what of it sounds; a run for each time that it is played."""
    clock = clock_of(planned)
    runs: list[list[list[Beat]]] = [[] for _system in page.systems]
    row_before, x_before = -1, 0.0
    for event in planned.part.events:
        found = _find(page, event.element_ids)
        if found is None or event.is_grace:
            continue
        row, x = found
        if row != row_before or x <= x_before:
            runs[row].append([])
        end = Beat(clock.at(event.end_ql), page.systems[row].music_right)
        runs[row][-1][-1:] = [Beat(clock.at(event.onset_ql), x), end]
        row_before, x_before = row, x
    return [tuple(tuple(run) for run in row) for row in runs]


def describe(line: Line, planned: PlannedScore) -> str:
    """Return the plan of one system in words, for who does not see the drawing."""
    chosen = set(line.strokes)
    says = [
        _("{direction}, {place}").format(
            direction=direction_word(stroke), place=stroke_words(stroke, planned.plan.bow_mm)
        )
        for stroke in planned.plan.strokes
        if stroke.index in chosen and stroke.passing == 1
    ]
    return str(escape("; ".join(says)))
