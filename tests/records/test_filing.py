"""Takes go in and come out as they were."""

from __future__ import annotations

import os
import sqlite3
from contextlib import closing
from dataclasses import replace
from datetime import datetime, timedelta, timezone
from pathlib import Path

import numpy as np
import pytest

from colophony.errors import InputError, StudioError
from colophony.records import database
from colophony.records.domain import Student
from colophony.records.studio import DATABASE_NAME, Studio
from studio_samples import NAME, NOON, TODAY, add_consented, files_with, make_findings, write_recording


def test_a_filed_take_keeps_its_sound_and_its_findings(
    studio: Studio, student: Student, recording: Path
) -> None:
    before = recording.read_bytes()
    filed = studio.file_take(student.id, recording, make_findings(), taken_at=NOON)
    assert (filed.status, filed.strokes, filed.clean_share) == ("heard", 2, 0.65)
    assert (filed.original_name, filed.instrument, filed.size) == ("lesson.m4a", "violin", "1/2")
    assert studio.recording(filed.id).read_bytes() == recording.read_bytes() == before
    assert studio.takes(student.id) == [filed]
    found, put = studio.findings(filed.id), make_findings()
    assert (found.advice, found.summary, found.take.strokes) == (put.advice, put.summary, put.take.strokes)
    assert found.take.track is not None
    assert put.take.track is not None
    np.testing.assert_array_equal(found.take.track.peak, put.take.track.peak)


def test_the_same_recording_filed_again_is_one_take_with_the_newer_findings(
    studio: Studio, student: Student, recording: Path
) -> None:
    first = studio.file_take(student.id, recording, make_findings("first"), taken_at=NOON)
    again = studio.file_take(student.id, recording, make_findings("again"), taken_at=NOON + timedelta(days=1))
    assert again == first
    assert studio.takes(student.id) == [first]
    assert studio.findings(first.id).take.file == "again"


def test_a_received_take_is_pending_until_it_is_heard(
    studio: Studio, student: Student, recording: Path
) -> None:
    received = studio.receive_take(student.id, recording, taken_at=NOON)
    assert received.status == "pending"
    assert (received.strokes, received.duration_s, received.clean_share) == (None, None, None)
    assert studio.pending() == [received]
    with pytest.raises(StudioError, match="not yet heard"):
        studio.findings(received.id)
    heard = studio.file_findings(received.id, make_findings())
    assert (heard.id, heard.status) == (received.id, "heard")
    assert studio.pending() == []


def test_a_moment_comes_back_in_utc_whatever_zone_it_was_given_in(
    studio: Studio, student: Student, recording: Path
) -> None:
    there = datetime(2026, 3, 2, 23, 30, tzinfo=timezone(timedelta(hours=-5)))
    filed = studio.receive_take(student.id, recording, taken_at=there)
    assert filed.taken_at == there
    assert filed.taken_at.utcoffset() == timedelta(0)


@pytest.mark.parametrize(
    "name",
    [
        "Übung №3 – G-Saite 🎻.m4a",
        "..",
        "../../etc/passwd",
        "C:\\Users\\x\\take.wav",
        "a" * 3000,
        "line\nbreak.wav",
        "'; DROP TABLE takes; --.wav",
        "",
    ],
)
def test_a_name_is_remembered_and_never_becomes_a_path(
    studio: Studio, student: Student, recording: Path, name: str
) -> None:
    filed = studio.receive_take(student.id, recording, taken_at=NOON, original_name=name)
    assert studio.recording(filed.id).parent.parent == studio.folder / "recordings"
    assert "/" not in filed.original_name
    assert studio.take(filed.id).original_name == filed.original_name != ""
    archive = studio.export_student(student.id, studio.folder.parent)
    assert archive.is_file()


@pytest.mark.skipif(os.name == "nt", reason="Windows has no file names that are not text")
def test_a_file_whose_name_is_no_text_is_filed(studio: Studio, student: Student, tmp_path: Path) -> None:
    odd = Path(os.fsdecode(os.fsencode(tmp_path) + b"/t\xe4ke.wav"))
    odd.write_bytes(b"sound")
    filed = studio.file_take(student.id, odd, make_findings(str(odd)), taken_at=NOON)
    assert filed.original_name == "t\ufffdke.wav"
    assert studio.findings(filed.id).take.file.endswith("t\ufffdke.wav")


def test_what_is_no_file_is_refused_in_one_line(studio: Studio, student: Student, tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "pipe") if hasattr(os, "mkfifo") else (tmp_path / "pipe").mkdir()
    for path in (tmp_path / "absent.wav", tmp_path, tmp_path / "pipe", Path("a\0b")):
        with pytest.raises(InputError) as caught:
            studio.receive_take(student.id, path, taken_at=NOON)
        assert "\n" not in str(caught.value)
    assert studio.takes(student.id) == []


def test_a_recording_of_two_students_is_stored_once_and_erased_with_the_last(
    studio: Studio, student: Student, recording: Path
) -> None:
    other = add_consented(studio, "Ben Thistlewood")
    first = studio.file_take(student.id, recording, make_findings(), taken_at=NOON)
    second = studio.file_take(other.id, recording, make_findings(), taken_at=NOON)
    place = studio.recording(first.id)
    assert place == studio.recording(second.id)
    studio.erase_take(first.id)
    assert studio.recording(second.id).read_bytes() == recording.read_bytes()
    studio.erase_take(second.id)
    assert not place.exists()
    assert list((studio.folder / "recordings").iterdir()) == []


