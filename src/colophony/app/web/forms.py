"""Forms without a recording: read, checked, and given back as they were typed when something is wrong."""

from __future__ import annotations

import math
import unicodedata
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date
from typing import cast
from urllib.parse import parse_qsl

from starlette.requests import Request

from colophony.app.settings import READERS
from colophony.errors import InputError
from colophony.language import _
from colophony.listening.take import Direction, Instrument
from colophony.listening.tuning import HIGHEST_A4_HZ, LOWEST_A4_HZ
from colophony.physics.strings import strings_of
from colophony.records.domain import OPEN_STRINGS, SIZES, Student
from colophony.teaching.findings import Reader
from colophony.teaching.plans import AgeGroup
from colophony.teaching.reference import BEATS, TEMPO, Mark, find_mark
from colophony.units import note_to_midi

_FIELD_COUNT_LIMIT = 40
#: Groups of minors as a form offers them; "grown-up" beside them.
AGES = ("small-child", "child", "teen")


async def read_form(request: Request) -> dict[str, str]:
    """Return the fields of a plain form, stripped. Raises `InputError` when it is none."""
    body = await request.body()
    try:
        pairs = parse_qsl(
            body.decode("utf-8"), keep_blank_values=True, max_num_fields=_FIELD_COUNT_LIMIT, errors="strict"
        )
    except ValueError:
        raise InputError(_("The form arrived broken: send it again.")) from None
    return {name: value.strip() for name, value in pairs}


@dataclass(frozen=True, slots=True)
class StudentForm:
    """A student as entered."""

    name: str
    instrument: Instrument
    size: str
    minor: bool
    reader: Reader
    age_group: AgeGroup

    @classmethod
    def read(cls, fields: Mapping[str, str]) -> StudentForm:
        """Check the fields. Raises `InputError` with the first thing to put right."""
        name = _words(fields, "name", _("Write a name."), 80)
        instrument = cast(Instrument, _choice(fields, "instrument", OPEN_STRINGS, _("Choose an instrument.")))
        size = _choice(fields, "size", SIZES, _("Choose a size."))
        strings_of(instrument, size)  # says which sizes there are of this instrument
        age = _choice(fields, "age", (*AGES, "grown-up"), _("Choose how old the student is."))
        return cls(
            name=name,
            instrument=instrument,
            size=size,
            minor=age != "grown-up",
            reader=cast(Reader, _choice(fields, "reader", READERS, _("Choose whose words to use."))),
            age_group=cast(AgeGroup, "of-age" if age == "grown-up" else age),
        )


@dataclass(frozen=True, slots=True)
class ConsentForm:
    """A consent as entered: who gave it, what they are to the student, when, and for what."""

    given_by: str
    relation: str
    on: date
    keep_sound: bool
    note: str

    @classmethod
    def read(cls, fields: Mapping[str, str], *, today: date) -> ConsentForm:
        """Check the fields. Raises `InputError` with the first thing to put right."""
        try:
            on = date.fromisoformat(fields.get("on", ""))
        except ValueError:
            raise InputError(
                _("Write the day of the consent as year-month-day, such as 2025-03-14.")
            ) from None
        if on > today:
            raise InputError(
                _(
                    "The day of the consent, {day}, is still to come: consent is recorded once it is given."
                ).format(day=on)
            )
        if fields.get("agreed") != "yes":
            raise InputError(_("Tick the box that says this person has agreed: only then are takes kept."))
        return cls(
            given_by=_words(fields, "given_by", _("Write who agrees."), 80),
            relation=_words(fields, "relation", _("Write what this person is to the student."), 60),
            on=on,
            keep_sound=_choice(fields, "keep", ("sound", "findings"), _("Choose what may be kept."))
            == "sound",
            note=_words(fields, "note", "", 300) if fields.get("note") else "",
        )


