"""What the address of a plan asks for: part, instrument, bow, tempo, and what was changed by hand."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING
from urllib.parse import urlencode

from colophony.app.score.changing import Change, changed
from colophony.app.score.plan import plan_score
from colophony.app.score.values import PlannedScore, Score
from colophony.app.score.values import Request as PlanRequest
from colophony.app.web.forms import read_number
from colophony.errors import InputError
from colophony.language import _

if TYPE_CHECKING:
    from colophony.app.kept_maps import KeptMaps
    from colophony.records.domain import Student
    from colophony.records.studio import Studio

_FIELDS = ("part", "student", "instrument", "size", "bow_mm", "tempo")
_CHANGES_LIMIT = 60
_LETTERS_LIMIT = 120


@dataclass(frozen=True, slots=True)
class Asked:
    """The fields of an address as they stand there; empty where nothing is asked."""

    part: str = ""
    student: str = ""  #: number of a student, whose instrument and size then count
    instrument: str = ""
    size: str = ""
    bow_mm: str = ""
    tempo: str = ""
    changes: tuple[str, ...] = ()  #: see `colophony.app.score.changing`

    @classmethod
    def read(cls, fields: Mapping[str, str], changes: Sequence[str] = ()) -> Asked:
        """Return what an address or a form asks for. Raises `InputError` for what is far too long."""
        values = {name: fields.get(name, "").strip() for name in _FIELDS}
        if any(len(value) > _LETTERS_LIMIT for value in (*values.values(), *changes)):
            raise InputError(_("The address holds a value that is too long: begin again with the score."))
        if len(changes) > _CHANGES_LIMIT:
            raise InputError(
                _("More than {limit} changes are too many: take some back.").format(limit=_CHANGES_LIMIT)
            )
        return cls(**values, changes=tuple(dict.fromkeys(changes)))

    def query(self) -> str:
        """Return the address's query; the same one for the same question."""
        pairs = [(name, getattr(self, name)) for name in _FIELDS if getattr(self, name)]
        return urlencode(pairs + [("change", change) for change in self.changes])

    def address(self, key: str, file: str = "") -> str:
        """Return the address of a score's page, or of one of its files."""
        path = f"/score/{key}/{file}" if file else f"/score/{key}"
        query = self.query()
        return f"{path}?{query}" if query else path

    def with_change(self, change: str) -> Asked:
        """Return the same with one more change."""
        return replace(self, changes=(*self.changes, change))

    def without(self, change: str) -> Asked:
        """Return the same without a change."""
        return replace(self, changes=tuple(one for one in self.changes if one != change))

    def student_of(self, studio: Studio) -> Student | None:
        """Return the student that is asked for. Raises `InputError` and `StudioError`."""
        if not self.student:
            return None
        if not (self.student.isascii() and self.student.isdigit() and len(self.student) <= 18):
            raise InputError(_("There is no such student: choose one of the list."))
        return studio.student(int(self.student))

    def plan(self, score: Score, student: Student | None, *, kept: KeptMaps | None) -> PlannedScore:
        """Return the plan; rooms are computed where maps are kept, else those that were published.

        Raises `InputError` for what a plan cannot be made of.
        """
        request = PlanRequest(
            part=self.part or None,
            instrument=student.instrument if student else self.instrument or "violin",
            size=student.size if student else self.size or "4/4",
            bow_mm=read_number(self.bow_mm, _("the length of hair")),
            tempo=read_number(self.tempo, _("the tempo")),
        )
        score = changed(score, [Change.read(text) for text in self.changes])
        return plan_score(score, request, kept=kept, computed=kept is not None)
