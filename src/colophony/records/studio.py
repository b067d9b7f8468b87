"""The studio: everything that is remembered, in one folder."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from datetime import date, datetime
from pathlib import Path
from types import TracebackType

from colophony.listening.take import Instrument, Stroke
from colophony.records.domain import Consent, FiledTake, Problem, Purpose, Student, Withdrawal
from colophony.teaching.findings import Findings, Reader


class Studio:
    """Students, consents, takes and findings in one folder; use it in a ``with`` block.

    Safe to share between threads; several processes may open the same folder.
    """

    @classmethod
    def open(cls, folder: Path) -> Studio:
        """Open the studio in a folder, making it when there is none and bringing an older one up to date."""
        raise NotImplementedError

    def close(self) -> None:
        """Let go of the database."""
        raise NotImplementedError

    def __enter__(self) -> Studio:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    # Students

    def add_student(
        self,
        name: str,
        *,
        instrument: Instrument,
        size: str = "4/4",
        strings: Sequence[str] | None = None,
        minor: bool | None,
        reader: Reader = "adult",
    ) -> Student:
        """Remember a student; ``minor=None`` (not known) counts as a minor."""
        raise NotImplementedError

    def students(self) -> list[Student]:
        """Return all students by name."""
        raise NotImplementedError

    def student(self, student_id: int) -> Student:
        """Return a student by number."""
        raise NotImplementedError

    def find_student(self, name: str) -> Student:
        """Return a student by name, upper and lower case alike; the error names near matches."""
        raise NotImplementedError

    def change_student(
        self,
        student_id: int,
        *,
        name: str | None = None,
        instrument: Instrument | None = None,
        size: str | None = None,
        strings: Sequence[str] | None = None,
        minor: bool | None = None,
        reader: Reader | None = None,
    ) -> Student:
        """Change what is given; earlier takes keep the instrument they were played on."""
        raise NotImplementedError

    # Consent

    def record_consent(
        self, student_id: int, *, given_by: str, relation: str, on: date, keep_sound: bool, note: str = ""
    ) -> Consent:
        """Record that takes may be kept; without ``keep_sound`` sound kept so far is erased."""
        raise NotImplementedError

    def consents(self, student_id: int) -> list[Consent]:
        """Return every consent given for a student, withdrawn ones too, oldest first."""
        raise NotImplementedError

    def withdraw_consent(self, student_id: int, *, on: date) -> Withdrawal:
        """Withdraw all consents; the sound of a minor is erased at once, findings stay until erased."""
        raise NotImplementedError

    def may_keep(self, student_id: int) -> bool:
        """Tell whether findings may be kept: the student is of age, or a consent stands."""
        raise NotImplementedError

    def may_keep_sound(self, student_id: int) -> bool:
        """Tell whether the recording itself may be kept too."""
        raise NotImplementedError

    # Takes

    @contextmanager
    def passing_file(self) -> Iterator[Path]:
        """Lend a private empty file for an upload; it is removed at the end, after a crash at the next open."""
        raise NotImplementedError

    def receive_take(
        self,
        student_id: int,
        recording: Path,
        *,
        taken_at: datetime,
        purpose: Purpose = "practice",
        original_name: str | None = None,
    ) -> FiledTake:
        """Store a recording before it is heard, so that nothing is lost: the take is pending."""
        raise NotImplementedError

    def file_findings(self, take_id: int, findings: Findings) -> FiledTake:
        """File the findings of a received take, in place of earlier ones."""
        raise NotImplementedError

    def file_take(
        self,
        student_id: int,
        recording: Path,
        findings: Findings,
        *,
        taken_at: datetime,
        purpose: Purpose = "practice",
        original_name: str | None = None,
    ) -> FiledTake:
        """File a heard recording; the same recording filed again replaces its findings."""
        raise NotImplementedError

    def take(self, take_id: int) -> FiledTake:
        """Return a take by number."""
        raise NotImplementedError

    def takes(self, student_id: int) -> list[FiledTake]:
        """Return a student's takes, newest first."""
        raise NotImplementedError

    def pending(self) -> list[FiledTake]:
        """Return takes that were received and never heard, oldest first."""
        raise NotImplementedError

    def findings(self, take_id: int) -> Findings:
        """Return the findings of a take as they were filed."""
        raise NotImplementedError

    def recording(self, take_id: int) -> Path:
        """Return the path of a take's recording: for reading only."""
        raise NotImplementedError

    def accept_reference(self, take_id: int, accepted: bool) -> FiledTake:
        """Say whether the tone of a reference take is accepted as this player's own."""
        raise NotImplementedError

    def reference_strokes(self, student_id: int) -> list[Stroke]:
        """Return the strokes of all accepted reference takes on the instrument played now."""
        raise NotImplementedError

    # Erasing, care, copies

    def erase_take(self, take_id: int) -> None:
        """Erase a take from database and disk; its sound stays only if another take shares it."""
        raise NotImplementedError

    def erase_student(self, student_id: int) -> None:
        """Erase a student with everything kept of them."""
        raise NotImplementedError

    def check(self) -> list[Problem]:
        """Look at every file and row, sweep what a dead run left over, and report."""
        raise NotImplementedError

    def backup(self, to: Path) -> Path:
        """Write the whole studio to one zip file (into ``to`` when it is a folder) and return its path."""
        raise NotImplementedError

    @classmethod
    def restore(cls, backup: Path, folder: Path) -> Studio:
        """Make a studio from a backup in a folder that holds none, and open it."""
        raise NotImplementedError

    def export_student(self, student_id: int, to: Path) -> Path:
        """Write all that is kept of a student to one zip file that a parent can open."""
        raise NotImplementedError
