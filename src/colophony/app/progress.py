"""A student's weeks: what changed, what was passed, what is next; for page, paper and command line."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING, Any

from colophony.app.look.figures import day, day_and_month
from colophony.app.look.progress_picture import Weeks, progress_picture
from colophony.app.own_exercises import every_exercise, title_of
from colophony.language import _, ngettext
from colophony.records.domain import Student
from colophony.teaching.findings import Reader
from colophony.teaching.plans import plan_from_plain
from colophony.teaching.progress import Change, Heard, Measure, Progress, by_day, heard, progress
from colophony.teaching.wording import progress as wording

if TYPE_CHECKING:
    from markupsafe import Markup

    from colophony.app.look.tokens import Theme
    from colophony.records.studio import Studio
    from colophony.teaching.plans import Plan

#: At most so many dates stand below a picture.
_MOST_NAMED = 3


@dataclass(frozen=True, slots=True)
class PassedOn:
    """An exercise that was passed, and the day of the first time."""

    key: str
    title: str
    on: date


@dataclass(frozen=True, slots=True)
class StudentProgress:
    """What the studio knows of a student's weeks; ``plan`` is the latest, None where there is none."""

    student: Student
    progress: Progress
    passed: tuple[PassedOn, ...]
    plan: Plan | None


@dataclass(frozen=True, slots=True)
class MeasureShown:
    """One measure as a reader meets it: its name, a sentence, the picture that proves it."""

    measure: Measure
    name: str
    sentence: str
    picture: Markup
    rows: tuple[tuple[date, str], ...]  #: the same as figures


def progress_of(studio: Studio, student: Student, *, since: date | None = None) -> StudentProgress:
    """Return a student's progress from all practice takes that the studio keeps, or those since a day."""
    takes = []
    for take in studio.takes(student.id):
        on = take.taken_at.astimezone().date()
        if take.status == "heard" and take.purpose == "practice" and (since is None or on >= since):
            findings = studio.findings(take.id)
            takes.append(heard(findings, day=on.toordinal(), instrument=take.instrument, size=take.size))
    kept = studio.latest_plan(student.id)
    return StudentProgress(
        student=student,
        progress=progress(takes, instrument=student.instrument, size=student.size),
        passed=_passed(studio, student, since=since),
        plan=None if kept is None else plan_from_plain(kept.content),
    )


def measures_shown(
    shown: StudentProgress, *, reader: Reader, theme: Theme | None = None
) -> list[MeasureShown]:
    """Return each measure with a value: its sentence and the picture that proves it."""
    found = shown.progress
    if not found.changes:
        return []
    weeks = _weeks([*found.takes, *found.others])
    return [_measure(change, found, weeks, reader=reader, theme=theme) for change in found.changes]


def headline(shown: StudentProgress, *, reader: Reader) -> str:
    """Return one sentence: what changed over the weeks."""
    return wording.headline(shown.progress, reader=reader)


def looked_at(shown: StudentProgress) -> str:
    """Return what was looked at: how many takes, from when to when, on which instrument."""
    takes, student = shown.progress.takes, shown.student
    if not takes:
        return ""
    first, last = (date.fromordinal(take.day) for take in (takes[0], takes[-1]))
    if first == last:
        said = ngettext(
            "{n} take on the {instrument} {size}, on {first}.",
            "{n} takes on the {instrument} {size}, on {first}.",
            len(takes),
        )
    else:
        said = ngettext(
            "{n} take on the {instrument} {size}, from {first} to {last}.",
            "{n} takes on the {instrument} {size}, from {first} to {last}.",
            len(takes),
        )
    return said.format(
        n=len(takes),
        instrument=_(student.instrument),
        size=student.size,
        first=day(first),
        last=day(last),
    )


def rarer_fault(shown: StudentProgress, *, reader: Reader) -> str:
    """Return which fault became rarer; empty where none did or it is too early."""
    fault = shown.progress.fault
    return "" if fault is None else wording.fault_sentence(fault, reader=reader)


def next_steps(shown: StudentProgress) -> list[str]:
    """Return what the latest plan sets out to do; empty without a plan."""
    if shown.plan is None:
        return []
    aims = [title_of(item.exercise) for item in shown.plan.items if item.role in ("change", "new")]
    return list(dict.fromkeys(aims))


def progress_to_json(shown: StudentProgress) -> dict[str, Any]:
    """Return the progress as plain JSON values."""
    found = shown.progress
    return {
        "student": shown.student.name,
        "instrument": shown.student.instrument,
        "size": shown.student.size,
        "takes": [
            {
                "day": date.fromordinal(take.day).isoformat(),
                "strokes": take.strokes,
                "clean_share": _rounded(take.clean_share, 3),
                "clean_starts": _rounded(take.clean_starts, 3),
                "level_swing_db": _rounded(take.level_swing_db, 1),
                "faults": dict(take.faults),
            }
            for take in found.takes
        ],
        "changes": [
            {
                "measure": change.measure,
                "days": change.days,
                "first": _rounded(change.first, 3),
                "last": _rounded(change.last, 3),
                "typical": _rounded(change.typical, 3),
                "is_clear": change.is_clear,
                "is_better": change.is_better if change.is_clear else None,
            }
            for change in found.changes
        ],
        "passed": [{"exercise": item.key, "on": item.on.isoformat()} for item in shown.passed],
    }


def _measure(
    change: Change, found: Progress, weeks: Weeks, *, reader: Reader, theme: Theme | None
) -> MeasureShown:
    measure = change.measure
    days, others = by_day(found.takes, measure), by_day(found.others, measure)
    name = wording.NAMES[measure].to(reader)
    rows = tuple((date.fromordinal(on), wording.measured(measure, value)) for on, value in days)
    told = "; ".join(f"{day(on)}: {text}" for on, text in rows)
    picture = progress_picture(
        measure,
        days,
        weeks=weeks,
        change=change,
        others=others,
        description=_("{name}, day by day: {days}").format(name=name, days=told),
        theme=theme,
    )
    return MeasureShown(measure, name, wording.change_sentence(change, reader=reader), picture, rows)


def _weeks(takes: Sequence[Heard]) -> Weeks:
    """Return the days that pictures span, with the first, the last and some between named."""
    first, last = min(take.day for take in takes), max(take.day for take in takes)
    count = min(_MOST_NAMED, last - first + 1)
    named = sorted({round(first + k * (last - first) / max(count - 1, 1)) for k in range(count)})
    return Weeks(first, last, [(on, day_and_month(date.fromordinal(on))) for on in named])


def _passed(studio: Studio, student: Student, *, since: date | None) -> tuple[PassedOn, ...]:
    """Return what was passed, by the day of the first time."""
    titles = {exercise.key: title_of(exercise) for exercise in every_exercise(studio)}
    first = {key: days[0] for key, days in studio.passed_when(student.id).items()}
    passed = [
        PassedOn(key, titles.get(key, key), on) for key, on in first.items() if since is None or on >= since
    ]
    return tuple(sorted(passed, key=lambda item: item.on))


def _rounded(value: float | None, digits: int) -> float | None:
    return None if value is None else round(value, digits)
