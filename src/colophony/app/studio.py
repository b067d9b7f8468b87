"""What people do with the studio, for the command line and the pages alike.

The one rule both share: a recording that may be kept is stored first and heard then, so that nothing is
lost; one that may not be kept is heard where it lies and forgotten.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Literal

from colophony.errors import StudioError, TakeError
from colophony.language import _
from colophony.records.domain import FiledTake, Purpose, Student
from colophony.teaching.findings import Findings

if TYPE_CHECKING:
    from colophony.records.studio import Studio
    from colophony.teaching.reference import Mark

#: Hears one recording; for `hear_and_file` everything else it needs is bound already.
Hear = Callable[[Path], Findings]
Kept = Literal["sound", "findings", "nothing"]


@dataclass(frozen=True, slots=True)
class Heard:
    """A take that was heard for a student: its findings, and what of it the studio keeps."""

    findings: Findings
    kept: Kept
    take: FiledTake | None  #: None when nothing is kept


def open_studio(folder: Path) -> Studio:
    """Open the studio in a folder; see `colophony.records.studio.Studio.open`."""
    return _studio_class().open(folder)


def restore_studio(backup: Path, folder: Path) -> Studio:
    """Make a studio from a backup; see `colophony.records.studio.Studio.restore`."""
    return _studio_class().restore(backup, folder)


def hear_and_file(
    studio: Studio,
    student: Student,
    recording: Path,
    hear: Hear,
    *,
    purpose: Purpose = "practice",
    taken_at: datetime | None = None,
    original_name: str | None = None,
    mark: Mark | None = None,
) -> Heard:
    """Hear a recording for a student and keep of it what may be kept.

    A run that dies while hearing leaves the take pending; `hear_pending` takes it up again. A recording in
    which nothing can be heard is not kept: it stays where it was, and the `TakeError` is passed on.

    Parameters
    ----------
    studio, student
        Whose take it is; consent decides what is kept.
    recording
        The file as it lies; it is only read.
    hear
        Turns a path into findings (`colophony.app.lesson.hear` with its request).
    purpose
        ``"reference"`` for tone that the teacher may accept as this player's own.
    taken_at
        When it was played; None means the file's own date.
    original_name
        The name to remember in place of the file's.
    mark
        Where and how fast a reference take was to be played, remembered with it.

    Raises
    ------
    StudioError
        A reference take of a student whose takes may not be kept.
    TakeError
        Nothing can be heard in the recording.
    """
    if not studio.may_keep(student.id):
        if purpose == "reference":
            raise StudioError(
                _("a reference take is kept, and {name} is a minor without consent: record it first").format(
                    name=student.name
                )
            )
        return Heard(hear(recording), "nothing", None)
    when = taken_at or file_date(recording)
    if not studio.may_keep_sound(student.id):
        findings = hear(recording)
        take = studio.file_take(
            student.id,
            recording,
            findings,
            taken_at=when,
            purpose=purpose,
            original_name=original_name,
            mark=mark,
        )
        return Heard(findings, "findings", take)
    take = studio.receive_take(
        student.id, recording, taken_at=when, purpose=purpose, original_name=original_name, mark=mark
    )
    try:
        findings = hear(recording)
    except TakeError:
        if take.status == "pending":
            studio.erase_take(take.id)
        raise
    return Heard(findings, "sound", studio.file_findings(take.id, findings))


def hear_pending(studio: Studio, take: FiledTake, hear: Hear) -> Heard:
    """Hear a take that was received and never heard (one of `Studio.pending`), and file its findings.

    A take in which nothing can be heard stays pending, since the studio may have its only copy; the
    `TakeError` is passed on.
    """
    recording = studio.recording(take.id)
    try:
        findings = under_name(hear(recording), take.original_name)
    except TakeError as error:
        raise TakeError(str(error).replace(recording.name, take.original_name)) from error
    return Heard(findings, "sound", studio.file_findings(take.id, findings))


def under_name(findings: Findings, name: str) -> Findings:
    """Return the same findings, naming the file ``name``."""
    return replace(findings, take=replace(findings.take, file=name))


def file_date(recording: Path) -> datetime:
    """Return when a file was last written, in UTC; now when there is no such file (hearing it says so)."""
    try:
        return datetime.fromtimestamp(recording.stat().st_mtime, UTC)
    except (OSError, ValueError, OverflowError):
        return datetime.now(UTC)


def _studio_class() -> type[Studio]:
    """Return `Studio`, loading the database's libraries. Raises `StudioError` when they are not installed."""
    try:
        from colophony.records.studio import Studio
    except ModuleNotFoundError as error:
        raise StudioError(
            _("keeping takes needs {package}: run pip install '.[studio]' in Colophony's folder").format(
                package=error.name
            )
        ) from error
    return Studio
