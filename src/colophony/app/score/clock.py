"""When does what sound? From quarter lengths of a part as played to seconds at the plan's tempo."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterator
from dataclasses import dataclass

from colophony.app.score.values import PlannedScore
from colophony.teaching.score.piece import Event
from colophony.teaching.score.strokes import Stroke


@dataclass(frozen=True, slots=True)
class Clock:
    """Seconds at onsets: from each knot on at a steady tempo."""

    onsets_ql: tuple[float, ...]
    seconds: tuple[float, ...]  #: at those onsets
    quarter_s: tuple[float, ...]  #: length of a quarter from there on

    @classmethod
    def of(cls, planned: PlannedScore) -> Clock:
        """Return the clock of a plan: the part's tempos, all changed as much as the first one was."""
        marks = planned.part.tempos
        pace = planned.plan.quarters_per_minute
        if not marks:
            return cls((0.0,), (0.0,), (60.0 / pace,))
        factor = pace / marks[0].quarters_per_minute
        quarters = tuple(60.0 / (mark.quarters_per_minute * factor) for mark in marks)
        onsets, seconds = [0.0], [0.0]
        for before, mark in zip(quarters, marks[1:], strict=False):
            seconds.append(seconds[-1] + (mark.onset_ql - onsets[-1]) * before)
            onsets.append(mark.onset_ql)
        return cls(tuple(onsets), tuple(seconds), quarters)

    def at(self, onset_ql: float) -> float:
        """Return the seconds from the start of the piece at an onset."""
        k = max(bisect_right(self.onsets_ql, onset_ql) - 1, 0)
        return self.seconds[k] + (onset_ql - self.onsets_ql[k]) * self.quarter_s[k]


@dataclass(frozen=True, slots=True)
class Moving:
    """A note of a stroke in time: the shares of the stroke's time at which it begins and ends."""

    event: Event
    begin: float
    end: float


def notes_of(planned: PlannedScore, stroke: Stroke) -> Iterator[Moving]:
    """Yield the notes of a stroke; grace notes take no share of its time."""
    length = stroke.duration_ql or 1.0
    for index in stroke.event_indices:
        event = planned.part.events[index]
        begin = (event.onset_ql - stroke.onset_ql) / length
        yield Moving(event, min(max(begin, 0.0), 1.0), min(max(begin + event.duration_ql / length, 0.0), 1.0))
