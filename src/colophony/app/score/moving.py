"""A stroke in time: which of its notes sounds when."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from colophony.app.score.values import PlannedScore
from colophony.teaching.score.course import Clock
from colophony.teaching.score.piece import Event
from colophony.teaching.score.strokes import Stroke


def clock_of(planned: PlannedScore) -> Clock:
    """Return the seconds of a piece at the plan's tempo."""
    return Clock(planned.part.tempos, first=planned.plan.quarters_per_minute)


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
