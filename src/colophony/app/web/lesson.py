"""Page Lesson: choose a student, send or record a take, follow its hearing; consent; the reference take."""

from __future__ import annotations

from contextlib import ExitStack
from datetime import date
from typing import Any

from fastapi import APIRouter
from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import HTMLResponse, JSONResponse, RedirectResponse, Response

from colophony.app import reference as marked
from colophony.app.web.desk import Desk, NotThereError, ShownTake, desk_of, is_number
from colophony.app.web.forms import ConsentForm, StudentForm, TakeForm, read_form, read_mark
from colophony.app.web.guard import BodyTooLongError
from colophony.app.web.plans import exercises_to_check
from colophony.app.web.queue import Hearing, Stage
from colophony.app.web.upload import receive_upload
from colophony.errors import ColophonyError, InputError
from colophony.language import _
from colophony.physics.strings import sizes_of
from colophony.records.domain import OPEN_STRINGS, SIZES, FiledTake, Purpose, Student

router = APIRouter()
_EMPTY_TAKE = TakeForm(None, (), None, None)


def see(address: str) -> RedirectResponse:
    """Send the browser on to a page after a change (303: with GET)."""
    return RedirectResponse(address, 303)


# Students


@router.get("/")
def start(request: Request) -> Response:
    """Open the studio at its first page."""
    return see("/lesson")


@router.get("/lesson")
def choose(request: Request) -> HTMLResponse:
    """Show the students, and the form for a new one."""
    desk = desk_of(request)
    return desk.page(request, "choose", students=desk.studio.students(), fields={}, **student_choices())


@router.post("/students")
async def add_student(request: Request) -> Response:
    """Take in a new student."""
    desk = desk_of(request)
    fields = await read_form(request)
    try:
        form = StudentForm.read(fields)
        student = await run_in_threadpool(
            desk.studio.add_student,
            form.name,
            instrument=form.instrument,
            size=form.size,
            minor=form.minor,
            reader=form.reader,
            age_group=form.age_group,
        )
    except ColophonyError as error:
        students = await run_in_threadpool(desk.studio.students)
        return desk.page(
            request,
            "choose",
            status=400,
            line=str(error),
            students=students,
            fields=fields,
            **student_choices(),
        )
    return see(f"/lesson/{student.id}?done=added")


def student_choices() -> dict[str, Any]:
    """Return what a student's form offers."""
    smallest = ", ".join(f"{_(name)} {sizes_of(name)[-1]}" for name in OPEN_STRINGS)
    return {"sizes": SIZES, "sizes_hint": _("The smallest known here: {sizes}.").format(sizes=smallest)}


# The lesson


@router.get("/lesson/{student_id:number}")
def lesson(request: Request, student_id: int) -> HTMLResponse:
    """Show a student's lesson."""
    return lesson_page(request, desk_of(request), student_id)


def lesson_page(
    request: Request,
    desk: Desk,
    student_id: int,
    *,
    line: str | None = None,
    fields: dict[str, str] | None = None,
) -> HTMLResponse:
    """Return a student's lesson, after a mistake with one line and the form as it was."""
    studio = desk.studio
    student = studio.student(student_id)
    return desk.page(
        request,
        "lesson",
        status=400 if line else 200,
        line=line,
        student=student,
        fields=fields or {"exercise": request.query_params.get("exercise", "")},
        exercises=exercises_to_check(request, desk, student),
        may_keep=studio.may_keep(student_id),
        may_keep_sound=studio.may_keep_sound(student_id),
        consents=[c for c in studio.consents(student_id) if c.withdrawn_on is None],
        takes=studio.takes(student_id),
        places=_places(desk, student_id),
        accepted=accepted_strings(desk, student),
        has_marked=bool(studio.marked_strokes(student_id)),
    )


