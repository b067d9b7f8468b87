"""What every page works with: the studio, the takes that pass through unkept, and the queue of hearings."""

from __future__ import annotations

from collections.abc import Callable
from contextlib import ExitStack
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any
from urllib.parse import quote

from starlette.convertors import Convertor, register_url_convertor
from starlette.requests import Request
from starlette.responses import HTMLResponse

from colophony.app.own_exercises import every_exercise
from colophony.app.studio import under_name
from colophony.app.web.forms import TakeForm
from colophony.app.web.queue import Hearing, HearingQueue
from colophony.app.web.unkept import UnkeptTake, UnkeptTakes
from colophony.errors import InputError, StudioError
from colophony.language import N_, _
from colophony.records.domain import OPEN_STRINGS, FiledTake, Purpose, Student
from colophony.records.studio import Studio
from colophony.teaching.exercises.exercise import Exercise
from colophony.teaching.exercises.library import find_exercise
from colophony.teaching.findings import Findings
from colophony.teaching.reference import Mark

if TYPE_CHECKING:
    from jinja2 import Environment

PAGES = (
    {"href": "/lesson", "label": N_("Lesson")},
    {"href": "/bench", "label": N_("String bench")},
    {"href": "/practice", "label": N_("Practice")},
    {"href": "/score", "label": N_("Score")},
    {"href": "/progress", "label": N_("Progress")},
    {"href": "/talk", "label": N_("Talk")},
    {"href": "/studio", "label": N_("Studio")},
)
#: Sentences after a change, by the word in the address: nothing from an address is ever shown itself.
DONE = {
    "added": N_("The student is in the studio."),
    "changed": N_("The change is kept."),
    "consent": N_("The consent is recorded."),
    "withdrawn": N_("The consent is withdrawn. No further take is kept."),
    "take-erased": N_("The take is erased, with its sound and its findings."),
    "student-erased": N_("The student is erased, with every take."),
    "not-wiped": N_(
        "It is erased, and no page shows it any more. Another program was reading the studio just "
        "then: close that one and start the studio again, and the last trace is wiped from the disk."
    ),
    "forgotten": N_("The take is forgotten."),
    "score-forgotten": N_("The score is forgotten."),
    "accepted": N_("This is now the tone that later takes are heard against."),
    "repeat": N_("That one is erased. Play it again."),
    "direction": N_("The strokes on this note are named, as far as their way was heard."),
    "exercise": N_("The exercise is kept."),
    "exercise-removed": N_("The exercise is removed."),
    "plan": N_("The week is planned."),
    "passed": N_("The result is kept."),
    "called-off": N_("The listening was called off."),
}


class NotThereError(StudioError):
    """A page was asked for that is not, or no longer, there."""


@dataclass(frozen=True, slots=True)
class ShownTake:
    """A heard take on a page, kept in the studio or passing through.

    ``ref`` stands for it in addresses: its number, or the key of an unkept take.
    """

    ref: str
    student: Student
    name: str
    taken_at: datetime
    findings: Findings
    kept: FiledTake | None
    unkept: UnkeptTake | None

    @property
    def has_sound(self) -> bool:
        """Whether the take can be listened to."""
        if self.kept is not None:
            return self.kept.sound_kept
        return self.unkept is not None and self.unkept.sound is not None