def test_only_accepted_reference_takes_on_the_instrument_played_now_give_reference_strokes(
    studio: Studio, student: Student, tmp_path: Path
) -> None:
    practice = studio.file_take(
        student.id, write_recording(tmp_path, "1", b"1"), make_findings(), taken_at=NOON
    )
    reference = studio.file_take(
        student.id, write_recording(tmp_path, "2", b"2"), make_findings(), taken_at=NOON, purpose="reference"
    )
    assert studio.reference_strokes(student.id) == []
    with pytest.raises(StudioError, match="no reference take"):
        studio.accept_reference(practice.id, True)
    assert studio.accept_reference(reference.id, True).accepted
    assert studio.reference_strokes(student.id) == list(make_findings().take.strokes)
    studio.change_student(student.id, size="3/4")
    assert studio.reference_strokes(student.id) == []
    assert studio.take(reference.id).size == "1/2"
    studio.change_student(student.id, size="1/2")
    assert studio.reference_strokes(student.id) != []
    studio.accept_reference(reference.id, False)
    assert studio.reference_strokes(student.id) == []


def test_a_reference_heard_again_as_practice_stays_a_reference(
    studio: Studio, student: Student, recording: Path
) -> None:
    filed = studio.file_take(student.id, recording, make_findings(), taken_at=NOON, purpose="reference")
    studio.accept_reference(filed.id, True)
    again = studio.file_take(student.id, recording, make_findings(), taken_at=NOON)
    assert (again.purpose, again.accepted) == ("reference", True)


def test_findings_that_do_not_match_their_strokes_are_refused_and_the_earlier_ones_stay(
    studio: Studio, student: Student, recording: Path
) -> None:
    filed = studio.file_take(student.id, recording, make_findings("good"), taken_at=NOON)
    with pytest.raises(StudioError, match="one for each"):
        studio.file_findings(filed.id, replace(make_findings("bad"), advice=()))
    assert studio.findings(filed.id).take.file == "good"


def test_numbers_of_erased_takes_are_not_given_again(
    studio: Studio, student: Student, tmp_path: Path
) -> None:
    """An old link to an erased take must not open another child's."""
    first = studio.receive_take(student.id, write_recording(tmp_path, "1", b"1"), taken_at=NOON)
    studio.erase_take(first.id)
    second = studio.receive_take(student.id, write_recording(tmp_path, "2", b"2"), taken_at=NOON)
    assert second.id > first.id
    with pytest.raises(StudioError, match="may have been erased"):
        studio.take(first.id)


def test_erasing_a_student_leaves_no_byte_of_name_or_sound(
    studio: Studio, student: Student, tmp_path: Path
) -> None:
    """Deleted rows linger in SQLite's free pages and log until both are rewritten (sqlite.org)."""
    other = add_consented(studio, "Ben Thistlewood")
    for number in range(30):
        content = f"secret sound {number} ".encode()
        mine = write_recording(tmp_path, f"Quillfeather {number}.wav", content)
        studio.file_take(student.id, mine, make_findings(mine.name), taken_at=NOON)
        yours = write_recording(tmp_path, f"{number}.wav", b"other" + content)
        studio.file_take(other.id, yours, make_findings(yours.name), taken_at=NOON)
    assert files_with(studio.folder, b"Quillfeather") != []
    assert studio.erase_student(student.id) is True
    assert files_with(studio.folder, b"Quillfeather") == []
    assert files_with(studio.folder, b"quillfeather") == []
    assert [name for name in files_with(studio.folder, b"secret") if name == "studio.db"] == []
    assert len(list((studio.folder / "recordings").glob("*/*"))) == 30
    assert [s.name for s in studio.students()] == ["Ben Thistlewood"]
    assert studio.check() == []


@pytest.mark.parametrize("other_does", ["SELECT * FROM students", "BEGIN IMMEDIATE"])
def test_an_erasure_while_another_program_holds_on_is_finished_at_the_next_opening(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, other_does: str
) -> None:
    monkeypatch.setattr(database, "BUSY_TIMEOUT_S", 0.1)
    folder = tmp_path / "studio"
    with Studio.open(folder) as studio:
        student = add_consented(studio)
        scrub = database.Database.scrub
        with closing(sqlite3.connect(folder / DATABASE_NAME, isolation_level=None)) as other:

            def scrub_while_held(self: database.Database) -> bool:
                other.execute(other_does) if "IMMEDIATE" in other_does else None
                return scrub(self)

            if "SELECT" in other_does:
                other.execute("BEGIN")
                assert other.execute(other_does).fetchone() is not None
            monkeypatch.setattr(database.Database, "scrub", scrub_while_held)
            assert studio.erase_student(student.id) is False
            assert files_with(folder, NAME.encode()) != []
            other.execute("ROLLBACK")
        monkeypatch.setattr(database.Database, "scrub", scrub)
    with Studio.open(folder):
        assert files_with(folder, NAME.encode()) == []


def test_filing_asks_for_a_number_that_is_there(studio: Studio, recording: Path) -> None:
    with pytest.raises(StudioError, match="no student has the number 7"):
        studio.file_take(7, recording, make_findings(), taken_at=NOON)
    with pytest.raises(StudioError, match="no take has the number 7"):
        studio.file_findings(7, make_findings())
    with pytest.raises(StudioError, match="no student has the number 7"):
        studio.record_consent(7, given_by="Eva", relation="mother", on=TODAY, keep_sound=True)