def _places(desk: Desk, student_id: int) -> dict[int, str]:
    """Return where each reference take of a marked place was played, in words, by the take's number."""
    takes = [take.id for take in desk.studio.takes(student_id) if take.purpose == "reference"]
    marks = ((take, desk.studio.mark(take)) for take in takes)
    return {take: marked.where(mark) for take, mark in marks if mark is not None}


@router.post("/lesson/{student_id:number}/takes")
async def send_take(request: Request, student_id: int) -> Response:
    """Take in a recording."""
    return await _receive(request, student_id, purpose="practice", back=f"/lesson/{student_id}")


async def _receive(
    request: Request, student_id: int, *, purpose: Purpose, back: str, string: str | None = None
) -> Response:
    """Take in a recording, of one open ``string`` for a reference; answer with its hearing's page."""
    desk = desk_of(request)
    student = await run_in_threadpool(desk.studio.student, student_id)
    fields: dict[str, str] = {}
    hold = ExitStack()
    try:
        file = hold.enter_context(desk.studio.passing_file())
        with file.open("wb") as sound:
            upload = await receive_upload(request, sound)
        fields = upload.fields
        # Of a reference the string is not said: a wrong one must not be heard as a groan of the right one.
        form = TakeForm.read(fields if string is None else {}, student)
        mark = None if string is None else read_mark(fields, student, string)
        hearing = await run_in_threadpool(
            desk.take_in,
            student,
            file,
            name=upload.name,
            form=form,
            purpose=purpose,
            hold=hold,
            back=back,
            mark=mark,
        )
    except ColophonyError as error:
        hold.close()
        if isinstance(error, BodyTooLongError):
            raise
        if wants_json(request):
            return JSONResponse({"line": str(error)}, 400)
        if string is not None:
            return await run_in_threadpool(
                string_page, request, desk, student, string, line=str(error), fields=fields
            )
        return await run_in_threadpool(lesson_page, request, desk, student_id, line=str(error), fields=fields)
    except BaseException:  # the sender hung up: nothing of it stays
        hold.close()
        raise
    address = f"/hearing/{hearing.key}"
    return JSONResponse({"go": address}) if wants_json(request) else see(address)


def wants_json(request: Request) -> bool:
    """Tell whether the page's script asks, rather than the browser."""
    return request.headers.get("accept", "") == "application/json"


# The hearing


def find_hearing(desk: Desk, key: str) -> Hearing:
    """Return the hearing of that key. Raises `NotThereError`."""
    hearing = desk.queue.find(key)
    if hearing is None:
        raise NotThereError(
            _("This hearing is over, or the studio was restarted: look among the student's takes.")
        )
    return hearing


@router.get("/hearing/{key}")
def hearing(request: Request, key: str) -> Response:
    """Show how far a hearing is, or what came of it."""
    desk = desk_of(request)
    found = find_hearing(desk, key)
    if found.stage is Stage.HEARD:
        return see(found.address)
    if found.stage is Stage.CALLED_OFF:
        return see(f"{found.back}{'&' if '?' in found.back else '?'}done=called-off")
    student = desk.studio.student(found.student_id)
    is_reference = "/reference/" in found.back
    template = "failed" if found.stage is Stage.FAILED else "hearing"
    return desk.page(
        request,
        template,
        hearing=found,
        place=desk.queue.place(found),
        student=student,
        line=found.line or None,
        kept=is_number(found.ref),
        is_reference=is_reference,
        again=found.back if is_reference else f"{found.back}/takes",
        fields=_as_fields(found.form),
        exercises=exercises_to_check(request, desk, student),
    )


@router.get("/hearing/{key}/state")
def hearing_state(request: Request, key: str) -> JSONResponse:
    """Tell the page's script how far a hearing is."""
    desk = desk_of(request)
    found = find_hearing(desk, key)
    return JSONResponse(
        {"stage": str(found.stage), "share": round(found.share, 3), "place": desk.queue.place(found)}
    )


