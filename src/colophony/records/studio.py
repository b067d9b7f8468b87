"""The studio: everything that is remembered, in one folder.

::

    studio.db       students, instruments, consents, takes, findings, practice (see tables.py)
    recordings/     the sound, by content (see store.py)
    incoming/       files on their way in
    .opening        lock: one program at a time creates or migrates

A recording reaches its place on disk before its row is written, and leaves the database before it leaves the
disk: a run that dies half way leaves at most a file that nothing refers to, which the next opening
(`incoming`) or `Studio.check` (`recordings`) sweeps.
"""

from __future__ import annotations

import secrets
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import replace
from datetime import UTC, date, datetime
from pathlib import Path
from types import TracebackType
from typing import Any, Literal

from sqlalchemy import Connection, delete, insert, select

from colophony.errors import StudioError
from colophony.language import _
from colophony.listening.take import Instrument, Stroke
from colophony.records import care, copies, filing, locks, people, practice, store, tables
from colophony.records.database import Database, bring_up_to_date, plain_errors
from colophony.records.domain import (
    OPEN_STRINGS,
    Consent,
    FiledTake,
    KeptPlan,
    OwnExercise,
    PassResult,
    Problem,
    Purpose,
    Student,
    Withdrawal,
)
from colophony.records.store import RecordingStore
from colophony.teaching.findings import Findings, Reader
from colophony.teaching.plans import AgeGroup
from colophony.teaching.reference import Mark, MarkedStroke, fits

DATABASE_NAME = "studio.db"
_OPENING_WAIT_S = 60.0