@dataclass(slots=True)
class Desk:
    """One server's studio and what is going on in it."""

    studio: Studio
    queue: HearingQueue
    unkept: UnkeptTakes
    templates: Environment
    upload_limit: int
    now: Callable[[], datetime] = lambda: datetime.now(UTC)

    # Pages

    def page(self, request: Request, template: str, *, status: int = 200, **values: Any) -> HTMLResponse:
        """Return the template of that name as a page. ``line`` is the one line about what went wrong."""
        common: dict[str, Any] = {
            "pages": PAGES,
            "here": _here(request.url.path),
            "done": _(DONE.get(request.query_params.get("done", ""), "")),
            "address": _address(request),
            "line": None,
            "upload_limit": self.upload_limit,
        }
        text = self.templates.get_template(f"{template}.html.j2").render(**common | values)
        return HTMLResponse(text, status)

    # Takes on their way in

    def take_in(
        self,
        student: Student,
        file: Path,
        *,
        name: str,
        form: TakeForm,
        purpose: Purpose,
        hold: ExitStack,
        back: str,
        mark: Mark | None = None,
    ) -> Hearing:
        """Queue a sent recording: stored first where its sound may be kept, else passing through.

        ``mark`` is kept with a reference take: where and how fast it was played. ``hold`` removes ``file``
        when closed; it is closed here or by the take that passes through.
        Raises `InputError` when too many takes wait, or a reference take is sent that may not be kept.
        """
        self.queue.check_room()
        self._exercise(form)  # refused before anything is kept
        taken_at = self.now()
        if self.studio.may_keep_sound(student.id):
            filed = self.studio.receive_take(
                student.id, file, taken_at=taken_at, purpose=purpose, original_name=name, mark=mark
            )
            hold.close()
            return self.hear_kept(filed, student, form, back=back)
        if purpose == "reference" and not self.studio.may_keep(student.id):
            raise InputError(
                _("A reference take must be kept, and no consent is recorded yet: record it first.")
            )
        take = self.unkept.add(
            student, file, name=name, taken_at=taken_at, purpose=purpose, hold=hold, mark=mark
        )
        return self.hear_unkept(take, form, back=back)

    def hear_kept(self, filed: FiledTake, student: Student, form: TakeForm, *, back: str) -> Hearing:
        """Queue a received take, for the first time or again."""

        def heard(findings: Findings) -> str:
            self.studio.file_findings(filed.id, under_name(findings, filed.original_name))
            return _address_of(str(filed.id), form)

        return self._hear(
            self.studio.recording(filed.id),
            student,
            form,
            title=filed.original_name,
            back=back,
            ref=str(filed.id),
            heard=heard,
        )

    def hear_unkept(self, take: UnkeptTake, form: TakeForm, *, back: str) -> Hearing:
        """Queue a take that passes through."""
        if take.file is None:
            raise InputError(_("This take has been heard already."))

        file = take.file

        def heard(findings: Findings) -> str:
            findings = under_name(findings, take.name)
            if self.studio.may_keep(take.student.id):  # the findings, not the sound
                filed = self.studio.file_take(
                    take.student.id,
                    file,
                    findings,
                    taken_at=take.taken_at,
                    purpose=take.purpose,
                    original_name=take.name,
                    mark=take.mark,
                )
                self.unkept.forget(take.key)
                return _address_of(str(filed.id), form)
            if not self.unkept.heard(take.key, findings):
                raise InputError(_("This take was forgotten before it was heard: send it again."))
            return _address_of(take.key, form)

        return self._hear(
            take.file, take.student, form, title=take.name, back=back, ref=take.key, heard=heard
        )

    def _hear(
        self,
        file: Path,
        student: Student,
        form: TakeForm,
        *,
        title: str,
        back: str,
        ref: str,
        heard: Callable[[Findings], str],
    ) -> Hearing:
        from colophony.app.lesson import Request as HearingRequest
        from colophony.app.lesson import for_stroke

        request = HearingRequest(
            instrument=student.instrument,
            size=student.size,
            string=form.string if form.string in OPEN_STRINGS[student.instrument] else None,
            a4_hz=form.a4_hz,
            reference_strokes=tuple(self.studio.reference_strokes(student.id)),
            expect=form.expect,
            first_bow=form.first_bow,
            marked=tuple(self.studio.marked_strokes(student.id)),
            whole_bows=form.whole_bows,
            same_microphone=form.same_microphone,
        )
        exercise = self._exercise(form)
        if exercise is not None:
            request = for_stroke(request, exercise.stroke)
        hearing = Hearing(
            file, request, title=title, back=back, ref=ref, student_id=student.id, form=form, heard=heard
        )
        self.queue.add(hearing)
        return hearing

    def _exercise(self, form: TakeForm) -> Exercise | None:
        """Return the exercise that was played; raises `InputError` for one that there is not."""
        return find_exercise(form.exercise, every_exercise(self.studio)) if form.exercise else None

    # Takes that are heard

    def shown(self, ref: str) -> ShownTake:
        """Return the heard take that ``ref`` stands for. Raises `NotThereError`."""
        if is_number(ref):
            filed = self.studio.take(int(ref))
            if filed.status == "pending":
                raise NotThereError(
                    _("This take has not been heard yet: open its student's page and have it heard.")
                )
            student = self.studio.student(filed.student_id)
            findings = self.studio.findings(filed.id)
            return ShownTake(ref, student, filed.original_name, filed.taken_at, findings, filed, None)
        take = self.unkept.find(ref)
        if take is None or take.findings is None:
            raise NotThereError(
                _("This take was not kept and is forgotten by now. Send it again to hear it again.")
            )
        return ShownTake(ref, take.student, take.name, take.taken_at, take.findings, None, take)

    def kept(self, ref: str) -> FiledTake:
        """Return the kept take that ``ref`` stands for, heard or not. Raises `NotThereError`."""
        if not is_number(ref):
            raise NotThereError(_("This take is not kept; it will be forgotten by itself."))
        return self.studio.take(int(ref))

    def sound(self, ref: str) -> tuple[str, Path | bytes]:
        """Return a take's file name and sound, on disk or in memory, heard or not. Raises `NotThereError`."""
        if is_number(ref):
            filed = self.studio.take(int(ref))
            if not filed.sound_kept:
                raise NotThereError(_("The sound of this take is not kept, only its findings."))
            return filed.original_name, self.studio.recording(filed.id)
        take = self.unkept.find(ref)
        sound = None if take is None else take.file or take.sound
        if take is None or sound is None:
            raise NotThereError(_("The sound of this take is not kept and is forgotten by now."))
        return take.name, sound

    def change(self, take: ShownTake, findings: Findings) -> None:
        """Show other findings for the same take from now on."""
        if take.kept is not None:
            self.studio.file_findings(take.kept.id, findings)
        else:
            self.unkept.change(take.ref, findings)