@router.post("/hearing/{key}/call-off")
def call_off(request: Request, key: str) -> Response:
    """Stop a hearing."""
    desk = desk_of(request)
    found = find_hearing(desk, key)
    desk.queue.call_off(found)
    desk.queue.wait(found, 10)
    if found.stage is Stage.CALLED_OFF:
        desk.unkept.forget(found.ref)
    return see(f"/hearing/{key}")


@router.post("/takes/{ref}/hear-again")
def hear_again(request: Request, ref: str) -> Response:
    """Hear a take that waits, failed or was heard before."""
    desk = desk_of(request)
    if is_number(ref):
        filed = desk.studio.take(int(ref))
        if not filed.sound_kept:
            raise InputError(_("The sound of this take is not kept, so it cannot be heard again."))
        student = desk.studio.student(filed.student_id)
        queued = desk.hear_kept(filed, student, _EMPTY_TAKE, back=f"/lesson/{student.id}")
    else:
        take = desk.unkept.find(ref)
        if take is None:
            raise NotThereError(
                _("This take was not kept and is forgotten by now. Send it again to hear it again.")
            )
        queued = desk.hear_unkept(take, _EMPTY_TAKE, back=f"/lesson/{take.student.id}")
    return see(f"/hearing/{queued.key}")


def _as_fields(form: TakeForm) -> dict[str, str]:
    return {
        "string": form.string or "",
        "expect": " ".join(form.expect),
        "first_bow": form.first_bow or "",
        "a4_hz": "" if form.a4_hz is None else f"{form.a4_hz:g}",
        "whole_bows": "yes" if form.whole_bows else "",
        "same_microphone": "yes" if form.same_microphone else "",
        "exercise": form.exercise,
    }


# Consent


def _today(desk: Desk) -> date:
    """Return the day where this computer stands, not in Greenwich."""
    return desk.now().astimezone().date()


@router.get("/lesson/{student_id:number}/consent")
def consent(request: Request, student_id: int) -> HTMLResponse:
    """Show the consent of a student and the form for it."""
    return _consent_page(request, student_id, None, {})


def _consent_page(
    request: Request, student_id: int, line: str | None, fields: dict[str, str]
) -> HTMLResponse:
    desk = desk_of(request)
    student = desk.studio.student(student_id)
    return desk.page(
        request,
        "consent",
        status=400 if line else 200,
        line=line,
        student=student,
        consents=desk.studio.consents(student_id),
        fields=fields,
        today=_today(desk),
    )


@router.post("/lesson/{student_id:number}/consent")
async def record_consent(request: Request, student_id: int) -> Response:
    """Record a consent."""
    desk = desk_of(request)
    fields = await read_form(request)
    try:
        form = ConsentForm.read(fields, today=_today(desk))
        await run_in_threadpool(
            desk.studio.record_consent,
            student_id,
            given_by=form.given_by,
            relation=form.relation,
            on=form.on,
            keep_sound=form.keep_sound,
            note=form.note,
        )
    except ColophonyError as error:
        return await run_in_threadpool(_consent_page, request, student_id, str(error), fields)
    return see(f"/lesson/{student_id}?done=consent")


@router.post("/lesson/{student_id:number}/consent/withdraw")
def withdraw_consent(request: Request, student_id: int) -> Response:
    """Withdraw the consent of a student."""
    desk = desk_of(request)
    desk.studio.withdraw_consent(student_id, on=_today(desk))
    return see(f"/lesson/{student_id}?done=withdrawn")


# The guided reference take


@router.get("/lesson/{student_id:number}/reference")
def reference(request: Request, student_id: int) -> HTMLResponse:
    """Show which open strings have a tone to compare with."""
    desk = desk_of(request)
    student = desk.studio.student(student_id)
    return desk.page(
        request,
        "reference",
        student=student,
        may_keep=desk.studio.may_keep(student_id),
        accepted=accepted_strings(desk, student),
        steps=marked.steps(desk.studio, student),
    )


