"""Page Practice: the week's plan, the papers that go home with it, and what came of an exercise."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from typing import Any

from fastapi import APIRouter
from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import HTMLResponse, Response

from colophony.app.own_exercises import every_exercise, title_of
from colophony.app.paper.week import asked
from colophony.app.paper.week_picture import picture_words, target_picture
from colophony.app.practice import (
    ask_ranges,
    keep_passed,
    plan_for_student,
    targets_for,
)
from colophony.app.web.desk import Desk, ShownTake, desk_of
from colophony.app.web.forms import read_form, read_number
from colophony.app.web.lesson import see
from colophony.app.web.plans import plans_of
from colophony.errors import ColophonyError, InputError
from colophony.language import _, figures, ngettext
from colophony.physics.strings import strings_of
from colophony.teaching.cautions import caution
from colophony.teaching.exercises.exercise import Exercise, Passed, Target
from colophony.teaching.exercises.library import find_exercise
from colophony.teaching.exercises.passing import check_take
from colophony.teaching.exercises.remarks import remark_words
from colophony.teaching.exercises.words import (
    count_words,
    difficulty_words,
    outcome_words,
    rule_words,
    stroke_check_words,
)
from colophony.teaching.findings import Reader
from colophony.teaching.plans import AGE_GROUPS, Plan, PlanItem

router = APIRouter()


@router.get("/practice")
def choose(request: Request) -> HTMLResponse:
    """Show whose week there is to plan."""
    desk = desk_of(request)
    return desk.page(request, "practice_choose", students=desk.studio.students())


@router.get("/practice/{student_id:number}")
def practice(request: Request, student_id: int) -> HTMLResponse:
    """Show a student's week."""
    return practice_page(request, desk_of(request), student_id)


def practice_page(
    request: Request, desk: Desk, student_id: int, *, line: str | None = None, fields: Any = None
) -> HTMLResponse:
    """Return the page of a student's week, after a mistake with one line and the form as it was."""
    student = desk.studio.student(student_id)
    plan = plans_of(request).find(desk, student)
    reader = student.reader
    passed = desk.studio.passed_when(student_id)
    return desk.page(
        request,
        "practice",
        status=400 if line else 200,
        line=line,
        student=student,
        plan=plan,
        first_day=date.fromordinal(plan.first_day) if plan else None,
        is_other=plan is not None and (plan.instrument, plan.size) != (student.instrument, student.size),
        keep=_said(plan.keep, reader) if plan else [],
        change=_said(plan.change, reader) if plan else [],
        items=[_shown(item, plan, reader, passed) for item in plan.items] if plan else [],
        cautions=[caution(name, reader=reader) for name in plan.cautions] if plan else [],
        is_kept=plans_of(request).is_kept(student),
        may_keep=desk.studio.may_keep(student_id),
        ages=_ages(),
        fields=fields or {"age_group": student.age_group or "", "minutes": ""},
    )


@router.post("/practice/{student_id:number}/plan")
async def make(request: Request, student_id: int) -> Response:
    """Make the plan of a week from the last takes and from what was passed."""
    desk = desk_of(request)
    fields = await read_form(request)
    try:
        await run_in_threadpool(_make, request, desk, student_id, fields)
    except ColophonyError as error:
        return await run_in_threadpool(
            practice_page, request, desk, student_id, line=str(error), fields=fields
        )
    return see(f"/practice/{student_id}?done=plan")


def _make(request: Request, desk: Desk, student_id: int, fields: dict[str, str]) -> None:
    student = desk.studio.student(student_id)
    today = desk.now().astimezone().date()
    group = fields.get("age_group", "")
    plan = plan_for_student(
        desk.studio,
        student,
        first_day=today,
        exercises=every_exercise(desk.studio),
        minutes=read_number(fields.get("minutes", ""), _("the minutes a day")),
        age_group=group if group in AGE_GROUPS else None,
        ask=ask_ranges(plans_of(request).maps),
    )
    plans_of(request).keep(desk, student, plan, on=today)


