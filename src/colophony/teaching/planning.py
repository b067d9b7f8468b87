"""Makes the week's plan: what the last takes ask for, what comes next, what comes back, and why.

A pure function of what it is handed; days are ordinals (`datetime.date.toordinal`). Minutes, breaks and the
days of rest are common practice, no source. That practice spread over days is remembered longer than the
same amount at once is established (N. J. Cepeda, H. Pashler, E. Vul, J. T. Wixted & D. Rohrer, "Distributed
practice in verbal recall tasks", Psychological Bulletin 132, 354-380, 2006; from memory; of words, not of
hands): hence the reviews. Their widening steps (`REVIEW_DAYS`) are a choice. See docs/decisions/0217.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from statistics import median
from types import MappingProxyType
from typing import Any

from colophony.errors import InputError
from colophony.language import _
from colophony.listening.take import ToneState
from colophony.teaching.cautions import ON_EVERY_SHEET
from colophony.teaching.exercises.difficulty import Spread, difficulty_of, spread_of
from colophony.teaching.exercises.exercise import Difficulty, Exercise, Remark, Target
from colophony.teaching.findings import Advice, Findings
from colophony.teaching.plans import AgeGroup, PastPass, Plan, PlanItem, Role, minutes_on

#: Days of the week with practice; the seventh is free.
DAYS = 6
#: For each age group: minutes a day for tone, longest stretch without a rest, the rest, minutes.
#: Common practice, no source; the teacher knows better.
MINUTES: Mapping[str, tuple[float, float, float]] = MappingProxyType(
    {
        "small-child": (10.0, 5.0, 2.0),
        "child": (15.0, 10.0, 3.0),
        "teen": (25.0, 20.0, 5.0),
        "of-age": (30.0, 25.0, 5.0),
    }
)
MINUTES_LIMITS = (5.0, 120.0)
#: Days until an exercise that was passed for the first, second, ... time comes back.
REVIEW_DAYS = (1, 3, 7, 14, 30, 60)
#: Days on which steps begin that build on what came earlier in the week; sooner where nothing was passed yet.
_LATER, _LATER_IN_FIRST_WEEK = (4,), (2, 4)
_LATER_A_DAY = 3
#: Where a week leaves minutes over, exercises are given up to so much more time; tried in this order.
_TIMES = (1.5, 1.4, 1.3, 1.2, 1.1)
#: Share of clean time, or of clean starts, that is worth keeping; swing of the level, dB. Chosen.
_KEEP_SHARE, _KEEP_SWING_DB = 0.85, 4.0

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


def age_group_of(*, minor: bool, reader: str) -> AgeGroup:
    """Return the likeliest age group of a student whose group is not known.

    Who is worded for as a child is taken for 7 to 11, another minor for 12 to 17.
    """
    if not minor:
        return "of-age"
    return "child" if reader == "child" else "teen"


def make_plan(
    *,
    instrument: str,
    size: str,
    first_day: int,
    age_group: AgeGroup,
    exercises: Sequence[Exercise],
    targets_of: TargetsOf,
    findings: Sequence[Findings] = (),
    past: Sequence[PastPass] = (),
    minutes_a_day: float | None = None,
    has_reference: bool = False,
    is_invented: bool = False,
) -> Plan:
    """Return the plan of a week.

    Parameters
    ----------
    first_day : ordinal of its first day
    exercises : to choose from, in their own order
    targets_of : what an exercise asks on this instrument; asked only of those that come into question
    findings : of the last takes, newest first
    past : exercises that were checked, in any order
    minutes_a_day : 5 to 120, rests included; by default what the age group is used to
    has_reference : a reference take of this instrument is accepted already

    Raises `InputError` for minutes out of range or when there is nothing to choose from.
    """
    usual, _stretch, _rest = MINUTES[age_group]
    minutes = usual if minutes_a_day is None else minutes_a_day
    if not MINUTES_LIMITS[0] <= minutes <= MINUTES_LIMITS[1]:
        least, most = MINUTES_LIMITS
        raise InputError(
            _("{minutes} minutes a day are out of range: choose {least} to {most}").format(
                minutes=f"{minutes:g}", least=f"{least:g}", most=f"{most:g}"
            )
        )
    if not exercises:
        raise InputError(_("there is no exercise to choose from: add one, or leave the library in"))
    history = _History(past)
    chooser = _Chooser(exercises, targets_of, history, findings, age_group)
    wishes = [
        *chooser.reference(has_reference),
        *chooser.warm_up(),
        *chooser.against_fault(),
        *chooser.again(),
        *chooser.reviews(first_day),
        *chooser.next_steps(),
    ]
    items = _with_rests(_stretched(_fit(wishes, minutes, age_group), minutes, age_group), age_group)
    return Plan(
        first_day=first_day,
        instrument=instrument,
        size=size,
        age_group=age_group,
        minutes_a_day=minutes,
        keep=_keep(findings, history),
        change=_change(findings),
        items=items,
        cautions=ON_EVERY_SHEET,
        is_invented=is_invented,
    )


class _History:
    """What was passed, how often in a row, and when."""

    def __init__(self, past: Sequence[PastPass]) -> None:
        self._by_key: dict[str, list[PastPass]] = {}
        for one in sorted(past, key=lambda one: one.day):
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
class _Wish:
    """An exercise that would be good to have, on days, before the minutes are counted."""

    exercise: Exercise
    targets: tuple[Target, ...]
    difficulty: Difficulty | None
    role: Role
    why: tuple[Remark, ...]
    days: tuple[int, ...]


class _Chooser:
    """Chooses exercises for one student; each comes at most once."""

    def __init__(
        self,
        exercises: Sequence[Exercise],
        targets_of: TargetsOf,
        history: _History,
        findings: Sequence[Findings],
        age_group: AgeGroup,
    ) -> None:
        self._exercises = {exercise.key: exercise for exercise in exercises}
        self._targets_of, self._history, self._findings = targets_of, history, findings
        self._known: dict[str, tuple[Target, ...]] = {}
        self._spread: Spread = spread_of(findings, age_group=age_group)
        self._taken: set[str] = set()

    # --- the parts of a week

    def reference(self, has_reference: bool) -> list[_Wish]:
        """On the first day, where there is no accepted take of the player's own tone."""
        if has_reference:
            return []
        found = [one for one in self._exercises.values() if one.aim == "reference" and self._targets(one)]
        return [self._wish(one, "reference", Remark("why-reference"), (1,)) for one in found[:1]]

    def warm_up(self) -> list[_Wish]:
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

    def against_fault(self) -> list[_Wish]:
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

    def again(self) -> list[_Wish]:
        """What was tried and not passed yet."""
        tried = [one for one in self._open() if self._history.tries(one.key) and not self._missing(one)]
        return [
            self._wish(
                one, "new", Remark("why-again", {"count": float(self._history.tries(one.key))}), (1, 3, 5)
            )
            for one in self._by_room(tried)[:1]
        ]

    def reviews(self, first_day: int) -> list[_Wish]:
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

    def next_steps(self) -> list[_Wish]:
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

    def _wish(self, one: Exercise, role: Role, why: Remark, days: tuple[int, ...]) -> _Wish:
        self._taken.add(one.key)
        return _Wish(one, self._targets(one), self._difficulty(one), role, (why,), days)

    def _open(self) -> list[Exercise]:
        return [one for one in self._exercises.values() if one.key not in self._taken]

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
        if one.summary.main_advice is not None and (fault := _fault_of(one.summary.main_advice)):
            return fault
    return None