def _address_of(ref: str, form: TakeForm) -> str:
    """Return the page that shows a heard take: under the rule of its exercise where one was played."""
    return f"/takes/{ref}/exercise?exercise={quote(form.exercise)}" if form.exercise else f"/takes/{ref}"


def _address(request: Request) -> str:
    """Return where a reader comes back to this page after choosing a language: never to a change."""
    if request.method != "GET":
        return request.headers.get("referer", "").partition(request.url.netloc)[2] or "/"
    query = "&".join(pair for pair in request.url.query.split("&") if pair and not pair.startswith("done="))
    return request.url.path + (f"?{query}" if query else "")


def _here(path: str) -> str:
    """Return the page of the navigation to which an address belongs."""
    first = "/" + path.split("/")[1]
    if first == "/students":
        return "/studio"
    return first if any(page["href"] == first for page in PAGES) else "/lesson"


class _NumberConvertor(Convertor[int]):
    """A number in an address, of a size that the database can hold."""

    regex = "[0-9]{1,18}"

    def convert(self, value: str) -> int:
        return int(value)

    def to_string(self, value: int) -> str:
        return str(value)


register_url_convertor("number", _NumberConvertor())


def desk_of(request: Request) -> Desk:
    """Return the desk of the server that a request reached."""
    desk = request.app.state.desk
    assert isinstance(desk, Desk)
    return desk


def is_number(ref: str) -> bool:
    """Tell whether an address names a kept take: a number that SQLite can hold."""
    return ref.isascii() and ref.isdigit() and len(ref) <= 18