@router.get("/lesson/{student_id:number}/reference/{string}")
def reference_string(request: Request, student_id: int, string: str) -> HTMLResponse:
    """Show the page on which one open string is recorded, at the place that the address names, if any."""
    desk = desk_of(request)
    fields = dict(request.query_params)
    return string_page(request, desk, desk.studio.student(student_id), string, fields=fields)


def string_page(
    request: Request,
    desk: Desk,
    student: Student,
    string: str,
    *,
    line: str | None = None,
    fields: dict[str, str] | None = None,
) -> HTMLResponse:
    """Return the page on which one open string is recorded, at a marked place or anywhere."""
    if string not in student.strings:
        raise NotThereError(
            _("The strings of this instrument are {strings}: choose one of them.").format(
                strings=", ".join(student.strings)
            )
        )
    fields = fields or {}
    try:
        mark = read_mark(fields, student, string)
    except InputError as error:
        mark, line = None, line or str(error)
    return desk.page(
        request,
        "reference_string",
        status=400 if line else 200,
        line=line,
        student=student,
        string=string,
        mark=mark,
        fields=fields,
        may_keep=desk.studio.may_keep(student.id),
        accepted=accepted_strings(desk, student),
    )


@router.post("/lesson/{student_id:number}/reference/{string}")
async def send_reference(request: Request, student_id: int, string: str) -> Response:
    """Take in a reference take of one open string."""
    back = f"/lesson/{student_id}/reference/{string}"
    if request.url.query:  # the place, for the way back
        back = f"{back}?{request.url.query}"
    return await _receive(request, student_id, purpose="reference", back=back, string=string)


@router.post("/takes/{ref}/accept")
def accept(request: Request, ref: str) -> Response:
    """Take the teacher's word that this is the tone to compare with, and go on to the next string."""
    desk = desk_of(request)
    take, filed = _reference_take(desk, ref)
    if not reference_string_of(take):
        raise InputError(_("No open string of this instrument was heard in this take: play it again."))
    desk.studio.accept_reference(filed.id, True)
    page = f"/lesson/{take.student.id}/reference"
    if desk.studio.mark(filed.id) is not None:
        left = [step.mark for step in marked.steps(desk.studio, take.student) if not step.accepted]
        following = f"{left[0].string}?point={left[0].point:g}&" if left else None
    else:
        done = accepted_strings(desk, take.student)
        following = next((f"{s}?" for s in take.student.strings if s not in done), None)
    return see(f"{page}/{following}done=accepted" if following else f"{page}?done=accepted")


@router.post("/takes/{ref}/repeat")
def repeat(request: Request, ref: str) -> Response:
    """Erase a reference take and return to its string."""
    desk = desk_of(request)
    take, filed = _reference_take(desk, ref)
    string = reference_string_of(take)
    mark = desk.studio.mark(filed.id)
    done = "repeat" if desk.studio.erase_take(filed.id) else "not-wiped"
    page = f"/lesson/{take.student.id}/reference"
    if mark is not None:
        asked = f"point={mark.point:g}&beats={mark.beats:g}&tempo={mark.tempo:g}"
        return see(f"{page}/{mark.string}?{asked}&done={done}")
    return see(f"{page}/{string}?done={done}" if string else f"{page}?done={done}")


def _reference_take(desk: Desk, ref: str) -> tuple[ShownTake, FiledTake]:
    take = desk.shown(ref)
    if take.kept is None or take.kept.purpose != "reference":
        raise InputError(
            _("Only a take of the guided reference can be accepted as the tone to compare with.")
        )
    return take, take.kept


def reference_string_of(take: ShownTake) -> str | None:
    """Return the open string that most strokes of a reference take sound, or None."""
    notes = [stroke.note for stroke in take.findings.take.strokes if stroke.note in take.student.strings]
    return max(notes, key=notes.count) if notes else None


def accepted_strings(desk: Desk, student: Student) -> tuple[str, ...]:
    """Return the open strings whose tone is accepted, from low to high."""
    notes = {stroke.note for stroke in desk.studio.reference_strokes(student.id)}
    return tuple(string for string in student.strings if string in notes)