def _fault_of(advice: Advice) -> str | None:
    return advice.fault or _FAULT_OF_CHANGE.get((advice.change, advice.direction))


# --- minutes and rests


def _fit(wishes: Sequence[_Wish], minutes: float, age_group: AgeGroup) -> list[PlanItem]:
    """Return the wishes that the minutes of each day hold, rests included, the most wanted first."""
    items: list[PlanItem] = []
    for wish in wishes:
        takes = min(wish.exercise.minutes, MINUTES[age_group][1], minutes)
        days = wish.days
        while days:
            tried = [*items, _item(wish, days, takes)]
            over = _days_over(tried, minutes, age_group)
            if not over:
                items = tried
                break
            kept = tuple(day for day in days if day not in over)
            if kept == days:  # a rest that it calls for would make another day too long
                break
            days = kept
    return items


def _item(wish: _Wish, days: tuple[int, ...], minutes: float) -> PlanItem:
    return PlanItem(wish.exercise, wish.targets, wish.difficulty, wish.role, wish.why, days, minutes)


def _stretched(items: Sequence[PlanItem], minutes: float, age_group: AgeGroup) -> list[PlanItem]:
    """Return the items with more time, in half minutes, where even the fullest day leaves some over."""
    longest = MINUTES[age_group][1]
    for times in _TIMES:
        tried = [replace(one, minutes=min(longest, int(2.0 * times * one.minutes) / 2.0)) for one in items]
        if not _days_over(tried, minutes, age_group):
            return tried
    return list(items)


