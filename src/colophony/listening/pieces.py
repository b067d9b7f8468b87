"""A note, measured and cut into pieces where the bow turned: what the verdicts on strokes start from."""

from __future__ import annotations

import itertools
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from colophony.listening.direction import Biphases, Reversal, biphases, find_reversals
from colophony.listening.notes import Note
from colophony.listening.periodicity import Regularity, measure
from colophony.listening.pitch import HOP, HOP_S, Floats, strongest_period
from colophony.listening.rows import Rows
from colophony.listening.tone import votes_for_rough
from colophony.listening.warp import Periods, to_periods

_TAIL_DB = 9.0
_DIED_DB = 14.0
_REPEATS = 0.75


@dataclass(frozen=True, slots=True)
class Context:
    """What the take has shown before this passage: see `colophony.listening.tone.judge_tone`."""

    start_s: float
    lowest_hz: float | None
    residual_db: float | None
    tone_db: float | None = None  #: median level of the passage's notes that are not rough


@dataclass(frozen=True, slots=True, eq=False)
class Piece:
    """One stroke of a note before it is judged. ``silent_start`` tells that it began from silence."""

    start_s: float
    end_s: float
    reversal: bool
    silent_start: bool
    silent_end: bool


@dataclass(frozen=True, slots=True, eq=False)
class Measured:
    """A note with everything measured on it. Times are seconds in the passage."""

    note: Note
    periods: Periods
    regular: Regularity
    bi: Biphases
    turns: list[Reversal]


def measure_note(fine: Floats, note: Note) -> Measured:
    """Measure a note of a passage at 48 kHz; a note that seems rough is heard again with another period."""
    periods = _periods(fine, note)
    regular = measure(periods)
    if mostly_rough(regular) or not note.pitched:
        second = _second_opinion(fine, note)
        if second is not None:
            note, periods, regular = second
    bi = biphases(periods)
    return Measured(note, periods, regular, bi, find_reversals(bi) if note.pitched else [])


def mostly_rough(regular: Regularity) -> bool:
    """Whether most windows are rough."""
    return len(regular) >= 4 and float((votes_for_rough(regular) >= 3).mean()) > 0.5


def _periods(fine: Floats, note: Note) -> Periods:
    if len(note.frequency_hz) < 2 or note.frequency_hz.min() <= 0:
        return Periods(np.empty(0), np.empty(0), np.empty((0, 1), np.complex64))
    return to_periods(fine, frequency_hz=note.frequency_hz, start_s=(note.first + 0.5) * HOP_S)


def _second_opinion(fine: Floats, note: Note) -> tuple[Note, Periods, Regularity] | None:
    """Look for another period in a note that seems rough; return it where the note is calm with it."""
    sound = np.ascontiguousarray(fine[2 * HOP * note.first : 2 * HOP * note.last : 2])
    other = strongest_period(sound)
    good = other.clarity > _REPEATS
    if len(good) == 0 or good.mean() < 0.6:
        return None
    hz = other.frequency_hz
    centre = float(np.median(hz[good]))
    clear = good & (np.abs(12 * np.log2(hz / centre)) < 1.0)
    if clear.mean() < 0.5:
        return None
    filled = np.interp(np.arange(len(hz)), np.flatnonzero(clear), hz[clear]).astype(np.float32)
    again = replace(note, frequency_hz=filled, clear=clear, pitched=True, octave_high=np.zeros(len(hz), bool))
    periods = _periods(fine, again)
    regular = measure(periods)
    if len(regular) < 4 or float((votes_for_rough(regular) >= 2).mean()) > 0.4:
        return None
    return again, periods, regular


def levels_at(rows: Rows, times_s: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return the level (dB) of the rows at these times."""
    at = np.clip((times_s / HOP_S).astype(int), 0, len(rows) - 1)
    return rows.level_db[at].astype(np.float64)


def pieces_of(one: Measured, tail_s: float) -> list[Piece]:
    """Cut a note where the bow turned, before ``tail_s`` from when on it only died away."""
    note = one.note
    start, end = note.first * HOP_S, note.last * HOP_S
    last = min(end - 0.12, tail_s - 0.25)  # a sound that dies away turns its phases without a bow
    turns = [t for t in one.turns if start + 0.08 < t.time_s < last]
    borders = [start, *(t.time_s for t in turns), end]
    return [
        Piece(a, b, i > 0, i == 0 and note.after_silence, i == len(turns) and note.before_silence)
        for i, (a, b) in enumerate(itertools.pairwise(borders))
    ]


def between(periods: Periods, start_s: float, end_s: float) -> Periods:
    """Return the periods between two times."""
    a, b = np.searchsorted(periods.times_s, (start_s, end_s))
    return Periods(periods.times_s[a:b], periods.frequency_hz[a:b], periods.harmonics[a:b])


def tail_start_s(rows: Rows, a: int, b: int) -> float:
    """Return when, in rows ``a`` to ``b``, the bow left the string: then the level only falls, and far."""
    level = rows.level_db[a:b].astype(np.float64)
    if len(level) < 12:
        return b * HOP_S
    smooth = np.convolve(np.pad(level, 2, mode="edge"), np.ones(5) / 5, "valid")
    usual = float(np.median(smooth[: max(6, int(0.8 * len(smooth)))]))
    if smooth[-1] > usual - _DIED_DB:
        return b * HOP_S
    above = np.flatnonzero(smooth > usual - _TAIL_DB)
    last = int(above[-1]) if len(above) else len(smooth) - 1
    # Back to where the fall began: it must have been falling all the way.
    while last > 0 and smooth[last - 1] > smooth[last] and smooth[last] < usual - 2.0:
        last -= 1
    return (a + last) * HOP_S
