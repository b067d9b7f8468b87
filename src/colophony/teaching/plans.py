"""The week's plan: what to keep, what to change, which exercises on which day, and why.

Knows no clock: days are ordinals (`datetime.date.toordinal`), handed in.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Literal

from colophony.teaching.exercises.exercise import Difficulty, Exercise, Remark, Target
from colophony.teaching.exercises.plain import from_plain, to_plain

__all__ = [
    "AGE_GROUPS",
    "AgeGroup",
    "PastPass",
    "Plan",
    "PlanItem",
    "minutes_on",
    "plan_from_plain",
    "to_plain",
]

AgeGroup = Literal["small-child", "child", "teen", "of-age"]
#: Below 7, 7 to 11, 12 to 17, 18 and more years.
AGE_GROUPS: tuple[AgeGroup, ...] = ("small-child", "child", "teen", "of-age")

#: "warm-up": easy, and known to work; "change": against the main fault; "new": the next step;
#: "review": passed before; "reference": a take of the player's own tone.
Role = Literal["warm-up", "change", "new", "review", "reference"]


@dataclass(frozen=True, slots=True)
class PastPass:
    """An exercise that was checked on a day (ordinal), and whether it was passed."""

    key: str
    day: int
    passed: bool = True


@dataclass(frozen=True, slots=True)
class PlanItem:
    """One exercise of the week.

    Attributes
    ----------
    exercise : whole, so that a kept plan stays readable when the library changes
    targets : one for each string it is played on
    difficulty : against what this student showed; None where nothing could be computed
    role : why it is here, in one word
    why : why it is here, to be said by `exercises.words.remark_words`
    days : of the week, 1 (the first day of the plan) to 7
    minutes : on each of these days
    rest_minutes : to rest afterwards
    """

    exercise: Exercise
    targets: tuple[Target, ...]
    difficulty: Difficulty | None
    role: Role
    why: tuple[Remark, ...]
    days: tuple[int, ...]
    minutes: float
    rest_minutes: float = 0.0


@dataclass(frozen=True, slots=True)
class Plan:
    """A week of exercises for one player and instrument.

    Attributes
    ----------
    first_day : ordinal of its first day
    instrument, size : what it was computed for
    age_group : whose breaks and minutes it has
    minutes_a_day : exercises and rests together
    keep, change : what went well, what to work on, to be said by `exercises.words.remark_words`
    items : in the order they are played on a day
    cautions : names of `colophony.teaching.cautions.CAUTIONS`
    is_invented : an invented starter without takes
    """

    first_day: int
    instrument: str
    size: str
    age_group: AgeGroup
    minutes_a_day: float
    keep: tuple[Remark, ...]
    change: tuple[Remark, ...]
    items: tuple[PlanItem, ...]
    cautions: tuple[str, ...]
    is_invented: bool = False

    def on_day(self, number: int) -> tuple[PlanItem, ...]:
        """Return what is played on a day of the week, 1 to 7."""
        return tuple(item for item in self.items if number in item.days)

    def minutes_on(self, number: int) -> float:
        """Return the minutes of a day of the week with the rests between its exercises."""
        return minutes_on(self.items, number)


def minutes_on(items: Sequence[PlanItem], day: int) -> float:
    """Return the minutes that items take on a day of the week with the rests between them."""
    played = [item for item in items if day in item.days]
    return sum(item.minutes for item in played) + sum(item.rest_minutes for item in played[:-1])


def plan_from_plain(value: Mapping[str, Any]) -> Plan:
    """Return the plan that `to_plain` turned into JSON values; raises `InputError` for anything else."""
    return from_plain(Plan, value)
