"""What goes home with a week's plan: the sheet, the file with sound, the strips to cut out."""

from __future__ import annotations

from pathlib import Path
from tempfile import TemporaryDirectory
from typing import cast

from fastapi import APIRouter
from starlette.requests import Request
from starlette.responses import Response

from colophony.app.paper import make_strips, make_week_sheet
from colophony.app.paper.strip_plan import strips_of_plan
from colophony.app.paper.typeset import PAPERS, Paper
from colophony.app.web.desk import NotThereError, desk_of
from colophony.app.web.forms import one_of
from colophony.app.web.plans import plans_of
from colophony.app.week import make_week_page
from colophony.language import _
from colophony.records.domain import Student
from colophony.teaching.plans import Plan

router = APIRouter()


@router.get("/practice/{student_id:number}/sheet.pdf")
def sheet(request: Request, student_id: int) -> Response:
    """Answer with the week's sheet."""
    student, plan = _planned(request, student_id)
    with TemporaryDirectory(prefix="colophony-") as folder:
        out = Path(folder) / "week.pdf"
        make_week_sheet(
            plan,
            out,
            student=student.name,
            reader=student.reader,
            large_print="large_print" in request.query_params,
            save_ink="save_ink" in request.query_params,
            paper=_paper(request),
        )
        return _file(out.read_bytes(), "application/pdf", "week.pdf")


@router.get("/practice/{student_id:number}/week.html")
def week(request: Request, student_id: int) -> Response:
    """Answer with the week as one file with sound."""
    student, plan = _planned(request, student_id)
    page = make_week_page(plan, student=student.name, reader=student.reader)
    return _file(page.encode("utf-8"), "text/html; charset=utf-8", "week.html")


@router.get("/practice/{student_id:number}/strips.pdf")
def strips(request: Request, student_id: int) -> Response:
    """Answer with the strips to cut out, for the strings and tempos of the plan."""
    student, plan = _planned(request, student_id)
    points, beats = strips_of_plan(plan, kept=plans_of(request).maps)
    today = desk_of(request).now().astimezone().date()
    with TemporaryDirectory(prefix="colophony-") as folder:
        out = Path(folder) / "strips.pdf"
        make_strips(out, points=points, beats=beats, reader=student.reader, paper=_paper(request), date=today)
        return _file(out.read_bytes(), "application/pdf", "strips.pdf")


def _planned(request: Request, student_id: int) -> tuple[Student, Plan]:
    """Return a student and the latest plan. Raises `NotThereError` without one."""
    desk = desk_of(request)
    student = desk.studio.student(student_id)
    plan = plans_of(request).find(desk, student)
    if plan is None:
        raise NotThereError(_("There is no plan yet: make one on the page Practice."))
    return student, plan


def _paper(request: Request) -> Paper:
    return cast(Paper, one_of(request.query_params.get("paper") or "a4", PAPERS))


def _file(content: bytes, kind: str, name: str) -> Response:
    headers = {"Content-Disposition": f'attachment; filename="{name}"'}
    return Response(content, media_type=kind, headers=headers)