@router.post("/practice/{student_id:number}/passed")
async def by_ear(request: Request, student_id: int) -> Response:
    """Keep that an exercise was passed, as the teacher heard it."""
    desk = desk_of(request)
    fields = await read_form(request)

    def keep() -> None:
        exercise = find_exercise(fields.get("exercise", ""), every_exercise(desk.studio))
        rule = exercise.pass_rule
        desk.studio.record_pass(
            student_id,
            exercise.key,
            on=desk.now().astimezone().date(),
            passed_strokes=rule.at_least,
            asked_strokes=rule.of,
            passed=True,
        )

    await run_in_threadpool(keep)
    return see(f"/practice/{student_id}?done=passed")


# A take under the rule of an exercise


@router.get("/takes/{ref}/exercise")
def check(request: Request, ref: str) -> HTMLResponse:
    """Show what a take shows of an exercise."""
    desk = desk_of(request)
    shown = desk.shown(ref)
    exercise, targets, passed = _checked(request, desk, shown, request.query_params.get("exercise", ""))
    reader = shown.student.reader
    return desk.page(
        request,
        "exercise_checked",
        take=shown,
        student=shown.student,
        exercise=exercise,
        passed=passed,
        sentence=outcome_words(passed, reader),
        count=count_words(passed),
        asked=asked(targets, reader)[0],
        rule=rule_words(exercise.pass_rule, reader),
        strokes=[(one.number, one.passed, stroke_check_words(one, reader)) for one in passed.strokes],
    )


@router.post("/takes/{ref}/exercise")
async def keep_check(request: Request, ref: str) -> Response:
    """Keep what a take showed of an exercise."""
    desk = desk_of(request)
    key = (await read_form(request)).get("exercise", "")

    def keep() -> int:
        shown = desk.shown(ref)
        if shown.kept is None:
            raise InputError(_("This take is not kept, so nothing of it can be: the result was only shown."))
        _exercise, _targets, passed = _checked(request, desk, shown, key)
        on = shown.taken_at.astimezone().date()
        keep_passed(desk.studio, shown.student, passed, on=on, take_id=shown.kept.id)
        return shown.student.id

    student_id = await run_in_threadpool(keep)
    return see(f"/practice/{student_id}?done=passed")


def _checked(
    request: Request, desk: Desk, shown: ShownTake, key: str
) -> tuple[Exercise, tuple[Target, ...], Passed]:
    """Return an exercise, what it asks, and what a take shows of it; targets of the plan, else computed."""
    plan = plans_of(request).find(desk, shown.student)
    item = next((item for item in plan.items if item.exercise.key == key), None) if plan else None
    take = shown.findings.take
    if item is not None:
        return item.exercise, item.targets, check_take(item.exercise, take, targets=item.targets)
    student = shown.student
    exercise = find_exercise(key, every_exercise(desk.studio))
    targets = targets_for(
        [exercise], student.instrument, student.size, ask=ask_ranges(plans_of(request).maps)
    )
    return exercise, targets[key], check_take(exercise, take, targets=targets[key])


# What a page shows


def _shown(item: PlanItem, plan: Plan, reader: Reader, passed: dict[str, tuple[date, ...]]) -> dict[str, Any]:
    exercise = item.exercise
    strings = [string.name for string in strings_of(plan.instrument, plan.size)]
    return {
        "key": exercise.key,
        "title": title_of(exercise),
        "say": exercise.say.to(reader),
        "listen": exercise.listen_for.to(reader),
        "why": " ".join(_said(item.why, reader)),
        "asked": [(row["name"], row["words"]) for row in asked(item.targets, reader)],
        "rule": rule_words(exercise.pass_rule, reader),
        "difficulty": difficulty_words(item.difficulty, reader) if item.difficulty else "",
        "picture": target_picture(item.targets, strings, turned=plan.instrument == "cello", theme=None),
        "alt": picture_words(item.targets),
        "when": ngettext("{minutes} min on {n} day", "{minutes} min on {n} days", len(item.days)).format(
            minutes=figures(f"{item.minutes:g}"), n=len(item.days)
        ),
        "passed": passed.get(exercise.key, ())[-1:],
    }


def _said(remarks: Sequence[Any], reader: Reader) -> list[str]:
    return [remark_words(remark, reader) for remark in remarks]


def _ages() -> list[tuple[str, str]]:
    return [
        ("", _("as the studio knows it")),
        ("small-child", _("below 7")),
        ("child", _("7 to 11")),
        ("teen", _("12 to 17")),
        ("of-age", _("18 and more")),
    ]
