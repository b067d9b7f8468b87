"""Page Progress: what changed over a student's weeks, and the report of it to print or send."""

from __future__ import annotations

from datetime import date, datetime
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import cast

from fastapi import APIRouter
from starlette.background import BackgroundTask
from starlette.requests import Request
from starlette.responses import FileResponse, HTMLResponse, Response

from colophony.app.paper.progress import make_progress_report
from colophony.app.paper.typeset import PAPERS, Paper
from colophony.app.progress import (
    headline,
    looked_at,
    measures_shown,
    next_steps,
    progress_of,
    rarer_fault,
)
from colophony.app.settings import READERS
from colophony.app.web.desk import desk_of
from colophony.app.web.forms import one_of
from colophony.errors import InputError
from colophony.language import _
from colophony.teaching.findings import Reader

router = APIRouter()


@router.get("/progress")
def choose(request: Request) -> HTMLResponse:
    """Show whose progress there is to look at."""
    desk = desk_of(request)
    return desk.page(request, "progress_choose", students=desk.studio.students())


@router.get("/progress/{student_id:number}")
def progress(request: Request, student_id: int) -> HTMLResponse:
    """Show a student's weeks."""
    desk = desk_of(request)
    student = desk.studio.student(student_id)
    asked = _Asked.read(request, student.reader)
    shown = progress_of(desk.studio, student, since=asked.since)
    return desk.page(
        request,
        "progress",
        student=student,
        asked=asked,
        headline=headline(shown, reader=asked.reader),
        looked_at=looked_at(shown),
        measures=measures_shown(shown, reader=asked.reader),
        rarer_fault=rarer_fault(shown, reader=asked.reader),
        passed=shown.passed,
        next_steps=next_steps(shown),
        has_takes=bool(shown.progress.takes),
        has_others=bool(shown.progress.others),
        may_keep=desk.studio.may_keep(student_id),
        readers=READERS,
    )


@router.get("/progress/{student_id:number}/report.pdf")
def report(request: Request, student_id: int) -> Response:
    """Answer with the report as a file to print."""
    studio = desk_of(request).studio
    student = studio.student(student_id)
    asked = _Asked.read(request, student.reader)
    folder = TemporaryDirectory(prefix="colophony-")
    path = Path(folder.name) / "progress.pdf"
    try:
        shown = progress_of(studio, student, since=asked.since)
        make_progress_report(shown, path, on=date.today(), reader=asked.reader, paper=asked.paper)
    except BaseException:
        folder.cleanup()
        raise
    return FileResponse(
        path, filename=path.name, media_type="application/pdf", background=BackgroundTask(folder.cleanup)
    )


class _Asked:
    """What the address asks for: in whose words, since when, on which paper."""

    def __init__(self, reader: Reader, since: date | None, paper: Paper) -> None:
        self.reader, self.since, self.paper = reader, since, paper

    @classmethod
    def read(cls, request: Request, reader: Reader) -> _Asked:
        """Return what is asked; raises `InputError` for what is no choice or no day."""
        asked = request.query_params
        return cls(
            cast(Reader, one_of(asked.get("reader") or reader, READERS)),
            _day(asked.get("since", "").strip()),
            cast(Paper, one_of(asked.get("paper") or "a4", PAPERS)),
        )


def _day(text: str) -> date | None:
    if not text:
        return None
    try:
        return datetime.strptime(text, "%Y-%m-%d").date()
    except ValueError:
        raise InputError(
            _("{text} is no day: write year, month and day, such as 2026-03-14").format(text=repr(text[:40]))
        ) from None
