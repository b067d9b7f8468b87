"""The course of a part over its notes: how fast, and how loud, at every onset."""

from __future__ import annotations

import bisect
from collections.abc import Sequence
from typing import TypeAlias

from colophony.teaching.score.dynamics import degree_of
from colophony.teaching.score.piece import Dynamic, DynamicMark, Hairpin, Part, TempoMark, Turning

#: Before the first written dynamic. Common practice, no source.
FIRST_MARK: Dynamic = "mf"
#: A hairpin without a dynamic behind it goes so many degrees. Common practice, no source.
_HAIRPIN_DEGREES = 1.0
#: A dynamic this soon behind a hairpin's end is its goal, quarters.
_SOON_QL = 2.0


class Clock:
    """Seconds of a piece, from its tempo marks."""

    def __init__(self, tempos: Sequence[TempoMark], *, first: float | None = None) -> None:
        """Take the marks; ``first`` (quarters a minute) replaces the first and scales the others."""
        scale = 1.0 if first is None else first / tempos[0].quarters_per_minute
        self._onsets = [mark.onset_ql for mark in tempos]
        self._per_quarter = [60.0 / (scale * mark.quarters_per_minute) for mark in tempos]
        self._seconds = [0.0]
        for k in range(1, len(tempos)):
            passed = (self._onsets[k] - self._onsets[k - 1]) * self._per_quarter[k - 1]
            self._seconds.append(self._seconds[-1] + passed)
        self.quarters_per_minute = 60.0 / self._per_quarter[0]

    def at(self, onset_ql: float) -> float:
        """Return the seconds from the start of the piece at an onset."""
        k = max(0, bisect.bisect_right(self._onsets, onset_ql) - 1)
        return self._seconds[k] + (onset_ql - self._onsets[k]) * self._per_quarter[k]


#: Begin, end, and the degrees there.
_Pin: TypeAlias = tuple[float, float, float, float]


def _along(pin: _Pin, onset_ql: float) -> float:
    """Return the degree within a hairpin; at its end beyond it."""
    begin, end, first, last = pin
    return first + (last - first) * min(1.0, (onset_ql - begin) / (end - begin))


class Loudness:
    """The dynamic at every onset, as a degree (place in `DYNAMICS`, fractions within a hairpin)."""

    def __init__(self, part: Part) -> None:
        """Take a part's marks and hairpins."""
        marks = [mark for mark in part.dynamics if not mark.is_accent]
        if not marks or marks[0].onset_ql > 0.0:
            marks.insert(0, DynamicMark(0.0, FIRST_MARK))
        self._accents = {mark.onset_ql: degree_of(mark.mark) for mark in part.dynamics if mark.is_accent}
        self._steps = [(mark.onset_ql, degree_of(mark.mark)) for mark in marks]
        self._pins: list[_Pin] = []
        for pin in sorted(part.hairpins, key=lambda pin: pin.onset_ql):
            self._lay(pin)
        self._begins = [pin[0] for pin in self._pins]
        self._onsets = [onset for onset, _ in self._steps]

    def at(self, onset_ql: float) -> float:
        """Return the degree just after an onset."""
        k = bisect.bisect_right(self._begins, onset_ql) - 1
        if k >= 0 and onset_ql < self._pins[k][1]:
            return _along(self._pins[k], onset_ql)
        return self._steps[max(0, bisect.bisect_right(self._onsets, onset_ql + 1e-9) - 1)][1]

    def before(self, onset_ql: float) -> float:
        """Return the degree just before an onset: where a stroke that ends there arrives."""
        k = bisect.bisect_left(self._begins, onset_ql) - 1
        if k >= 0 and onset_ql <= self._pins[k][1] + 1e-9:
            return _along(self._pins[k], onset_ql)
        return self.at(onset_ql - 1e-6)

    def accent(self, onset_ql: float) -> float | None:
        """Return the degree of an accent (sf, fp) on one onset, None where there is none."""
        return self._accents.get(onset_ql)

    def turning(self, begin_ql: float, end_ql: float) -> Turning | None:
        """Return whether a stroke between two onsets grows or falls."""
        change = self.before(end_ql) - self.at(begin_ql)
        if abs(change) < 0.05:
            return None
        return "crescendo" if change > 0.0 else "diminuendo"

    def _lay(self, pin: Hairpin) -> None:
        """Let a hairpin lead from the dynamic where it begins to the one behind it, or one degree on."""
        onsets = [onset for onset, _ in self._steps]
        k = max(0, bisect.bisect_right(onsets, pin.onset_ql + 1e-9) - 1)
        first = self._steps[k][1]
        if self._pins and pin.onset_ql <= self._pins[-1][1] + 1e-9:  # goes on from where the last one is
            first = _along(self._pins[-1], pin.onset_ql)
        grows = pin.turning == "crescendo"
        last = first + (_HAIRPIN_DEGREES if grows else -_HAIRPIN_DEGREES)
        end_ql = pin.end_ql
        if k + 1 < len(self._steps):
            onset, goal = self._steps[k + 1]
            if onset <= end_ql + _SOON_QL:
                end_ql = min(end_ql, onset) if onset < end_ql else end_ql
                if (goal > first) == grows and goal != first:
                    last = goal
        last = min(7.0, max(0.0, last))
        if end_ql <= pin.onset_ql:
            return
        self._pins.append((pin.onset_ql, end_ql, first, last))
        if k + 1 >= len(self._steps) or self._steps[k + 1][0] > end_ql + _SOON_QL:
            self._steps.insert(k + 1, (end_ql, last))