class Studio:
    """Students, consents, takes and findings in one folder; use it in a ``with`` block.

    Safe to share between threads; several processes may open the same folder.
    """

    def __init__(self, folder: Path, database: Database, recordings: RecordingStore) -> None:
        """See `open`, which makes one."""
        self.folder = folder
        self._database = database
        self._store = recordings

    @classmethod
    def open(cls, folder: Path) -> Studio:
        """Open the studio in a folder, making it when there is none and bringing an older one up to date.

        What a dead run left in ``incoming`` is swept, and an erasure that was cut short is finished.
        Raises `StudioError`, leaving the folder as it is, when the studio was made by a newer version, is
        damaged, or when the folder holds other things or cannot be written.
        """
        folder = folder.absolute()
        with plain_errors(folder):
            _prepare_folder(folder)
            with locks.alone(folder / ".opening", wait_s=_OPENING_WAIT_S):
                bring_up_to_date(folder / DATABASE_NAME)
                recordings = RecordingStore(folder)
                recordings.prepare()
                recordings.sweep()
            studio = cls(folder, Database(folder / DATABASE_NAME), recordings)
            try:
                studio._finish_erasing()
            except BaseException:
                studio.close()
                raise
            return studio

    def close(self) -> None:
        """Let go of the database."""
        self._database.close()

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
        age_group: AgeGroup | None = None,
    ) -> Student:
        """Remember a student; ``minor=None`` (not known) counts as a minor, unless the age group is "of-age".

        ``strings`` are the open strings from low to high, the usual tuning unless given. Raises
        `StudioError` when a student of that name is here already, a value is not among the choices, or
        ``minor`` and ``age_group`` contradict each other.
        """
        minor = age_group != "of-age" if minor is None else minor
        open_strings = tuple(OPEN_STRINGS.get(instrument, ()) if strings is None else strings)
        student = Student(0, name, instrument, size, open_strings, minor, reader, age_group)
        with self._database.writing() as connection:
            return people.get(connection, people.add(connection, student))

    def students(self) -> list[Student]:
        """Return all students by name."""
        with self._database.reading() as connection:
            return people.everyone(connection)

    def student(self, student_id: int) -> Student:
        """Return a student by number. Raises `StudioError` when it is nobody's."""
        with self._database.reading() as connection:
            return people.get(connection, student_id)

    def find_student(self, name: str) -> Student:
        """Return a student by name, upper and lower case alike; the error names near matches."""
        with self._database.reading() as connection:
            return people.find(connection, name)

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
        age_group: AgeGroup | Literal[""] | None = None,
    ) -> Student:
        """Change what is given; earlier takes keep the instrument they were played on.

        Another instrument takes its usual strings unless they are given. An age group "" is forgotten.
        Where only one of ``minor`` and ``age_group`` is given, the other follows. Raises `StudioError` when
        a student of whom anything is kept would become a minor without consent.
        """
        with self._database.writing() as connection:
            before = people.get(connection, student_id)
            if strings is None and instrument not in (None, before.instrument):
                strings = OPEN_STRINGS.get(instrument, ())
            minor, group = _ages(before, minor, age_group)
            after = replace(
                before,
                name=before.name if name is None else name,
                instrument=before.instrument if instrument is None else instrument,
                size=before.size if size is None else size,
                strings=before.strings if strings is None else tuple(strings),
                minor=minor,
                reader=before.reader if reader is None else reader,
                age_group=group,
            )
            people.change(connection, after)
            kept = filing.of_student(connection, student_id) or practice.count(connection, student_id)
            if kept and not people.may_keep(connection, student_id)[0]:
                raise StudioError(
                    _(
                        "{name} has takes or plans here and would be a minor without consent: record the "
                        "consent first, or erase what is kept"
                    ).format(name=before.name)
                )
            return people.get(connection, student_id)

    # Consent

    def record_consent(
        self, student_id: int, *, given_by: str, relation: str, on: date, keep_sound: bool, note: str = ""
    ) -> Consent:
        """Record that takes may be kept; without ``keep_sound`` sound kept so far is erased.

        Takes not yet heard are erased with their sound then.

        Who may give consent, and in which form, is for the school and local law to say.
        """
        consent = Consent(0, student_id, given_by, relation, on, keep_sound, note, None)
        with self._database.writing() as connection:
            consent_id = people.add_consent(connection, consent)
            if not keep_sound:
                filing.forget_sound(connection, student_id)
                self._start_erasing(connection)
            [recorded] = [c for c in people.consents(connection, student_id) if c.id == consent_id]
        self._finish_erasing()
        return recorded

    def consents(self, student_id: int) -> list[Consent]:
        """Return every consent given for a student, withdrawn ones too, oldest first."""
        with self._database.reading() as connection:
            return people.consents(connection, student_id)

    def withdraw_consent(self, student_id: int, *, on: date) -> Withdrawal:
        """Withdraw all consents; the sound of a minor is erased at once, findings stay until erased.

        Raises `StudioError` when no consent stands.
        """
        with self._database.writing() as connection:
            student = people.get(connection, student_id)
            if not people.withdraw_consents(connection, student_id, on=on):
                raise StudioError(
                    _("no consent for {name} stands: there is nothing to withdraw").format(name=student.name)
                )
            sounds, unheard = (0, 0)
            if student.minor:
                sounds, unheard = filing.forget_sound(connection, student_id)
                self._start_erasing(connection)
            left = filing.of_student(connection, student_id)
            kept_practice = practice.count(connection, student_id)
        self._finish_erasing()
        return Withdrawal(
            erased_sounds=sounds,
            erased_pending=unheard,
            kept_sounds=sum(take.sound_kept for take in left),
            kept_findings=sum(take.status == "heard" for take in left),
            kept_practice=kept_practice,
        )

    def may_keep(self, student_id: int) -> bool:
        """Tell whether findings may be kept: the student is of age, or a consent stands."""
        with self._database.reading() as connection:
            return people.may_keep(connection, student_id)[0]

    def may_keep_sound(self, student_id: int) -> bool:
        """Tell whether the recording itself may be kept too.

        False with `may_keep` true means: hear the recording where it lies, then `file_take`; the studio
        keeps its findings and forgets its sound.
        """
        with self._database.reading() as connection:
            return people.may_keep(connection, student_id)[1]

    # Takes

    @contextmanager
    def passing_file(self) -> Iterator[Path]:
        """Lend a private empty file for an upload; it is gone at the end, after a crash at the next open."""
        with self._store.passing_file() as path:
            yield path

    def receive_take(
        self,
        student_id: int,
        recording: Path,
        *,
        taken_at: datetime,
        purpose: Purpose = "practice",
        original_name: str | None = None,
        mark: Mark | None = None,
    ) -> FiledTake:
        """Store a recording before it is heard, so that nothing is lost: the take is pending.

        The same recording received again is the same take, with its findings if it has some.
        ``original_name`` is remembered in place of the file's name, ``mark`` with the take. Raises
        `StudioError` when the sound of this student may not be kept, `InputError` when there is no such file.
        """
        with self._database.reading() as connection:
            _refuse_unless_sound_may_be_kept(connection, student_id)
        with (
            plain_errors(self.folder),
            store.open_recording(recording) as source,
            self._store.copy_in(source) as arrival,
            self._database.writing() as connection,
        ):
            _refuse_unless_sound_may_be_kept(connection, student_id)  # withdrawn meanwhile?
            self._store.keep(arrival)
            take_id = filing.receive(
                connection,
                student_id,
                sha256=arrival.sha256,
                size_bytes=arrival.size_bytes,
                original_name=filing.original_name(recording, original_name),
                sound_kept=True,
                taken_at=taken_at,
                purpose=purpose,
                mark=mark,
            )
            return filing.get(connection, take_id)

    def file_findings(self, take_id: int, findings: Findings) -> FiledTake:
        """File the findings of a received take, in place of earlier ones.

        Raises `StudioError` when the take was erased meanwhile.
        """
        with self._database.writing() as connection:
            filing.file(connection, take_id, findings, heard_at=datetime.now(UTC))
            return filing.get(connection, take_id)

    def file_take(
        self,
        student_id: int,
        recording: Path,
        findings: Findings,
        *,
        taken_at: datetime,
        purpose: Purpose = "practice",
        original_name: str | None = None,
        mark: Mark | None = None,
    ) -> FiledTake:
        """File a heard recording; the same recording filed again replaces its findings.

        Where consent covers findings only, the sound is not stored, not even for a moment. Raises
        `StudioError` when nothing of this student may be kept, `InputError` when ``recording`` is no file.
        """
        with self._database.reading() as connection:
            keep, keep_sound = people.may_keep(connection, student_id)
            if not keep:
                raise _no_consent(connection, student_id)
        if keep_sound:
            filed = self.receive_take(
                student_id,
                recording,
                taken_at=taken_at,
                purpose=purpose,
                original_name=original_name,
                mark=mark,
            )
            return self.file_findings(filed.id, findings)
        with plain_errors(self.folder):
            sha256, size_bytes = store.identify(recording)
        with self._database.writing() as connection:
            _refuse_unless_kept(connection, student_id)
            take_id = filing.receive(
                connection,
                student_id,
                sha256=sha256,
                size_bytes=size_bytes,
                original_name=filing.original_name(recording, original_name),
                sound_kept=False,
                taken_at=taken_at,
                purpose=purpose,
                mark=mark,
            )
            filing.file(connection, take_id, findings, heard_at=datetime.now(UTC))
            return filing.get(connection, take_id)

    def take(self, take_id: int) -> FiledTake:
        """Return a take by number. Raises `StudioError` when there is none, or no more."""
        with self._database.reading() as connection:
            return filing.get(connection, take_id)

    def takes(self, student_id: int) -> list[FiledTake]:
        """Return a student's takes, newest first."""
        with self._database.reading() as connection:
            return filing.of_student(connection, student_id)

    def pending(self) -> list[FiledTake]:
        """Return takes that were received and never heard, oldest first."""
        with self._database.reading() as connection:
            return filing.pending(connection)

    def findings(self, take_id: int) -> Findings:
        """Return the findings of a take as they were filed. Raises `StudioError` while it is pending."""
        with self._database.reading() as connection:
            return filing.findings(connection, take_id)

    def recording(self, take_id: int) -> Path:
        """Return the path of a take's recording, for reading only; its name has no ending.

        Raises `StudioError` when the sound was not kept, or is missing from the disk.
        """
        take = self.take(take_id)
        if not take.sound_kept:
            raise StudioError(
                _("of take {number} ({name}) only the findings were kept").format(
                    number=take_id, name=take.original_name
                )
            )
        path = self._store.path(take.sha256)
        if not path.is_file():
            raise StudioError(
                _(
                    "the sound of take {number} ({name}) is missing: file the recording again, or restore a "
                    "backup"
                ).format(number=take_id, name=take.original_name)
            )
        return path

    def accept_reference(self, take_id: int, accepted: bool) -> FiledTake:
        """Say whether the tone of a reference take is accepted as this player's own.

        Raises `StudioError` when the take was not made as a reference, or is not heard yet.
        """
        with self._database.writing() as connection:
            take = filing.get(connection, take_id)
            if accepted and (take.purpose != "reference" or take.status != "heard"):
                raise StudioError(
                    _(
                        "take {number} ({name}) is no reference take that was heard: file it as a reference "
                        "first"
                    ).format(number=take_id, name=take.original_name)
                )
            filing.accept(connection, take_id, accepted)
            return filing.get(connection, take_id)

    def reference_strokes(self, student_id: int) -> list[Stroke]:
        """Return the strokes of all accepted reference takes on the instrument played now."""
        with self._database.reading() as connection:
            return [stroke for _, stroke in filing.reference_strokes(connection, student_id)]

    def mark(self, take_id: int) -> Mark | None:
        """Return where and how fast a reference take was to be played, None where nobody said."""
        with self._database.reading() as connection:
            return filing.mark(connection, take_id)

    def marked_strokes(self, student_id: int) -> list[MarkedStroke]:
        """Return the strokes that fit their marks, of accepted takes on the instrument played now."""
        with self._database.reading() as connection:
            strokes = filing.reference_strokes(connection, student_id)
        return [MarkedStroke(mark, stroke) for mark, stroke in strokes if mark and fits(mark, stroke)]

    # Practice: the teacher's own exercises belong to the studio, plans and results to a student and under
    # the same consent as findings.

    def keep_exercise(self, key: str, content: str) -> OwnExercise:
        """Keep an exercise of the teacher's own, or its new text in place of the old one."""
        with self._database.writing() as connection:
            return practice.keep_exercise(connection, key, content)

    def own_exercises(self) -> list[OwnExercise]:
        """Return the exercises of the teacher's own, by key."""
        with self._database.reading() as connection:
            return practice.exercises(connection)

    def remove_exercise(self, key: str) -> None:
        """Remove an exercise of the teacher's own; plans and results that name it stay.

        Raises `StudioError` when there is none of that key.
        """
        with self._database.writing() as connection:
            practice.remove_exercise(connection, key)

    def keep_plan(self, student_id: int, content: Mapping[str, Any], *, made_on: date) -> KeptPlan:
        """Keep a plan (plain values); earlier ones stay. Raises `StudioError` without consent."""
        with self._database.writing() as connection:
            _refuse_unless_kept(connection, student_id)
            return practice.add_plan(connection, student_id, content, made_on=made_on)

    def plans(self, student_id: int) -> list[KeptPlan]:
        """Return a student's plans, newest first."""
        with self._database.reading() as connection:
            return practice.plans(connection, student_id)

    def latest_plan(self, student_id: int) -> KeptPlan | None:
        """Return the plan made last, None without any."""
        return next(iter(self.plans(student_id)), None)

    def record_pass(
        self,
        student_id: int,
        exercise: str,
        *,
        on: date,
        passed_strokes: int,
        asked_strokes: int,
        passed: bool,
        take_id: int | None = None,
        detail: Mapping[str, Any] | None = None,
    ) -> PassResult:
        """Keep how an exercise went, passed or not.

        The same exercise in the same take again replaces what was kept of it; a result goes when its take
        is erased. Raises `StudioError` without consent, and when the take is another student's or gone.
        """
        result = PassResult(
            0, student_id, exercise, take_id, on, passed_strokes, asked_strokes, passed, detail or {}
        )
        with self._database.writing() as connection:
            _refuse_unless_kept(connection, student_id)
            return practice.add_pass(connection, result)

    def passes(self, student_id: int, *, exercise: str | None = None) -> list[PassResult]:
        """Return how exercises went, newest first: of one exercise, or of all."""
        with self._database.reading() as connection:
            return practice.passes(connection, student_id, exercise=exercise)

    def passed_when(self, student_id: int) -> dict[str, tuple[date, ...]]:
        """Return on which days each exercise was passed, oldest first; what was never passed is left out."""
        days: dict[str, set[date]] = {}
        for result in self.passes(student_id):
            if result.passed:
                days.setdefault(result.exercise, set()).add(result.on)
        return {exercise: tuple(sorted(of)) for exercise, of in days.items()}

    # Erasing

    def erase_take(self, take_id: int) -> bool:
        """Erase a take from database and disk; its sound stays only where another take shares it.

        Returns true when every trace is gone from the studio; false when another program was reading, so
        that the next opening wipes the last of it. Backups made earlier still hold the take.
        """
        with self._database.writing() as connection:
            filing.get(connection, take_id)
            filing.erase(connection, take_id)
            self._start_erasing(connection)
        return self._finish_erasing()

    def erase_student(self, student_id: int) -> bool:
        """Erase a student with everything kept of them; returns as `erase_take` does."""
        with self._database.writing() as connection:
            people.erase(connection, student_id)
            self._start_erasing(connection)
        return self._finish_erasing()

    # Care and copies

    def check(self) -> list[Problem]:
        """Look at every file and row, sweep what a dead run left over, and report what was found."""
        self._finish_erasing()
        return care.check(self.folder, self._database, self._store)

    def backup(self, to: Path) -> Path:
        """Write the whole studio to one new zip file (into ``to`` when it is a folder); return its path.

        Others may go on filing meanwhile. Raises `StudioError` when the file exists already.
        """
        return copies.backup(self._database, self._store, to)

    @classmethod
    def restore(cls, backup: Path, folder: Path) -> Studio:
        """Make a studio from a backup in a folder that holds none, and open it.

        Every recording is checked against its hash first; nothing is written where the backup is damaged.
        """
        folder = folder.absolute()
        with plain_errors(folder):
            copies.restore(backup, folder)
        return cls.open(folder)

    def export_student(self, student_id: int, to: Path) -> Path:
        """Write all that is kept of a student to one new zip file that a parent can open; return its path."""
        return copies.export_student(self._database, self._store, student_id, to)

    # An erasure is noted in the transaction that deletes, done afterwards, and crossed out at the end, so
    # that the next opening finishes one that was cut short.

    def _start_erasing(self, connection: Connection) -> None:
        connection.execute(insert(tables.erasures).values(token=secrets.token_hex(16)))

    def _finish_erasing(self) -> bool:
        token = tables.erasures.c.token
        with self._database.reading() as connection:
            begun = list(connection.execute(select(token)).scalars())
        if not begun:
            return True
        with self._database.writing() as connection:
            care.sweep_recordings(connection, self._store)
        if not self._database.scrub():
            return False
        with self._database.writing() as connection:  # only these: another may have begun meanwhile
            connection.execute(delete(tables.erasures).where(token.in_(begun)))
        return True


