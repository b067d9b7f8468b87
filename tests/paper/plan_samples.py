"""Invented weeks: shipped exercises with targets from the published limits, which need no engine."""

from __future__ import annotations

import datetime

from colophony.teaching.exercises.exercise import Remark
from colophony.teaching.exercises.library import find_exercise, library
from colophony.teaching.exercises.targets import targets_of
from colophony.teaching.plans import Plan, PlanItem, Role

FIRST_DAY = datetime.date(2026, 12, 7)  # a Monday

_WEEK: tuple[tuple[str, Role, str, tuple[int, ...], float], ...] = (
    ("hold-point-short", "warm-up", "why-warm-up", (1, 2, 3, 4, 5, 6), 3.0),
    ("crescendo-in", "change", "why-fault", (1, 2, 3, 4, 5, 6), 4.0),
    ("start-middle", "new", "why-new", (1, 3, 5), 3.0),
    ("high-octave", "review", "why-review", (2, 4, 6), 3.0),
    ("crossing-slow", "new", "why-new", (4, 5, 6), 4.0),
    ("reference-open-strings", "reference", "why-reference", (6,), 4.0),
)


def sample_plan(instrument: str = "violin", size: str = "4/4", *, items: int = 6) -> Plan:
    """A week of up to six exercises."""
    made = []
    for key, role, why, days, minutes in _WEEK[:items]:
        exercise = find_exercise(key, library())
        made.append(
            PlanItem(
                exercise=exercise,
                targets=targets_of(exercise, instrument, size),
                difficulty=None,
                role=role,
                why=(Remark(why, {"days": 9.0, "count": 2.0}),),
                days=days,
                minutes=minutes,
                rest_minutes=2.0 if len(made) == 2 else 0.0,
            )
        )
    return Plan(
        first_day=FIRST_DAY.toordinal(),
        instrument=instrument,
        size=size,
        age_group="child",
        minutes_a_day=20.0,
        keep=(Remark("keep-starts", {"share": 0.8}),),
        change=(Remark("change-pressed", {"count": 5.0}),),
        items=tuple(made),
        cautions=("pain", "breaks", "ears", "microphone", "recordings"),
    )
