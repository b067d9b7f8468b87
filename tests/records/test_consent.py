"""Of a child nothing is kept that nobody allowed. Which consent is needed is for local law to say."""

from __future__ import annotations

from dataclasses import fields
from pathlib import Path

import pytest

from colophony.errors import StudioError
from colophony.records.domain import Consent, Student
from colophony.records.studio import Studio
from studio_samples import NOON, TODAY, add_consented, files_with, make_findings


def test_who_is_not_known_to_be_of_age_counts_as_a_minor(studio: Studio) -> None:
    assert studio.add_student("A", instrument="cello", minor=None).minor is True
    assert studio.add_student("B", instrument="cello", minor=False).minor is False


def test_of_a_person_nothing_is_asked_but_name_instrument_minority_and_a_group_of_ages() -> None:
    assert [field.name for field in fields(Student)] == [
        "id", "name", "instrument", "size", "strings", "minor", "reader", "age_group",
    ]  # fmt: skip


def test_without_consent_nothing_of_a_minor_touches_the_studio(studio: Studio, recording: Path) -> None:
    student = studio.add_student("Cora", instrument="viola", minor=True)
    assert not studio.may_keep(student.id)
    for file_it in (
        lambda: studio.receive_take(student.id, recording, taken_at=NOON),
        lambda: studio.file_take(student.id, recording, make_findings(), taken_at=NOON),
    ):
        with pytest.raises(StudioError, match="minor and no consent"):
            file_it()
    assert studio.takes(student.id) == []
    assert files_with(studio.folder, b"soundsound") == []


def test_a_student_of_age_needs_no_consent(studio: Studio, recording: Path) -> None:
    student = studio.add_student("Dora", instrument="viola", minor=False)
    assert studio.may_keep(student.id)
    assert studio.may_keep_sound(student.id)
    studio.file_take(student.id, recording, make_findings(), taken_at=NOON)
    with pytest.raises(StudioError, match="record the consent first"):
        studio.change_student(student.id, minor=True)
    assert not studio.student(student.id).minor


def test_a_consent_keeps_who_gave_it_when_and_for_what(studio: Studio) -> None:
    student = studio.add_student("Cora", instrument="viola", minor=True)
    given = studio.record_consent(
        student.id, given_by="Eva", relation="mother", on=TODAY, keep_sound=True, note="by letter"
    )
    assert given == Consent(given.id, student.id, "Eva", "mother", TODAY, True, "by letter", None)
    assert studio.consents(student.id) == [given]
    with pytest.raises(StudioError, match="who gives consent is empty"):
        studio.record_consent(student.id, given_by=" ", relation="mother", on=TODAY, keep_sound=True)


def test_consent_to_findings_only_keeps_no_sound(studio: Studio, recording: Path) -> None:
    student = add_consented(studio, keep_sound=False)
    assert studio.may_keep(student.id)
    assert not studio.may_keep_sound(student.id)
    with pytest.raises(StudioError, match="covers findings, not sound"):
        studio.receive_take(student.id, recording, taken_at=NOON)
    filed = studio.file_take(student.id, recording, make_findings(), taken_at=NOON)
    assert (filed.status, filed.sound_kept) == ("heard", False)
    assert files_with(studio.folder, b"soundsound") == []
    with pytest.raises(StudioError, match="only the findings were kept"):
        studio.recording(filed.id)
    assert studio.check() == []


def test_withdrawing_erases_a_minors_sound_at_once_and_tells_what_is_left(
    studio: Studio, student: Student, recording: Path, tmp_path: Path
) -> None:
    filed = studio.file_take(student.id, recording, make_findings(), taken_at=NOON)
    unheard = tmp_path / "second.wav"
    unheard.write_bytes(b"unheard" * 1000)
    studio.receive_take(student.id, unheard, taken_at=NOON)
    told = studio.withdraw_consent(student.id, on=TODAY)
    assert (told.erased_sounds, told.erased_pending, told.kept_sounds, told.kept_findings) == (1, 1, 0, 1)
    assert files_with(studio.folder, b"soundsound") == files_with(studio.folder, b"unheard") == []
    assert studio.findings(filed.id).take.strokes == make_findings().take.strokes
    assert not studio.may_keep(student.id)
    assert studio.consents(student.id)[0].withdrawn_on == TODAY
    [problem] = studio.check()
    assert (problem.kind, problem.repaired) == ("no-consent", False)
    with pytest.raises(StudioError, match="nothing to withdraw"):
        studio.withdraw_consent(student.id, on=TODAY)


def test_a_later_consent_to_findings_only_erases_the_sound(
    studio: Studio, student: Student, recording: Path
) -> None:
    studio.file_take(student.id, recording, make_findings(), taken_at=NOON)
    studio.record_consent(student.id, given_by="Eva", relation="mother", on=TODAY, keep_sound=False)
    assert files_with(studio.folder, b"soundsound") == []
    assert [take.sound_kept for take in studio.takes(student.id)] == [False]


def test_a_shared_recording_outlives_one_students_withdrawal(
    studio: Studio, student: Student, recording: Path
) -> None:
    other = add_consented(studio, "Ben Thistlewood")
    studio.file_take(student.id, recording, make_findings(), taken_at=NOON)
    kept = studio.file_take(other.id, recording, make_findings(), taken_at=NOON)
    studio.withdraw_consent(student.id, on=TODAY)
    assert studio.recording(kept.id).read_bytes() == recording.read_bytes()


def test_a_passing_file_is_private_and_gone_afterwards(studio: Studio) -> None:
    with studio.passing_file() as path:
        path.write_bytes(b"passing")
        assert path.stat().st_mode & 0o077 == 0
        with Studio.open(studio.folder):  # another program sweeps, and leaves it alone
            assert path.read_bytes() == b"passing"
        assert studio.check() == []
        assert path.exists()
    assert not path.exists()
