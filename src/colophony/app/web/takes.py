"""A heard take: its findings, its sound, the sheet and the file to take home, down and up, erasing."""

from __future__ import annotations

import mimetypes
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from pathlib import Path
from tempfile import TemporaryDirectory
from urllib.parse import quote

from fastapi import APIRouter
from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import FileResponse, HTMLResponse, Response

from colophony.app import reference, words
from colophony.app.lesson import with_direction
from colophony.app.web.desk import Desk, NotThereError, ShownTake, desk_of
from colophony.app.web.forms import read_direction, read_form
from colophony.app.web.lesson import reference_string_of, see
from colophony.app.web.plans import exercises_to_check
from colophony.errors import InputError
from colophony.language import _
from colophony.teaching.cautions import ON_EVERY_SHEET, caution
from colophony.teaching.reference import check_marked
from colophony.teaching.telling import states_shown
from colophony.units import note_to_midi

router = APIRouter()
#: Strokes that are all shown at once; of a longer take those with advice stand first, the others on request.
_SHORT_LIST = 12
#: Longest take in s whose picture fits beside the sentence.
_BESIDE_S = 24.0


@router.get("/takes/{ref}")
def take(request: Request, ref: str) -> HTMLResponse:
    """Show the findings of a take."""
    return take_page(request, desk_of(request), ref)


def take_page(request: Request, desk: Desk, ref: str, *, line: str | None = None) -> HTMLResponse:
    """Return the page of a heard take."""
    shown = desk.shown(ref)
    reader = shown.student.reader
    rows = words.rows(shown.findings, reader=reader)
    first = rows if len(rows) <= _SHORT_LIST else [row for row in rows if row.advice]
    is_reference = shown.kept is not None and shown.kept.purpose == "reference"
    return desk.page(
        request,
        "take",
        status=400 if line else 200,
        line=line,
        take=shown,
        student=shown.student,
        findings=shown.findings,
        reader=reader,
        first=first,
        rest=[row for row in rows if row not in first],
        beside=shown.findings.take.duration_s <= _BESIDE_S,
        states=states_shown(shown.findings.take),
        cautions=[caution(name, reader=reader) for name in ON_EVERY_SHEET],
        warnings=[*_too_low(shown), *words.warnings(shown.findings.take, reader=reader)],
        minutes_left=None if shown.unkept is None else desk.unkept.minutes_left(shown.unkept),
        exercises=exercises_to_check(request, desk, shown.student),
        is_reference=is_reference,
        reference_string=reference_string_of(shown) if is_reference else None,
        fit=_fit(desk, shown) if is_reference else None,
    )


def _too_low(shown: ShownTake) -> list[str]:
    """Return a question where at least half of the notes lie below the instrument: perhaps another's take."""
    lowest = min(map(note_to_midi, shown.student.strings))
    notes = [note_to_midi(stroke.note) for stroke in shown.findings.take.strokes if stroke.note]
    if not notes or 2 * sum(note < lowest - 1 for note in notes) < len(notes):
        return []
    return [
        _(
            "Many notes of this take are lower than the lowest string of {name}. If nothing groaned: is it "
            "the right student, with the right instrument?"
        ).format(name=shown.student.name)
    ]


def _fit(desk: Desk, shown: ShownTake) -> tuple[bool, str] | None:
    """Return whether a reference take fits its mark and the sentence that says so; None without a mark."""
    mark = None if shown.kept is None else desk.studio.mark(shown.kept.id)
    if mark is None:
        return None
    fit = check_marked(shown.findings.take, mark)
    return fit.line is None, reference.words(fit, mark)


# Sound, sheet, file


@router.get("/takes/{ref}/recording")
def recording(request: Request, ref: str) -> Response:
    """Answer with the sound of a take, also of one that is not heard yet or could not be heard."""
    desk = desk_of(request)
    name, sound = desk.sound(ref)
    kind = mimetypes.guess_type(name)[0] or ""
    headers = {} if "save" not in request.query_params else _attachment(name)
    if not kind.startswith(("audio/", "video/")):
        kind = "application/octet-stream"
    if isinstance(sound, Path):
        return FileResponse(sound, media_type=kind, headers=headers)
    return _part_of(sound, request.headers.get("range"), kind, headers)


def _part_of(sound: bytes, wanted: str | None, kind: str, headers: dict[str, str]) -> Response:
    """Answer with a sound or with the one range of it that a player asks for (RFC 9110, section 14)."""
    headers = headers | {"Accept-Ranges": "bytes"}
    first, dash, last = (wanted or "").removeprefix("bytes=").partition("-")
    if (
        not (wanted or "").startswith("bytes=")
        or not dash
        or not first.isdigit()
        or not (last.isdigit() or not last)
    ):
        return Response(sound, media_type=kind, headers=headers)
    start, end = int(first), min(int(last) if last else len(sound), len(sound) - 1)
    if start > end:
        return Response(status_code=416, headers={"Content-Range": f"bytes */{len(sound)}"})
    headers["Content-Range"] = f"bytes {start}-{end}/{len(sound)}"
    return Response(sound[start : end + 1], 206, media_type=kind, headers=headers)


