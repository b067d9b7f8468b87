"""Students, their instruments and the consents given for them: the questions asked of the database."""

from __future__ import annotations

import difflib
import unicodedata
from collections.abc import Sequence
from datetime import date
from typing import get_args

from sqlalchemy import Connection, Row, Select, delete, func, select, update

from colophony.errors import ColophonyError, StudioError
from colophony.language import _
from colophony.listening.take import Instrument
from colophony.physics.strings import sizes_of
from colophony.records import tables
from colophony.records.domain import OPEN_STRINGS, Consent, Student
from colophony.teaching.findings import Reader
from colophony.teaching.plans import AGE_GROUPS
from colophony.units import note_to_midi

_NAME_LIMIT = 200
_NOTE_LIMIT = 2000


def add(connection: Connection, student: Student) -> int:
    """Insert a student (whose number is ignored) and return the number given."""
    values = _student_values(connection, student, but=None)
    student_id = tables.insert_row(connection, tables.students, values)
    _add_instrument(connection, student_id, student)
    return student_id


def change(connection: Connection, student: Student) -> None:
    """Write a student's changed values; a changed instrument becomes a new one, played from now on."""
    before = get(connection, student.id)
    values = _student_values(connection, student, but=student.id)
    connection.execute(update(tables.students).where(tables.students.c.id == student.id).values(values))
    if _instrument(before) != _instrument(student):
        _add_instrument(connection, student.id, student)


def get(connection: Connection, student_id: int) -> Student:
    """Return a student. Raises `StudioError` when the number is nobody's."""
    row = connection.execute(_students().where(tables.students.c.id == student_id)).one_or_none()
    if row is None:
        raise StudioError(
            _("no student has the number {number}: the studio's list shows who is there").format(
                number=student_id
            )
        )
    return _student(row)


def everyone(connection: Connection) -> list[Student]:
    """Return all students, by name."""
    return [_student(row) for row in connection.execute(_students().order_by(tables.students.c.name_key))]


def find(connection: Connection, name: str) -> Student:
    """Return the student of this name. Raises `StudioError` that offers the names most like it."""
    key = _key(name)
    row = connection.execute(_students().where(tables.students.c.name_key == key)).one_or_none()
    if row is not None:
        return _student(row)
    names = {_key(student.name): student.name for student in everyone(connection)}
    if not names:
        raise StudioError(
            _("no student is called {name!r}: the studio has no students yet, add one first").format(
                name=name
            )
        )
    near = sorted(names, key=lambda other: _likeness(key, other), reverse=True)[:3]
    near = [other for other in near if _likeness(key, other) >= 0.6]
    if not near:
        raise StudioError(_("no student is called {name!r}: add them first").format(name=name))
    offer, *others = (repr(names[other]) for other in near)
    for other in others:
        offer = _("{one} or {other}").format(one=offer, other=other)
    raise StudioError(_("no student is called {name!r}: is it {offer}?").format(name=name, offer=offer))


def erase(connection: Connection, student_id: int) -> None:
    """Delete a student with every row that belongs to them. Raises `StudioError` when there is none."""
    get(connection, student_id)
    connection.execute(delete(tables.students).where(tables.students.c.id == student_id))


def current_instrument(connection: Connection, student_id: int) -> int:
    """Return the number of the instrument that the student plays now."""
    newest = select(func.max(tables.instruments.c.id)).where(tables.instruments.c.student_id == student_id)
    return int(connection.execute(newest).scalar_one())


def add_consent(connection: Connection, consent: Consent) -> int:
    """Insert a consent (whose number is ignored) and return the number given."""
    get(connection, consent.student_id)
    values = {
        "student_id": consent.student_id,
        "given_by": clean_line(consent.given_by, _("the name of who gives consent")),
        "relation": clean_line(consent.relation, _("the relation to the student")),
        "given_on": consent.on,
        "keep_sound": consent.keep_sound,
        "note": clean_text(consent.note, _("the note"), limit=_NOTE_LIMIT),
        "withdrawn_on": consent.withdrawn_on,
    }
    return tables.insert_row(connection, tables.consents, values)


def consents(connection: Connection, student_id: int) -> list[Consent]:
    """Return every consent for a student, withdrawn ones too, in the order they were recorded."""
    get(connection, student_id)
    table = tables.consents
    rows = connection.execute(select(table).where(table.c.student_id == student_id).order_by(table.c.id))
    return [
        Consent(
            id=row.id,
            student_id=row.student_id,
            given_by=row.given_by,
            relation=row.relation,
            on=row.given_on,
            keep_sound=row.keep_sound,
            note=row.note,
            withdrawn_on=row.withdrawn_on,
        )
        for row in rows
    ]


def withdraw_consents(connection: Connection, student_id: int, *, on: date) -> int:
    """Mark every standing consent withdrawn and return how many stood."""
    table = tables.consents
    standing = (table.c.student_id == student_id) & table.c.withdrawn_on.is_(None)
    return int(connection.execute(update(table).where(standing).values(withdrawn_on=on)).rowcount)