def _days_over(items: Sequence[PlanItem], minutes: float, age_group: AgeGroup) -> set[int]:
    """Return the days on which items with their rests take more than the minutes."""
    rested = _with_rests(items, age_group)
    return {day for day in range(1, DAYS + 1) if minutes_on(rested, day) > minutes}


def _with_rests(items: Sequence[PlanItem], age_group: AgeGroup) -> tuple[PlanItem, ...]:
    """Return the items with a rest wherever a day would otherwise have too long a stretch."""
    _usual, stretch, rest = MINUTES[age_group]
    resting: set[int] = set()
    for day in range(1, DAYS + 1):
        played, before = 0.0, None
        for number, item in enumerate(items):
            if day not in item.days:
                continue
            if before is not None and played + item.minutes > stretch:
                resting.add(before)
            if before in resting:
                played = 0.0
            played, before = played + item.minutes, number
    return tuple(
        replace(item, rest_minutes=rest if number in resting else 0.0) for number, item in enumerate(items)
    )


# --- what to keep, what to change


def _keep(findings: Sequence[Findings], history: _History) -> tuple[Remark, ...]:
    found: list[Remark] = []
    shares = [one.summary.clean_share for one in findings if one.summary.clean_share is not None]
    if shares and median(shares) >= _KEEP_SHARE:
        found.append(Remark("keep-clean", {"share": float(median(shares))}))
    strokes = [stroke for one in findings for stroke in one.take.strokes]
    grades = [stroke.onset.grade == "clean" for stroke in strokes if stroke.onset.grade is not None]
    if grades and sum(grades) / len(grades) >= _KEEP_SHARE:
        found.append(Remark("keep-starts", {"share": sum(grades) / len(grades)}))
    swings = [
        stroke.steadiness.level_swing_db
        for stroke in strokes
        if stroke.steadiness.level_swing_db is not None and stroke.state is not ToneState.PLUCKED
    ]
    if swings and median(swings) <= _KEEP_SWING_DB:
        found.append(Remark("keep-steady", {"swing": float(median(swings))}))
    if history.passed:
        found.append(Remark("keep-passed", {"count": float(len(history.passed))}))
    return tuple(found)


def _change(findings: Sequence[Findings]) -> tuple[Remark, ...]:
    if not findings:
        return (Remark("nothing-heard"),)
    fault = main_fault(findings)
    if fault is None:
        return (Remark("change-nothing"),)
    values: dict[str, Any] = {"count": float(_strokes_with(fault, findings))}
    return (Remark(f"change-{fault}", values),)


def _strokes_with(fault: str, findings: Sequence[Findings]) -> int:
    return sum(any(_fault_of(item) == fault for item in advice) for one in findings for advice in one.advice)
