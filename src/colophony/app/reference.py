"""Use case: the takes at marked places of one student, what they still lack, and keeping one of them."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from colophony.app import lesson
from colophony.app.studio import hear_and_file
from colophony.errors import StudioError
from colophony.language import _, figures, ngettext, note_name
from colophony.records.domain import FiledTake, Student
from colophony.teaching.reference import BEATS, TEMPO, Fit, Mark, check_marked, find_mark, procedure

if TYPE_CHECKING:
    from colophony.records.studio import Studio


@dataclass(frozen=True, slots=True)
class Step:
    """One take of the procedure: how many accepted strokes there are at its place, and what waits there.

    ``waiting`` is the latest take at the place that nobody accepted yet; None without one.
    """

    mark: Mark
    accepted: int
    waiting: int | None = None

    def done(self) -> str:
        """Return how far the step is, in a few words."""
        if self.accepted:
            return ngettext("{n} stroke accepted", "{n} strokes accepted", self.accepted).format(
                n=self.accepted
            )
        return _("not recorded yet") if self.waiting is None else _("recorded, not accepted yet")

    def line(self) -> str:
        """Return the step in one line."""
        return _("{where}: {how}; {done}").format(
            where=where(self.mark), how=how(self.mark), done=self.done()
        )


@dataclass(frozen=True, slots=True)
class MarkedTake:
    """A take that was kept at a marked place, whether it fits, and what to say of that."""

    take: FiledTake
    fits: bool
    says: str


def steps(
    studio: Studio, student: Student, *, beats: float = BEATS, tempo: float = TEMPO
) -> tuple[Step, ...]:
    """Return the takes of the whole procedure on a student's instrument, in the order of playing."""
    marked = studio.marked_strokes(student.id)
    marks = [
        mark
        for mark in procedure(student.instrument, student.size, beats=beats, tempo=tempo)
        if mark.string in student.strings
    ]
    waiting = _waiting(studio, student)
    return tuple(
        Step(
            mark,
            sum(_same_place(mark, one.mark) for one in marked),
            next((take for place, take in waiting if _same_place(mark, place)), None),
        )
        for mark in marks
    )


def _waiting(studio: Studio, student: Student) -> list[tuple[Mark, int]]:
    """Return the takes at marked places of the instrument played now that are not accepted, newest first."""
    takes = (
        take
        for take in studio.takes(student.id)
        if take.purpose == "reference"
        and not take.accepted
        and (take.instrument, take.size) == (student.instrument, student.size)
    )
    places = ((studio.mark(take.id), take.id) for take in takes)
    return [(mark, take) for mark, take in places if mark is not None]


def keep_marked(
    studio: Studio,
    student: Student,
    file: Path,
    *,
    string: str,
    point: float,
    beats: float = BEATS,
    tempo: float = TEMPO,
    hair_mm: float | None = None,
    accept: bool = False,
    maps: Path | None = None,
) -> MarkedTake:
    """Hear a take at a marked place, keep it, and tell whether it fits; accept it on request if it does.

    A take that does not fit is kept all the same. Raises `InputError` for a place or a time that cannot be,
    `StudioError` where nothing of the student may be kept, `TakeError` when nothing can be heard.
    """
    from functools import partial

    from colophony.app.kept_maps import KeptMaps

    mark = find_mark(
        student.instrument,
        student.size,
        string,
        point=point,
        beats=beats,
        tempo=tempo,
        hair_mm=hair_mm,
    )
    # The string is not said: a wrong one must not be heard as a groan of the right one.
    request = lesson.Request(instrument=student.instrument, size=student.size)
    hear = partial(lesson.hear, request=request, kept=KeptMaps(maps) if maps else None)
    heard = hear_and_file(studio, student, file, hear, purpose="reference", mark=mark)
    if heard.take is None:
        raise StudioError(_("nothing of {name} may be kept").format(name=student.name))
    fit = check_marked(heard.findings.take, mark)
    take = heard.take
    if accept and fit.line is None:
        take = studio.accept_reference(take.id, True)
    return MarkedTake(take, fit.line is None, words(fit, mark))


def words(fit: Fit, mark: Mark) -> str:
    """Return whether a take fits its mark, in one sentence."""
    if fit.line is not None:
        return fit.line
    return ngettext(
        "{n} bow fits: {where}, {how}.", "{n} bows fit: {where}, {how}.", len(fit.strokes)
    ).format(n=len(fit.strokes), where=where(mark), how=how(mark))


def where(mark: Mark) -> str:
    """Return string and place in words."""
    return _("open {string}, sounding point {point}, {distance} mm from the bridge").format(
        string=note_name(mark.string), point=figures(f"{mark.point:g}"), distance=f"{mark.distance_mm:.0f}"
    )


def how(mark: Mark) -> str:
    """Return time and speed of one bow in words."""
    return _("a whole bow in {beats} beats at {tempo}, {speed} cm/s").format(
        beats=figures(f"{mark.beats:g}"), tempo=figures(f"{mark.tempo:g}"), speed=f"{mark.speed_cm_s:.0f}"
    )


def _same_place(one: Mark, other: Mark) -> bool:
    return one.string == other.string and abs(one.point - other.point) < 0.25
