"""A plan and a list of exercises as text for a terminal."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from textwrap import wrap
from typing import TextIO

from colophony.app.look.figures import day
from colophony.app.own_exercises import title_of
from colophony.app.phrases import listed
from colophony.language import _, figures, ngettext
from colophony.teaching.cautions import caution
from colophony.teaching.exercises.exercise import AIMS, Exercise
from colophony.teaching.exercises.remarks import remark_words
from colophony.teaching.exercises.words import difficulty_words, rule_words, target_words
from colophony.teaching.findings import Reader
from colophony.teaching.plans import Plan, PlanItem

_WIDTH, _INDENT = 92, "   "


def print_plan(plan: Plan, *, name: str | None, reader: Reader, stream: TextIO) -> None:
    """Print a week: what to keep and to change, each exercise with why, what and when, and the cautions."""
    heading = _("Week of {day}: {instrument} {size}, {minutes} minutes a day").format(
        day=day(date.fromordinal(plan.first_day)),
        instrument=_(plan.instrument),
        size=plan.size,
        minutes=_minutes(plan.minutes_a_day),
    )
    lines = [heading if name is None else f"{name}. {heading}"]
    if plan.is_invented:
        lines.append(_("An invented first week: no student, no takes."))
    lines += _wrapped("", [remark_words(remark, reader) for remark in (*plan.keep, *plan.change)])
    for number, item in enumerate(plan.items, start=1):
        lines += ["", *_item(number, item, reader)]
    lines += ["", *_week(plan), ""]
    for each in plan.cautions:
        lines += _wrapped("", [caution(each, reader=reader)])
    stream.write("\n".join(lines) + "\n")


def print_exercises(exercises: Sequence[Exercise], *, reader: Reader, stream: TextIO) -> None:
    """Print exercises by aim: key, title, what to do and what comes before."""
    for aim, words in AIMS.items():
        of_aim = [exercise for exercise in exercises if exercise.aim == aim]
        if not of_aim:
            continue
        stream.write(f"{_(words)}\n")
        for exercise in of_aim:
            stream.write(f"  {exercise.key}: {title_of(exercise)}\n")
            for line in _wrapped(_INDENT + " ", [exercise.say.to(reader)]):
                stream.write(line + "\n")
            if exercise.before:
                before = _("After: {keys}").format(keys=", ".join(exercise.before))
                stream.write(f"{_INDENT} {before}\n")
        stream.write("\n")


def days_words(days: Sequence[int]) -> str:
    """Return days of the week: "day 1", "days 1 to 6", "days 1, 3 and 5"."""
    numbers = [str(day) for day in days]
    if len(days) > 2 and list(days) == list(range(days[0], days[-1] + 1)):
        return _("days {first} to {last}").format(first=numbers[0], last=numbers[-1])
    return ngettext("day {days}", "days {days}", len(days)).format(days=listed(numbers))


def _item(number: int, item: PlanItem, reader: Reader) -> list[str]:
    exercise = item.exercise
    lines = [
        _("{number}. {title} ({days}, {minutes} min)").format(
            number=number,
            title=title_of(exercise),
            days=days_words(item.days),
            minutes=_minutes(item.minutes),
        ),
        *_wrapped(_INDENT, [remark_words(remark, reader) for remark in item.why]),
        *_wrapped(_INDENT, [exercise.say.to(reader)]),
    ]
    for target in item.targets:
        lines += _wrapped(_INDENT, target_words(target, reader), hang="- ")
    lines += _wrapped(_INDENT, [_("Listen for: {words}").format(words=exercise.listen_for.to(reader))])
    lines += _wrapped(_INDENT, [rule_words(exercise.pass_rule, reader)])
    if item.difficulty is not None:
        lines += _wrapped(_INDENT, [difficulty_words(item.difficulty, reader)])
    if item.rest_minutes:
        lines.append(
            _INDENT + _("Then rest for {minutes} minutes.").format(minutes=_minutes(item.rest_minutes))
        )
    return lines


def _week(plan: Plan) -> list[str]:
    """Return one line a day: which exercises by number, and how long."""
    lines = []
    for number in range(1, 8):
        own = [str(place) for place, item in enumerate(plan.items, start=1) if number in item.days]
        if own:
            lines.append(
                _("Day {day}: exercises {numbers}, {minutes} minutes").format(
                    day=number, numbers=", ".join(own), minutes=_minutes(plan.minutes_on(number))
                )
            )
        else:
            lines.append(_("Day {day}: free").format(day=number))
    return lines


def _wrapped(indent: str, sentences: Sequence[str], *, hang: str = "") -> list[str]:
    text = " ".join(sentences)
    return wrap(text, _WIDTH, initial_indent=indent + hang, subsequent_indent=indent + " " * len(hang))


def _minutes(value: float) -> str:
    return figures(f"{value:g}")
