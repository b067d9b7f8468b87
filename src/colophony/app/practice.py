"""Use case: what an exercise asks of this student's instrument, and the week's plan."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import date
from typing import TYPE_CHECKING, Any

from colophony.app.kept_ranges import ask_playable
from colophony.errors import InputError
from colophony.physics.strings import strings_of
from colophony.teaching.exercises.exercise import Exercise, Passed, Target, to_plain
from colophony.teaching.exercises.passing import check_take
from colophony.teaching.exercises.ranges import (
    DISTANCES,
    SPEEDS_M_S,
    AskRanges,
    StringRanges,
    published_ranges,
)
from colophony.teaching.exercises.remarks import remark_words
from colophony.teaching.exercises.targets import targets_of
from colophony.teaching.findings import READERS, Findings
from colophony.teaching.planning import age_group_of, make_plan
from colophony.teaching.plans import AgeGroup, PastPass, Plan

if TYPE_CHECKING:
    from colophony.app.kept_maps import KeptMaps
    from colophony.physics.maps import PlayableRanges
    from colophony.physics.strings import BowedString
    from colophony.records.domain import PassResult, Student
    from colophony.records.studio import Studio

#: So many of the last takes are looked at.
LAST_TAKES = 5
#: How fine the edges of a map are: targets stay half the way from them.
_TOLERANCE = 0.1
#: Told the strokes answered and those expected so far; each further map adds to both.
Progress = Callable[[int, int], None]


def invented_plan(
    instrument: str,
    size: str,
    *,
    first_day: date,
    exercises: Sequence[Exercise],
    age_group: AgeGroup | None = None,
    minutes: float | None = None,
    ask: AskRanges = published_ranges,
) -> Plan:
    """Return a first week for an instrument without a student: nothing was heard, nothing passed.

    Without an age group a child is meant, a small one if the instrument is small (`age_group_of`). Raises
    `InputError` for an unknown instrument or size, and for minutes out of range.
    """
    strings_of(instrument, size)  # names what is unknown before anything is computed
    return make_plan(
        instrument=instrument,
        size=size,
        first_day=first_day.toordinal(),
        age_group=age_group or age_group_of(minor=True, reader="child", size=size),
        exercises=exercises,
        targets_of=_doable(instrument, size, ask),
        minutes_a_day=minutes,
        is_invented=True,
    )


def plan_for_student(
    studio: Studio,
    student: Student,
    *,
    first_day: date,
    exercises: Sequence[Exercise],
    minutes: float | None = None,
    age_group: AgeGroup | None = None,
    ask: AskRanges = published_ranges,
) -> Plan:
    """Return the week's plan from a student's last takes and from what was passed; keeps nothing.

    Parameters
    ----------
    age_group : by default the student's own, else the likeliest for minor, reader and size
    exercises : to choose from (`own_exercises.every_exercise`)
    minutes : a day; by default what the age group is used to
    """
    group = age_group or student.age_group
    return make_plan(
        instrument=student.instrument,
        size=student.size,
        first_day=first_day.toordinal(),
        age_group=group or age_group_of(minor=student.minor, reader=student.reader, size=student.size),
        exercises=exercises,
        targets_of=_doable(student.instrument, student.size, ask),
        findings=last_findings(studio, student),
        past=[
            PastPass(result.exercise, result.on.toordinal(), result.passed)
            for result in studio.passes(student.id)
        ],
        minutes_a_day=minutes,
        has_reference=any(
            take.accepted and (take.instrument, take.size) == (student.instrument, student.size)
            for take in studio.takes(student.id)
        ),
    )


def keep_plan(studio: Studio, student: Student, plan: Plan, *, made_on: date) -> bool:
    """Keep a plan where consent allows it; return whether it is kept."""
    if not studio.may_keep(student.id):
        return False
    studio.keep_plan(student.id, to_plain(plan), made_on=made_on)
    return True


def check_findings(
    findings: Findings, exercise: Exercise, *, instrument: str | None, size: str = "4/4"
) -> Passed:
    """Return what a take shows of an exercise; its notes are known where the instrument is.

    What counts are notes and lengths of bows, for which the published limits do: nothing is computed.
    """
    targets = () if instrument is None else _doable(instrument, size, published_ranges)(exercise)
    return check_take(exercise, findings.take, targets=targets)


def keep_passed(
    studio: Studio, student: Student, passed: Passed, *, on: date, take_id: int | None
) -> PassResult:
    """Keep what a take showed of an exercise; raises `StudioError` without consent."""
    return studio.record_pass(
        student.id,
        passed.key,
        on=on,
        passed_strokes=passed.passed,
        asked_strokes=passed.of,
        passed=passed.outcome == "passed",
        take_id=take_id,
        detail=to_plain(passed),
    )


def last_findings(studio: Studio, student: Student) -> list[Findings]:
    """Return the findings of the last takes on the instrument played now, newest first.

    Takes made to compare with show a student at their best: they count only where there are no others.
    """
    takes = [
        take
        for take in studio.takes(student.id)
        if take.status == "heard" and (take.instrument, take.size) == (student.instrument, student.size)
    ]
    practised = [take for take in takes if take.purpose == "practice"]
    return [studio.findings(take.id) for take in (practised or takes)[:LAST_TAKES]]


def targets_for(
    exercises: Sequence[Exercise], instrument: str, size: str, *, ask: AskRanges
) -> dict[str, tuple[Target, ...]]:
    """Return what exercises ask on an instrument, by key; raises as `targets_of`."""
    return {exercise.key: targets_of(exercise, instrument, size, ask=ask) for exercise in exercises}


def plan_to_json(plan: Plan) -> dict[str, Any]:
    """Return a plan as plain JSON values: its own, the first day as ISO 8601, and remarks in words."""
    told: dict[str, Any] = to_plain(plan)
    told["first_day"] = date.fromordinal(plan.first_day).isoformat()
    for name in ("keep", "change"):
        told[name] = [_remark_to_json(remark) for remark in getattr(plan, name)]
    for row, item in zip(told["items"], plan.items, strict=True):
        row["why"] = [_remark_to_json(remark) for remark in item.why]
    return told


def passed_to_json(passed: Passed) -> dict[str, Any]:
    """Return what a take showed of an exercise as plain JSON values, with remarks in words."""
    told: dict[str, Any] = to_plain(passed)
    for row, check in zip(told["strokes"], passed.strokes, strict=True):
        row["why"] = [_remark_to_json(remark) for remark in check.why]
    return told


def _remark_to_json(remark: Any) -> dict[str, Any]:
    say = {reader: remark_words(remark, reader) for reader in READERS}
    return {"kind": remark.kind, "values": dict(remark.values), "say": say}


def _doable(instrument: str, size: str, ask: AskRanges) -> Callable[[Exercise], tuple[Target, ...]]:
    """Return what tells an exercise's targets, none where this instrument cannot do it."""

    def tell(exercise: Exercise) -> tuple[Target, ...]:
        try:
            return targets_of(exercise, instrument, size, ask=ask)
        except InputError:
            return ()

    return tell


