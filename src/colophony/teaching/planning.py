"""Makes the week's plan: what the last takes ask for, what comes next, what comes back, and why.

A pure function of what it is handed; days are ordinals (`datetime.date.toordinal`). Minutes, breaks and the
days of rest are common practice, no source. That practice spread over days is remembered longer than the
same amount at once is established (N. J. Cepeda, H. Pashler, E. Vul, J. T. Wixted & D. Rohrer, "Distributed
practice in verbal recall tasks", Psychological Bulletin 132, 354-380, 2006; from memory; of words, not of
hands): hence the reviews. Their widening steps (`choosing.REVIEW_DAYS`) are a choice: docs/decisions/0217.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from statistics import median
from types import MappingProxyType
from typing import Any

from colophony.errors import InputError
from colophony.language import _
from colophony.listening.take import ToneState
from colophony.teaching.cautions import ON_EVERY_SHEET
from colophony.teaching.choosing import DAYS, Chooser, History, TargetsOf, Wish, fault_of, main_fault
from colophony.teaching.exercises.exercise import Exercise, Remark
from colophony.teaching.findings import Findings
from colophony.teaching.plans import AgeGroup, PastPass, Plan, PlanItem, minutes_on

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
#: Where a week leaves minutes over, exercises are given up to so much more time; tried in this order.
_TIMES = (1.5, 1.4, 1.3, 1.2, 1.1)
#: Share of clean time, or of clean starts, that is worth keeping; swing of the level, dB. Chosen.
_KEEP_SHARE, _KEEP_SWING_DB = 0.85, 4.0
#: Sizes that small children play. Common practice, no source.
_SMALL_SIZES = ("1/4", "1/8", "1/10", "1/16")


def age_group_of(*, minor: bool, reader: str, size: str = "4/4") -> AgeGroup:
    """Return the likeliest age group of a student whose group is not known.

    A minor on a quarter size or smaller is taken for a small child (common practice, no source), so that
    minutes err on the short side; else who is worded for as a child for 7 to 11, another minor for 12 to 17.
    """
    if not minor:
        return "of-age"
    if size in _SMALL_SIZES:
        return "small-child"
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
    history = History(past)
    chooser = Chooser(exercises, targets_of, history=history, findings=findings, age_group=age_group)
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


# --- minutes and rests


def _fit(wishes: Sequence[Wish], minutes: float, age_group: AgeGroup) -> list[PlanItem]:
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


def _item(wish: Wish, days: tuple[int, ...], minutes: float) -> PlanItem:
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


def _keep(findings: Sequence[Findings], history: History) -> tuple[Remark, ...]:
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
    return sum(any(fault_of(item) == fault for item in advice) for one in findings for advice in one.advice)