def standing_consent(connection: Connection, student_id: int) -> Consent | None:
    """Return the consent that counts: of those not withdrawn the one recorded last."""
    standing = [consent for consent in consents(connection, student_id) if consent.withdrawn_on is None]
    return standing[-1] if standing else None


def may_keep(connection: Connection, student_id: int) -> tuple[bool, bool]:
    """Tell whether findings and whether sound of a student may be kept."""
    student = get(connection, student_id)
    consent = standing_consent(connection, student_id)
    if consent is None:
        return not student.minor, not student.minor
    return True, consent.keep_sound


def clean_line(text: str, what: str, *, limit: int = _NAME_LIMIT) -> str:
    """Return one line without spaces around it. Raises `StudioError` when it is empty."""
    line = " ".join(clean_text(text, what, limit=limit).split())
    if not line:
        raise StudioError(_("{what} is empty: write it").format(what=what))
    return line


def clean_text(text: str, what: str, *, limit: int) -> str:
    """Return text in Unicode's composed form. Raises `StudioError` when it is too long or no text."""
    composed = unicodedata.normalize("NFC", text).strip()
    if len(composed) > limit:
        raise StudioError(
            _("{what} has {count} characters: {most} at most, shorten it").format(
                what=what, count=len(composed), most=limit
            )
        )
    if any(unicodedata.category(letter) in ("Cc", "Cs") and letter not in "\n\t" for letter in composed):
        raise StudioError(_("{what} holds characters that are no text: type it again").format(what=what))
    return composed


def _key(name: str) -> str:
    """Return a name as it is compared: composed, upper and lower case alike, single spaces."""
    return " ".join(unicodedata.normalize("NFKC", name).casefold().split())


def _likeness(key: str, other: str) -> float:
    """Return how like a name is to another, or to one word of it: 0 to 1."""
    return max(difflib.SequenceMatcher(None, key, part).ratio() for part in (other, *other.split()))


def _student_values(connection: Connection, student: Student, *, but: int | None) -> dict[str, object]:
    name = clean_line(student.name, _("the student's name"))
    _check_instrument(student)
    _one_of(student.reader, get_args(Reader), _("reader"))
    _check_age(student)
    taken = connection.execute(
        select(tables.students.c.id).where(tables.students.c.name_key == _key(name))
    ).scalar_one_or_none()
    if taken is not None and taken != but:
        raise StudioError(
            _("a student called {name!r} is here already: add the family name or a letter").format(name=name)
        )
    return {
        "name": name,
        "name_key": _key(name),
        "minor": student.minor,
        "reader": student.reader,
        "age_group": student.age_group,
    }


def _check_age(student: Student) -> None:
    if student.age_group is None:
        return
    _one_of(student.age_group, AGE_GROUPS, _("age group"))
    if student.minor is (student.age_group == "of-age"):
        said = _("a minor") if student.minor else _("of age")
        raise StudioError(
            _("{name} is {said}, which the age group {group!r} contradicts: correct one of them").format(
                name=student.name, said=said, group=student.age_group
            )
        )


def _check_instrument(student: Student) -> None:
    _one_of(student.instrument, get_args(Instrument), _("instrument"))
    _one_of(
        student.size,
        sizes_of(student.instrument),
        _("size of {instrument}").format(instrument=_(student.instrument)),
    )
    if not 1 <= len(student.strings) <= 8:
        raise StudioError(
            _("{count} strings: an instrument here has 1 to 8, from low to high").format(
                count=len(student.strings)
            )
        )
    try:
        pitches = [note_to_midi(string) for string in student.strings]
    except ColophonyError as error:
        raise StudioError(_("open strings: {error}").format(error=error)) from error
    if pitches != sorted(set(pitches)):
        raise StudioError(
            _("open strings {strings}: write them from low to high, such as {usual}").format(
                strings=" ".join(student.strings), usual=" ".join(OPEN_STRINGS[student.instrument])
            )
        )


def _one_of(value: str, choices: Sequence[str], what: str) -> None:
    if value not in choices:
        raise StudioError(
            _("{what} {given!r}: choose one of {known}").format(
                what=what, given=value, known=", ".join(choices)
            )
        )


def _instrument(student: Student) -> tuple[str, str, tuple[str, ...]]:
    return student.instrument, student.size, student.strings


def _add_instrument(connection: Connection, student_id: int, student: Student) -> None:
    kind, size, strings = _instrument(student)
    connection.execute(
        tables.instruments.insert().values(
            student_id=student_id, kind=kind, size=size, strings=[string.strip() for string in strings]
        )
    )


def _students() -> Select[tuple[object, ...]]:
    played, any_played = tables.instruments, tables.instruments.alias()
    newest = select(func.max(any_played.c.id)).where(any_played.c.student_id == tables.students.c.id)
    current = tables.students.join(played, played.c.id == newest.scalar_subquery())
    return select(tables.students, played.c.kind, played.c.size, played.c.strings).select_from(current)


def _student(row: Row[tuple[object, ...]]) -> Student:
    return Student(
        id=row.id,
        name=row.name,
        instrument=row.kind,
        size=row.size,
        strings=tuple(row.strings),
        minor=row.minor,
        reader=row.reader,
        age_group=row.age_group,
    )