@router.get("/takes/{ref}/sheet.pdf")
def sheet(request: Request, ref: str) -> Response:
    """Answer with the sheet that goes home."""
    from colophony.app.paper import make_sheet

    desk = desk_of(request)
    shown = desk.shown(ref)
    with TemporaryDirectory(prefix="colophony-") as folder:
        out = Path(folder) / "sheet.pdf"
        make_sheet(
            shown.findings,
            out,
            student=shown.student.name,
            date=shown.taken_at.astimezone().date(),
            reader=shown.student.reader,
        )
        content = out.read_bytes()
    return Response(content, media_type="application/pdf", headers=_attachment(_title(shown, "pdf")))


@router.get("/takes/{ref}/findings.html")
def findings_file(request: Request, ref: str) -> Response:
    """Answer with the one file that shows the findings anywhere, without the studio."""
    from colophony.app.report import make_report

    desk = desk_of(request)
    shown = desk.shown(ref)
    with _sound_file(desk, shown) as sound:
        text = make_report(
            shown.findings,
            sound,
            student=shown.student.name,
            reader=shown.student.reader,
            generated=shown.taken_at.astimezone(),
        )
    # The file carries a script and its sound; it is for saving, never shown as a page of the studio.
    headers = _attachment(_title(shown, "html")) | {"Content-Security-Policy": "sandbox"}
    return Response(text, media_type="text/html; charset=utf-8", headers=headers)


@contextmanager
def _sound_file(desk: Desk, shown: ShownTake) -> Iterator[Path | None]:
    """Lend the sound of a take as a file for a moment, None when it is not there."""
    if not shown.has_sound:
        yield None
        return
    sound = desk.sound(shown.ref)[1]
    with ExitStack() as hold:
        if isinstance(sound, bytes):
            path = hold.enter_context(desk.studio.passing_file())
            path.write_bytes(sound)
            sound = path
        yield sound


def _title(shown: ShownTake, ending: str) -> str:
    day = shown.taken_at.astimezone().date().isoformat()
    return f"{shown.student.name} {day}.{ending}"


def _attachment(name: str) -> dict[str, str]:
    """Return the header under which a browser saves an answer (RFC 6266)."""
    safe = "".join("_" if c in '<>:"/\\|?*' or not c.isprintable() else c for c in name).strip(". ") or "take"
    ascii_name = safe.encode("ascii", "replace").decode("ascii").replace("?", "_")
    encoded = quote(safe, safe="")
    return {"Content-Disposition": f"attachment; filename=\"{ascii_name}\"; filename*=UTF-8''{encoded}"}


# Down and up


@router.post("/takes/{ref}/direction")
async def direction(request: Request, ref: str) -> Response:
    """Take the teacher's word for one stroke and name the others after it."""
    desk = desk_of(request)
    fields = await read_form(request)
    return await run_in_threadpool(_name_strokes, request, desk, ref, fields)


def _name_strokes(request: Request, desk: Desk, ref: str, fields: dict[str, str]) -> Response:
    shown = desk.shown(ref)
    try:
        number, bow = read_direction(fields)
        findings = with_direction(shown.findings, number, bow)
    except InputError as error:
        return take_page(request, desk, ref, line=str(error))
    desk.change(shown, findings)
    return see(f"/takes/{ref}?done=direction#strokes")


# Erasing


@router.get("/takes/{ref}/erase")
def ask_erase(request: Request, ref: str) -> HTMLResponse:
    """Ask before a take is erased."""
    desk = desk_of(request)
    filed = desk.kept(ref)
    return desk.page(request, "erase_take", take=filed, student=desk.studio.student(filed.student_id))


@router.post("/takes/{ref}/erase")
def erase(request: Request, ref: str) -> Response:
    """Erase a take."""
    desk = desk_of(request)
    filed = desk.kept(ref)
    wiped = desk.studio.erase_take(filed.id)
    return see(f"/lesson/{filed.student_id}?done={'take-erased' if wiped else 'not-wiped'}")


@router.post("/takes/{ref}/forget")
def forget(request: Request, ref: str) -> Response:
    """Forget a take that passes through now, not in a quarter of an hour."""
    desk = desk_of(request)
    passing = desk.unkept.find(ref)
    if passing is None:
        raise NotThereError(_("This take is forgotten already."))
    desk.unkept.forget(ref)
    return see(f"/lesson/{passing.student.id}?done=forgotten")