def _prepare_folder(folder: Path) -> None:
    """Make the studio's folder, for its owner only. Raises `StudioError` when it holds other things."""
    if folder.exists() and not folder.is_dir():
        raise StudioError(_("{path} is a file: a studio needs a folder").format(path=folder))
    folder.mkdir(mode=0o700, parents=True, exist_ok=True)
    others = sorted(entry.name for entry in folder.iterdir() if not entry.name.startswith("."))
    if not (folder / DATABASE_NAME).exists():  # asked last: another program may be making it just now
        if others:
            raise StudioError(
                _("{path} is no studio and holds other things ({other}): choose an empty folder").format(
                    path=folder, other=others[0]
                )
            )
        folder.chmod(0o700)


def _ages(
    before: Student, minor: bool | None, group: AgeGroup | Literal[""] | None
) -> tuple[bool, AgeGroup | None]:
    """Return whether a student is a minor from now on, and the age group: where one is said, both agree."""
    if minor is None:
        minor = before.minor if not group else group != "of-age"
    if group is None:
        group = before.age_group
        if group and minor is (group == "of-age"):  # which no longer holds
            group = None if minor else "of-age"
    return minor, group or None


def _refuse_unless_kept(connection: Connection, student_id: int) -> None:
    if not people.may_keep(connection, student_id)[0]:
        raise _no_consent(connection, student_id)


def _refuse_unless_sound_may_be_kept(connection: Connection, student_id: int) -> None:
    keep, keep_sound = people.may_keep(connection, student_id)
    if not keep:
        raise _no_consent(connection, student_id)
    if not keep_sound:
        name = people.get(connection, student_id).name
        raise StudioError(
            _(
                "the consent for {name} covers findings, not sound: "
                "hear the recording, then file its findings"
            ).format(name=name)
        )


def _no_consent(connection: Connection, student_id: int) -> StudioError:
    name = people.get(connection, student_id).name
    return StudioError(
        _(
            "{name} is a minor and no consent is recorded: record it, or have the take heard and forgotten"
        ).format(name=name)
    )
