"""What a studio remembers: students, consents, takes and practice, as plain values that know no SQL.

Nothing here asks for more than the work needs: of a person's age only whether they are a minor and, if
it is said, one of four groups; of an address or a date of birth nothing.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any, Literal

from colophony.listening.take import Instrument
from colophony.physics.strings import sizes_of
from colophony.teaching.findings import Reader
from colophony.teaching.plans import AgeGroup

Purpose = Literal["practice", "reference"]
TakeStatus = Literal["pending", "heard"]
ProblemKind = Literal[
    "database",
    "missing-sound",
    "changed-sound",
    "pending",
    "no-findings",
    "no-consent",
    "left-over",
    "permissions",
]

#: Sizes whose strings are known, of any of the three instruments; not every size comes of each.
SIZES = tuple(dict.fromkeys(size for name in ("violin", "viola", "cello") for size in sizes_of(name)))
#: Open strings from low to high, the usual tuning; common practice, no source.
OPEN_STRINGS: dict[Instrument, tuple[str, ...]] = {
    "violin": ("G3", "D4", "A4", "E5"),
    "viola": ("C3", "G3", "D4", "A4"),
    "cello": ("C2", "G2", "D3", "A3"),
}


@dataclass(frozen=True, slots=True)
class Student:
    """One student and the instrument played now.

    ``strings`` are the notes of the open strings from low to high. ``minor`` is true unless it is
    known that the student is of age. ``reader`` is who the findings are worded for. ``age_group`` is
    None where nobody said; it never contradicts ``minor``.
    """

    id: int
    name: str
    instrument: Instrument
    size: str
    strings: tuple[str, ...]
    minor: bool
    reader: Reader
    age_group: AgeGroup | None = None


@dataclass(frozen=True, slots=True)
class Consent:
    """Who allowed, on which day, that takes of a student are kept; ``keep_sound`` is false for findings only.

    ``relation`` is the giver's to the student ("mother", "herself"). The consent stands while
    ``withdrawn_on`` is None; of several that stand, the latest counts.
    """

    id: int
    student_id: int
    given_by: str
    relation: str
    on: date
    keep_sound: bool
    note: str
    withdrawn_on: date | None


@dataclass(frozen=True, slots=True)
class Withdrawal:
    """What withdrawing a consent did, and what is still kept and may be erased too."""

    erased_sounds: int  #: takes whose sound was erased
    erased_pending: int  #: takes not yet heard that were erased whole
    kept_sounds: int  #: takes whose sound stays (a student of age)
    kept_findings: int  #: takes whose findings stay until `Studio.erase_take` or `Studio.erase_student`
    kept_practice: int  #: plans and results that stay until `Studio.erase_student`


@dataclass(frozen=True, slots=True)
class FiledTake:
    """One take in the studio; its findings and its sound are fetched when asked for.

    ``sha256`` names the content of the recording, ``original_name`` is what its file was called.
    ``sound_kept`` is false where only the findings are kept. ``taken_at`` is in UTC.
    ``duration_s``, ``strokes`` and ``clean_share`` (0 to 1) are None while the take is pending:
    received, but not yet heard.
    """

    id: int
    student_id: int
    original_name: str
    sha256: str
    size_bytes: int
    sound_kept: bool
    taken_at: datetime
    purpose: Purpose
    accepted: bool  #: the teacher accepts the tone of this reference take
    status: TakeStatus
    instrument: Instrument
    size: str
    duration_s: float | None
    strokes: int | None
    clean_share: float | None


@dataclass(frozen=True, slots=True)
class OwnExercise:
    """An exercise that the studio's teacher wrote; ``content`` is the text that `teaching.exercises` reads.

    It belongs to the studio, not to a student: whoever is erased, it stays.
    """

    key: str
    content: str


@dataclass(frozen=True, slots=True)
class KeptPlan:
    """A plan as it was made for a student; ``content`` is plain values, as `teaching.plans` reads them."""

    id: int
    student_id: int
    made_on: date
    content: Mapping[str, Any]


@dataclass(frozen=True, slots=True)
class PassResult:
    """How an exercise went on one day: of ``asked_strokes`` so many passed, and whether that is enough.

    ``take_id`` is the take it was heard in, None where the teacher judged by ear. ``detail`` holds plain
    values: what was asked and what was found, for a person to read again.
    """

    id: int
    student_id: int
    exercise: str
    take_id: int | None
    on: date
    passed_strokes: int
    asked_strokes: int
    passed: bool
    detail: Mapping[str, Any]


@dataclass(frozen=True, slots=True)
class Problem:
    """One thing that `Studio.check` found: what, what to do, and whether it is already put right."""

    kind: ProblemKind
    what: str
    remedy: str
    repaired: bool = False
    take_id: int | None = None
