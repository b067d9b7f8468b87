"""Page Studio: students, consents, takes that wait, copies of it all, and erasing."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from tempfile import TemporaryDirectory

from fastapi import APIRouter
from starlette.background import BackgroundTask
from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import FileResponse, HTMLResponse, Response

from colophony.app.web.desk import desk_of
from colophony.app.web.forms import StudentForm, read_form
from colophony.app.web.lesson import see, student_choices
from colophony.app.web.plans import plans_of
from colophony.errors import ColophonyError

router = APIRouter()


@router.get("/studio")
def studio(request: Request) -> HTMLResponse:
    """Show what the studio holds."""
    desk = desk_of(request)
    students = desk.studio.students()
    return desk.page(
        request,
        "studio",
        students=students,
        names={student.id: student.name for student in students},
        take_counts={student.id: len(desk.studio.takes(student.id)) for student in students},
        standing={
            student.id: [c for c in desk.studio.consents(student.id) if c.withdrawn_on is None]
            for student in students
        },
        pending=desk.studio.pending(),
        problems=None,
    )


@router.post("/studio/backup")
def backup(request: Request) -> Response:
    """Answer with the whole studio in one file."""
    return _made_file(desk_of(request).studio.backup)


@router.post("/students/{student_id:number}/export")
def export(request: Request, student_id: int) -> Response:
    """Answer with everything kept of one student, in one file that a parent can open."""
    studio = desk_of(request).studio
    return _made_file(lambda folder: studio.export_student(student_id, folder))


def _made_file(make: Callable[[Path], Path]) -> Response:
    folder = TemporaryDirectory(prefix="colophony-")
    try:
        path = make(Path(folder.name))
    except BaseException:
        folder.cleanup()
        raise
    return FileResponse(
        path, filename=path.name, media_type="application/zip", background=BackgroundTask(folder.cleanup)
    )


# One student


@router.get("/students/{student_id:number}")
def student(request: Request, student_id: int) -> HTMLResponse:
    """Show a student, to change, copy or erase."""
    return _student_page(request, student_id, None, None)


def _student_page(
    request: Request, student_id: int, line: str | None, fields: dict[str, str] | None
) -> HTMLResponse:
    desk = desk_of(request)
    found = desk.studio.student(student_id)
    known = {
        "name": found.name,
        "instrument": found.instrument,
        "size": found.size,
        "age": (found.age_group or "child") if found.minor else "grown-up",
        "reader": found.reader,
    }
    return desk.page(
        request,
        "student",
        status=400 if line else 200,
        line=line,
        student=found,
        fields=known if fields is None else fields,
        consents=desk.studio.consents(student_id),
        take_count=len(desk.studio.takes(student_id)),
        **student_choices(),
    )


@router.post("/students/{student_id:number}")
async def change_student(request: Request, student_id: int) -> Response:
    """Change a student."""
    desk = desk_of(request)
    fields = await read_form(request)
    try:
        form = StudentForm.read(fields)
        await run_in_threadpool(
            desk.studio.change_student,
            student_id,
            name=form.name,
            instrument=form.instrument,
            size=form.size,
            minor=form.minor,
            reader=form.reader,
            age_group=form.age_group,
        )
    except ColophonyError as error:
        return await run_in_threadpool(_student_page, request, student_id, str(error), fields)
    return see(f"/lesson/{student_id}?done=changed")


@router.get("/students/{student_id:number}/erase")
def ask_erase(request: Request, student_id: int) -> HTMLResponse:
    """Ask before a student is erased."""
    desk = desk_of(request)
    found = desk.studio.student(student_id)
    return desk.page(request, "erase_student", student=found, take_count=len(desk.studio.takes(student_id)))


@router.post("/students/{student_id:number}/erase")
def erase(request: Request, student_id: int) -> Response:
    """Erase a student, also what is being heard of them."""
    desk = desk_of(request)
    desk.queue.call_off_student(student_id)
    desk.unkept.forget_student(student_id)
    plans_of(request).forget_student(student_id)
    wiped = desk.studio.erase_student(student_id)
    return see(f"/studio?done={'student-erased' if wiped else 'not-wiped'}")