@dataclass(frozen=True, slots=True)
class TakeForm:
    """What the teacher says of a take before it is heard; everything may be left open."""

    string: str | None
    expect: tuple[str, ...]
    first_bow: Direction | None
    a4_hz: float | None
    whole_bows: bool = False
    same_microphone: bool = False
    exercise: str = ""  #: key of the exercise that was played

    @classmethod
    def read(cls, fields: Mapping[str, str], student: Student) -> TakeForm:
        """Check the fields. Raises `InputError` with the first thing to put right."""
        string = fields.get("string") or None
        if string is not None and string not in student.strings:
            raise InputError(
                _("The strings of this instrument are {strings}: choose one of them.").format(
                    strings=", ".join(student.strings)
                )
            )
        expect = tuple(fields.get("expect", "").replace(",", " ").split())
        if len(expect) > 500:
            raise InputError(_("Write at most 500 notes, or leave the notes open."))
        for name in expect:
            note_to_midi(name)
        bow = fields.get("first_bow") or None
        if bow not in {None, "down", "up"}:
            raise InputError(_("The first stroke is down, up, or left open."))
        return cls(
            string,
            expect,
            cast("Direction | None", bow),
            _a4(fields.get("a4_hz", "")),
            whole_bows=fields.get("whole_bows") == "yes",
            same_microphone=fields.get("same_microphone") == "yes",
            exercise=fields.get("exercise", ""),
        )


def read_mark(fields: Mapping[str, str], student: Student, string: str) -> Mark | None:
    """Return where and how fast a reference take is played, None where no place is marked.

    Raises `InputError` for a number that is none, and for a place or time that cannot be.
    """
    if not fields.get("point"):
        return None
    point, beats, tempo = (
        _number(fields.get(name, ""), default)
        for name, default in (("point", 3.0), ("beats", BEATS), ("tempo", TEMPO))
    )
    return find_mark(student.instrument, student.size, string, point=point, beats=beats, tempo=tempo)


def _number(text: str, default: float) -> float:
    if not text:
        return default
    try:
        value = float(text.replace(",", "."))
    except ValueError:
        value = math.nan
    if not math.isfinite(value):
        raise InputError(_("{text!r} is no number: write one, such as 60.").format(text=text[:20]))
    return value


def one_of(word: str, words: tuple[str, ...]) -> str:
    """Return a word of an address that is one of some words. Raises `InputError` that names them."""
    if word not in words:
        raise InputError(
            _("{word} is none of the choices: take one of {words}").format(
                word=repr(word[:40]), words=", ".join(words)
            )
        )
    return word


def read_number(text: str, what: str) -> float | None:
    """Return the number that somebody wrote, with a point or a comma; None where it was left open."""
    if not text:
        return None
    try:
        return float(text.replace(",", "."))
    except ValueError:
        raise InputError(
            _("{given!r} is no number for {what}: write figures, or leave it empty").format(
                given=text[:40], what=what
            )
        ) from None


def read_direction(fields: Mapping[str, str]) -> tuple[int, Direction]:
    """Return the stroke's place in the take, from 0, and the direction that the teacher gives it."""
    number = fields.get("stroke", "")
    if not (number.isascii() and number.isdigit() and len(number) < 6):
        raise InputError(_("Say which stroke this is, by its number."))
    return int(number), cast(Direction, _choice(fields, "bow", ("down", "up"), _("Choose down or up.")))


def _a4(text: str) -> float | None:
    if not text:
        return None
    low, high = LOWEST_A4_HZ, HIGHEST_A4_HZ
    try:
        value = float(text.replace(",", "."))
    except ValueError:
        value = 0.0
    if not low <= value <= high:
        raise InputError(
            _("The tuning A is between {low} and {high} Hz; leave it open to have it found.").format(
                low=f"{low:.0f}", high=f"{high:.0f}"
            )
        )
    return value


def _words(fields: Mapping[str, str], field: str, ask: str, limit: int) -> str:
    """Return a line of words: no control characters, white space single, not empty."""
    text = "".join(
        c for c in fields.get(field, "") if unicodedata.category(c) not in {"Cc", "Cs", "Co", "Cn"}
    )
    text = " ".join(text.split())
    if not text:
        raise InputError(ask)
    if len(text) > limit:
        line = _("{ask} This has {n} letters; the limit is {limit}.")
        raise InputError(line.format(ask=ask, n=len(text), limit=limit))
    return text


def _choice(fields: Mapping[str, str], field: str, allowed: Iterable[str], ask: str) -> str:
    value = fields.get(field, "")
    if value not in allowed:
        raise InputError(ask)
    return value
