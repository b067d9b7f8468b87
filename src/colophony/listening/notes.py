"""Where one note ends and the next begins: at silence, and at a step of the pitch."""

from __future__ import annotations

import itertools
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from colophony.listening.pitch import Floats
from colophony.listening.rows import Rows, bridge_gaps, drop_short, runs

_STEP_SEMITONES = 0.75
_STABLE_SEMITONES = 0.8
_CLEAR = 0.7  # clarity of a row that may shape a note; a rough tone's rows fall below
_SHORTEST_ROWS = 7
_BRIDGE_ROWS = 3
_START_ROWS = 25


@dataclass(frozen=True, slots=True, eq=False)
class Note:
    """Rows ``first`` to ``last`` (exclusive) hold one note.

    ``frequency_hz`` has one value a row without holes; ``clear`` marks the rows it was really heard in.
    ``pitched`` is false where no row held a stable pitch. ``after_silence`` and ``before_silence`` tell
    what lies around; ``octave_high`` marks rows that sounded an octave or more above the note.
    """

    first: int
    last: int
    frequency_hz: Floats
    clear: NDArray[np.bool_]
    pitched: bool
    after_silence: bool
    before_silence: bool
    octave_high: NDArray[np.bool_]

    @property
    def centre_hz(self) -> float:
        """Median pitch in Hz over the rows it was heard in."""
        return float(np.median(self.frequency_hz[self.clear] if self.clear.any() else self.frequency_hz))


@dataclass(slots=True)
class _Part:
    """Rows with one stable pitch, in semitones re 1 Hz."""

    first: int
    last: int
    semitone: float


def find_notes(rows: Rows) -> list[Note]:
    """Return the notes of a passage in order."""
    sounding = drop_short(bridge_gaps(rows.sounding, _BRIDGE_ROWS), 5)
    notes: list[Note] = []
    for start, end in runs(sounding):
        notes += _notes_of_region(rows, start, end)
    return notes


def _notes_of_region(rows: Rows, start: int, end: int) -> list[Note]:
    hz, clarity = rows.frequency_hz[start:end], rows.clarity[start:end]
    semitone = np.where(hz > 0, 12 * np.log2(np.maximum(hz, 1.0)), np.nan)
    parts = _join(_stable_parts(semitone, clarity), rows.level_db[start:end])
    if not parts:
        voiced = hz > 0
        if voiced.sum() < 3:
            return [_unpitched(start, end, np.zeros(end - start, np.float32))]
        heard = np.interp(np.arange(len(hz)), np.flatnonzero(voiced), hz[voiced])
        return [_unpitched(start, end, heard.astype(np.float32))]
    borders = [0]
    for left, right in itertools.pairwise(parts):
        gap = rows.level_db[start + left.last : start + right.first]
        borders.append(left.last + (int(np.argmin(gap)) if len(gap) > 4 else len(gap) // 2))
    borders.append(end - start)
    notes = []
    for i, part in enumerate(parts):
        a, b = borders[i], borders[i + 1]
        off = semitone[a:b] - np.float32(part.semitone)
        clear = (np.abs(off) < 1.2) & (clarity[a:b] > 0.4)
        if not clear.any():
            continue
        known = np.flatnonzero(clear)
        filled: Floats = np.interp(np.arange(b - a), known, hz[a:b][known]).astype(np.float32)
        high = np.isin(np.round(off), (12, 19, 24)) & (clarity[a:b] > _CLEAR)
        notes.append(Note(start + a, start + b, filled, clear, True, i == 0, i == len(parts) - 1, high))
    return notes


def _unpitched(start: int, end: int, hz: Floats) -> Note:
    none = np.zeros(end - start, bool)
    return Note(start, end, hz, hz > 0, False, True, True, none)


def _stable_parts(semitone: Floats, clarity: Floats) -> list[_Part]:
    """Split the clear rows at pitch steps; keep the parts long enough to be notes."""
    count = len(semitone)
    clear = ~np.isnan(semitone) & ((clarity > _CLEAR) | _holds(semitone))
    at = np.flatnonzero(clear)
    if len(at) < _SHORTEST_ROWS:
        return []
    pitch = semitone[at]
    # A step is where the medians of the 50 ms before and after differ, 20 ms left out between them.
    padded = np.pad(pitch, 7, mode="edge")
    windows = np.median(np.lib.stride_tricks.sliding_window_view(padded, 5), axis=1)
    before, after = windows[1 : 1 + len(pitch)], windows[8 : 8 + len(pitch)]
    change = np.abs(after - before)
    jump = np.abs(np.diff(pitch, prepend=pitch[0]))
    cuts = {0, len(at)}
    for a, b in runs(change > _STEP_SEMITONES):
        cuts.add(a + int(np.argmax(jump[a:b] + 0.01 * change[a:b])))
    cuts |= {int(i) for i in np.flatnonzero(np.diff(at) > 6) + 1}
    order = sorted(cuts)
    parts = []
    for a, b in itertools.pairwise(order):
        if b - a < _SHORTEST_ROWS:
            continue
        middle = float(np.median(pitch[a:b]))
        near = np.flatnonzero(np.abs(pitch[a:b] - middle) < _STABLE_SEMITONES)
        if len(near) >= _SHORTEST_ROWS and len(near) > 0.6 * (b - a):
            parts.append(_Part(int(at[a + near[0]]), int(min(at[a + near[-1]] + 1, count)), middle))
    return parts


def _holds(semitone: Floats) -> NDArray[np.bool_]:
    """Mark rows whose pitch stays within 0.7 semitone over a tenth of a second around them."""
    around = np.lib.stride_tricks.sliding_window_view(np.pad(semitone, 5, constant_values=np.nan), 11)
    spread = around.max(axis=1) - around.min(axis=1)  # not a number where a row had no pitch
    return np.asarray(spread < 0.7)


def _join(parts: list[_Part], level_db: Floats) -> list[_Part]:
    """Join parts that are one note: the same pitch without a dip, or a start that sounded an octave off."""
    joined: list[_Part] = []
    for part in parts:
        last = joined[-1] if joined else None
        if last is not None:
            between = level_db[max(last.last - 3, 0) : part.first + 3]
            around = min(
                np.median(level_db[last.first : last.last]), np.median(level_db[part.first : part.last])
            )
            dipped = len(between) > 0 and float(around - between.min()) > 9.0
            same = abs(part.semitone - last.semitone) < 0.6
            octave_start = (
                len(joined) == 1
                and last.last - last.first <= _START_ROWS
                and abs(round(abs(last.semitone - part.semitone)) % 12) in (0, 7)
                and abs(last.semitone - part.semitone) > 6
                and abs(abs(last.semitone - part.semitone) - round(abs(last.semitone - part.semitone))) < 0.4
                and abs(part.first - last.last) < 12
                and part.last - part.first > 2 * (last.last - last.first)
            )
            back = (
                len(joined) >= 2
                and abs(part.semitone - joined[-2].semitone) < 0.6
                and abs(abs(last.semitone - part.semitone) - 12) < 0.4
                and not dipped
            )
            if (same and not dipped) or (octave_start and not dipped):
                joined[-1] = _Part(
                    last.first, part.last, part.semitone if octave_start else _longer(last, part)
                )
                continue
            if back:
                first = joined[-2]
                joined[-2:] = [_Part(first.first, part.last, _longer(first, part))]
                continue
        joined.append(part)
    return joined


def _longer(one: _Part, other: _Part) -> float:
    return one.semitone if one.last - one.first >= other.last - other.first else other.semitone