def ask_ranges(kept: KeptMaps | None = None, *, progress: Progress | None = None) -> AskRanges:
    """Return what computes the maps of a string: once in a run, and kept where ``kept`` says.

    ``progress`` hears of every map that is computed now. A string that the engine cannot play has the
    published limits.
    """
    counted = _Counted(progress)
    had: dict[tuple[str, str, str, float, float], StringRanges] = {}

    def ask(string: BowedString, frequency_hz: float, tilt_deg: float) -> StringRanges:
        name = (string.instrument, string.size, string.name, round(frequency_hz, 3), tilt_deg)
        if name not in had:
            maps = _maps(string, frequency_hz, tilt_deg, kept, counted)
            had[name] = (
                published_ranges(string, frequency_hz, tilt_deg)
                if maps is None
                else StringRanges(string, frequency_hz, maps, is_computed=True)
            )
        return had[name]

    return ask


def _maps(
    string: BowedString, frequency_hz: float, tilt_deg: float, kept: KeptMaps | None, counted: _Counted
) -> tuple[PlayableRanges, ...] | None:
    from colophony.physics.instruments import find_instrument

    maps = ask_playable(
        find_instrument(string.instrument, string.size),
        string,
        frequency_hz=frequency_hz,
        speeds_m_s=SPEEDS_M_S,
        distances=DISTANCES,
        tolerance=_TOLERANCE,
        tilt_deg=tilt_deg,
        kept=kept,
        progress=counted.part,
    )
    counted.finish()
    return maps


class _Counted:
    """Joins the progress of one map after the other to one."""

    def __init__(self, progress: Progress | None) -> None:
        self._progress, self._before, self._here = progress, 0, 0

    def part(self, done: int, expected: int) -> None:
        self._here = done
        if self._progress is not None:
            self._progress(self._before + done, self._before + expected)

    def finish(self) -> None:
        self._before, self._here = self._before + self._here, 0
