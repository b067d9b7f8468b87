"""Chooses the exercises of a week: what comes next, what comes back, what works against the main fault.

Sees no minutes: the wishes come in their order, the most wanted first, and `planning` fits them into days.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType

from colophony.teaching.exercises.difficulty import USUAL_RANGE_DB, Spread, difficulty_of, spread_of
from colophony.teaching.exercises.exercise import Difficulty, Exercise, Remark, Target
from colophony.teaching.findings import Advice, Findings
from colophony.teaching.plans import AgeGroup, PastPass, Role

#: Days of the week with practice; the seventh is free.
DAYS = 6
#: Days until an exercise that was passed for the first, second, ... time comes back.
REVIEW_DAYS = (1, 3, 7, 14, 30, 60)
#: Days on which steps begin that build on what came earlier in the week; sooner where nothing was passed yet.
_LATER, _LATER_IN_FIRST_WEEK = (4,), (2, 4)
_LATER_A_DAY = 3

#: What helps against a fault, best first. Judgement of the trade; no source.
AIMS_AGAINST: Mapping[str, tuple[str, ...]] = MappingProxyType(
    {
        "pressed": ("fast-light", "wander", "hold-point", "tilt"),
        "groaning": ("fast-light", "move-between-points", "hold-point"),
        "surface": ("hold-point", "move-between-points", "crescendo"),
        "no-tone": ("hold-point", "long-slow", "move-between-points"),
        "creaking-start": ("clean-start", "crossing"),
        "slipping-start": ("clean-start", "crossing"),
        "brighter": ("move-between-points", "tilt", "hold-point"),
        "duller": ("crescendo", "move-between-points", "hold-point"),
    }
)

#: The fault that a change is likeliest against, where a kept advice does not name its fault.
_FAULT_OF_CHANGE: Mapping[tuple[str, str], str] = MappingProxyType(
    {
        ("weight", "less"): "pressed",
        ("speed", "more"): "pressed",
        ("distance", "farther"): "pressed",
        ("weight", "more"): "surface",
        ("speed", "less"): "surface",
        ("distance", "nearer"): "surface",
    }
)

#: Tells what an exercise asks on the student's instrument; nothing where it cannot be done there.
TargetsOf = Callable[[Exercise], tuple[Target, ...]]


class History:
    """What was passed, how often in a row, and when."""

    def __init__(self, past: Sequence[PastPass]) -> None:
        """Take every check, in any order; of one day the best counts last."""
        self._by_key: dict[str, list[PastPass]] = {}
        for one in sorted(past, key=lambda one: (one.day, one.passed)):
            self._by_key.setdefault(one.key, []).append(one)

    @property
    def passed(self) -> tuple[str, ...]:
        """Keys of exercises whose last check was a pass."""
        return tuple(key for key, checks in self._by_key.items() if checks[-1].passed)

    def tries(self, key: str) -> int:
        """Return how often an exercise was tried since it was passed last."""
        checks = [one.passed for one in self._by_key.get(key, [])][::-1]
        return checks.index(True) if True in checks else len(checks)

    def last_day(self, key: str) -> int:
        """Return the day of the last check."""
        return self._by_key[key][-1].day

    def due(self, key: str) -> int:
        """Return the day on which a passed exercise should come back."""
        days = [one.day if one.passed else None for one in self._by_key[key]]
        in_a_row = len(set(days[len(days) - self._row(days) :]))
        return self.last_day(key) + REVIEW_DAYS[min(in_a_row, len(REVIEW_DAYS)) - 1]

    @staticmethod
    def _row(days: list[int | None]) -> int:
        backwards = days[::-1]
        return backwards.index(None) if None in backwards else len(days)


@dataclass(frozen=True, slots=True)
class Wish:
    """An exercise that would be good to have, on days, before the minutes are counted."""

    exercise: Exercise
    targets: tuple[Target, ...]
    difficulty: Difficulty | None
    role: Role
    why: tuple[Remark, ...]
    days: tuple[int, ...]


class Chooser:
    """Chooses exercises for one student; each comes at most once."""

    def __init__(
        self,
        exercises: Sequence[Exercise],
        targets_of: TargetsOf,
        *,
        history: History,
        findings: Sequence[Findings],
        age_group: AgeGroup,
    ) -> None:
        """Take what there is to choose from, and what is known of the student."""
        self._exercises = {exercise.key: exercise for exercise in exercises}
        self._targets_of, self._history, self._findings = targets_of, history, findings
        self._known: dict[str, tuple[Target, ...]] = {}
        self._spread: Spread = spread_of(findings, age_group=age_group, range_db=self._ordinary_range_db())
        self._taken: set[str] = set()

    # --- the parts of a week

    def reference(self, has_reference: bool) -> list[Wish]:
        """On the first day, where there is no accepted take of the player's own tone."""
        if has_reference:
            return []
        found = [one for one in self._exercises.values() if one.aim == "reference" and self._targets(one)]
        return [self._wish(one, "reference", Remark("why-reference"), (1,)) for one in found[:1]]

    def warm_up(self) -> list[Wish]:
        """The widest exercise that was passed, or the first that needs nothing before it; every day."""
        days = tuple(range(1, DAYS + 1))
        passed = [one for one in self._open() if one.key in self._history.passed]
        if passed:
            return [
                self._wish(one, "warm-up", Remark("why-warm-up"), days) for one in self._by_room(passed)[:1]
            ]
        first = [one for one in self._open() if not one.before and one.aim != "reference"]
        first = [one for one in first if self._targets(one)][:1]
        return [self._wish(one, "new", Remark("why-opening"), days) for one in first]

    def against_fault(self) -> list[Wish]:
        """Two exercises that work on the main fault of the last take, the wider first."""
        fault = main_fault(self._findings)
        if fault is None:
            return []
        aims = AIMS_AGAINST.get(fault, ())
        fitting = [one for one in self._open() if one.aim in aims and self._missing(one) <= 1]
        fitting.sort(key=lambda one: (self._missing(one), aims.index(one.aim)))
        chosen = self._by_room(fitting[:2])
        days = ((1, 2, 3, 4, 5, 6), (2, 4, 6))
        return [
            self._wish(one, "change", Remark("why-fault"), when)
            for one, when in zip(chosen, days, strict=False)
        ]

    def again(self) -> list[Wish]:
        """What was tried and not passed yet."""
        tried = [one for one in self._open() if self._history.tries(one.key) and not self._missing(one)]
        return [
            self._wish(
                one, "new", Remark("why-again", {"count": float(self._history.tries(one.key))}), (1, 3, 5)
            )
            for one in self._by_room(tried)[:1]
        ]

    def reviews(self, first_day: int) -> list[Wish]:
        """What was passed and is due in this week, the longest overdue first."""
        due = [
            (self._history.due(one.key) - first_day + 1, one)
            for one in self._open()
            if one.key in self._history.passed
        ]
        wishes = []
        for day, one in sorted((row for row in due if row[0] <= DAYS), key=lambda row: row[0]):
            when = max(1, day)
            since = first_day + when - 1 - self._history.last_day(one.key)
            wishes.append(self._wish(one, "review", Remark("why-review", {"days": float(since)}), (when,)))
        return wishes

    def next_steps(self) -> list[Wish]:
        """New exercises from wide to narrow; from the middle of the week those that build on them."""
        fresh = [
            one for one in self._open() if one.key not in self._history.passed and one.aim != "reference"
        ]
        ready = self._by_room([one for one in fresh if not self._missing(one)])[:3]
        kind = "why-new" if self._history.passed else "why-opening"
        days = ((1, 2, 3, 4, 5, 6), (1, 3, 5), (2, 4, 6))
        wishes = [self._wish(one, "new", Remark(kind), when) for one, when in zip(ready, days, strict=False)]
        begins = _LATER if self._history.passed else _LATER_IN_FIRST_WEEK
        for begin in begins:  # each step may build on those of the days before
            later = [one for one in self._open() if one in fresh and self._stand_on_this_week(one)]
            for one in self._by_room(later)[:_LATER_A_DAY]:
                last = next(key for key in reversed(one.before) if key in self._taken)
                why = Remark("why-later", {"title": self._exercises[last].title})
                wishes.append(self._wish(one, "new", why, tuple(range(begin, DAYS + 1))))
        return wishes

    # --- what they stand on

    def _wish(self, one: Exercise, role: Role, why: Remark, days: tuple[int, ...]) -> Wish:
        self._taken.add(one.key)
        return Wish(one, self._targets(one), self._difficulty(one), role, (why,), days)

    def _open(self) -> list[Exercise]:
        return [one for one in self._exercises.values() if one.key not in self._taken]

    def _ordinary_range_db(self) -> float:
        """Return the playable range of an ordinary stroke: the first that stays in one lane."""
        stays = (self._targets(one) for one in self._exercises.values() if one.aim == "hold-point")
        first = next((targets for targets in stays if targets), None)
        return first[0].narrowest.range_db if first else USUAL_RANGE_DB

    def _targets(self, one: Exercise) -> tuple[Target, ...]:
        if one.key not in self._known:
            self._known[one.key] = self._targets_of(one)
        return self._known[one.key]

    def _difficulty(self, one: Exercise) -> Difficulty | None:
        targets = self._targets(one)
        return difficulty_of(one, targets, self._spread) if targets else None

    def _missing(self, one: Exercise) -> int:
        """Return how many exercises of this library should be passed before and are not, all the way down."""
        return len(self._requirements(one) - set(self._history.passed))

    def _requirements(self, one: Exercise) -> set[str]:
        found: set[str] = set()
        waiting = list(one.before)
        while waiting:
            key = waiting.pop()
            if key in self._exercises and key not in found:
                found.add(key)
                if key not in self._history.passed:  # who passed a step needs not go below it
                    waiting += self._exercises[key].before
        return found

    def _stand_on_this_week(self, one: Exercise) -> bool:
        """Tell whether an exercise needs something unpassed, all of which is in this week already."""
        missing = [key for key in one.before if key in self._exercises and key not in self._history.passed]
        return bool(missing) and all(key in self._taken for key in missing)

    def _by_room(self, some: Sequence[Exercise]) -> list[Exercise]:
        """Return those that can be done on this instrument, from wide to narrow."""
        rooms = {one.key: self._difficulty(one) for one in some}
        doable = [one for one in some if rooms[one.key] is not None]

        def room(one: Exercise) -> float:
            difficulty = rooms[one.key]
            return 0.0 if difficulty is None else difficulty.room

        return sorted(doable, key=room, reverse=True)


def main_fault(findings: Sequence[Findings]) -> str | None:
    """Return the fault to work on: the newest take's, or that of the newest take that has one of three."""
    for one in findings[:3]:
        if one.summary.main_advice is not None and (fault := fault_of(one.summary.main_advice)):
            return fault
    return None


def fault_of(advice: Advice) -> str | None:
    """Return the fault that an advice is against, None where that is not known."""
    return advice.fault or _FAULT_OF_CHANGE.get((advice.change, advice.direction))
