"""What is wrong with a studio is found and named; copies of it are whole or refused."""

from __future__ import annotations

import json
import os
import sqlite3
import stat
import zipfile
from contextlib import closing
from datetime import timedelta
from pathlib import Path

import pytest

from colophony.errors import StudioError
from colophony.records.domain import FiledTake, Student
from colophony.records.studio import DATABASE_NAME, Studio
from studio_samples import NAME, NOON, add_consented, files_with, make_findings, write_recording

posix = pytest.mark.skipif(os.name == "nt", reason="Windows has no such permissions")


@pytest.fixture
def filed(studio: Studio, student: Student, recording: Path) -> FiledTake:
    return studio.file_take(student.id, recording, make_findings(), taken_at=NOON)


def test_a_sound_studio_has_no_problems(studio: Studio, filed: FiledTake) -> None:
    assert studio.check() == []


def test_a_missing_or_changed_recording_is_named_and_healed_by_filing_it_again(
    studio: Studio, student: Student, filed: FiledTake, recording: Path
) -> None:
    place = studio.recording(filed.id)
    for spoil, kind in ((place.unlink, "missing-sound"), (lambda: place.write_bytes(b"x"), "changed-sound")):
        spoil()
        [problem] = studio.check()
        assert (problem.kind, problem.take_id, problem.repaired) == (kind, filed.id, False)
        assert "lesson.m4a" in problem.what
        if kind == "missing-sound":
            with pytest.raises(StudioError, match="is missing: file the recording again"):
                studio.recording(filed.id)
        studio.file_take(student.id, recording, make_findings(), taken_at=NOON)
        assert studio.check() == []


def test_left_overs_are_swept_and_strangers_left_alone(studio: Studio, filed: FiledTake) -> None:
    orphan = studio.folder / "recordings" / "ab" / ("ab" + "0" * 62)
    orphan.parent.mkdir(mode=0o700)
    orphan.write_bytes(b"orphan")
    stranger = studio.folder / "recordings" / "ab" / "notes.txt"
    stranger.write_text("mine")
    dead = studio.folder / "incoming" / "tmpdead"
    dead.write_bytes(b"half a recording")
    for path in (orphan, stranger, dead):
        path.chmod(0o600)
    [problem] = studio.check()
    assert (problem.kind, problem.repaired) == ("left-over", True)
    assert problem.what.startswith("2 files")
    assert (orphan.exists(), dead.exists(), stranger.exists()) == (False, False, True)
    assert studio.check() == []


def test_a_damaged_database_is_named(studio: Studio, filed: FiledTake) -> None:
    with closing(sqlite3.connect(studio.folder / DATABASE_NAME)) as connection, connection:
        connection.execute("UPDATE strokes SET take_id = 99 WHERE position = 1")
    [problem] = studio.check()
    assert problem.kind == "database"
    assert "strokes belongs to nothing" in problem.what


@posix
def test_all_that_is_kept_is_for_its_owner_only(studio: Studio, filed: FiledTake, tmp_path: Path) -> None:
    modes = {
        path.name: stat.S_IMODE(path.stat().st_mode) for path in (studio.folder, *studio.folder.rglob("*"))
    }
    assert set(modes.values()) == {0o700, 0o600}
    assert stat.S_IMODE(studio.backup(tmp_path).stat().st_mode) == 0o600
    assert stat.S_IMODE(studio.export_student(1, tmp_path).stat().st_mode) == 0o600


@posix
def test_permissions_that_grew_wide_are_narrowed(studio: Studio, filed: FiledTake) -> None:
    studio.recording(filed.id).chmod(0o644)
    studio.folder.chmod(0o755)
    [problem] = studio.check()
    assert (problem.kind, problem.repaired) == ("permissions", True)
    assert problem.what.startswith("2 files")
    assert studio.check() == []


def test_a_backup_restores_everything(
    studio: Studio, student: Student, filed: FiledTake, tmp_path: Path
) -> None:
    unheard = studio.receive_take(student.id, write_recording(tmp_path, "2", b"2"), taken_at=NOON)
    backup = studio.backup(tmp_path / "copy.zip")
    with Studio.restore(backup, tmp_path / "new" / "studio") as restored:
        assert restored.students() == [student]
        assert restored.consents(student.id) == studio.consents(student.id)
        assert restored.takes(student.id) == studio.takes(student.id)
        assert restored.pending() == [unheard]
        assert restored.recording(filed.id).read_bytes() == studio.recording(filed.id).read_bytes()
        assert restored.findings(filed.id).take.strokes == make_findings().take.strokes
        assert [problem.kind for problem in restored.check()] == ["pending"]
    assert [path.name for path in (tmp_path / "new").iterdir()] == ["studio"]


def test_a_backup_into_a_folder_names_itself_and_never_overwrites(studio: Studio, tmp_path: Path) -> None:
    assert studio.backup(tmp_path).name.startswith("colophony-studio-20")
    there = tmp_path / "there.zip"
    there.write_bytes(b"older backup")
    with pytest.raises(StudioError, match="exists already"):
        studio.backup(there)
    with pytest.raises(StudioError, match="does not exist"):
        studio.backup(tmp_path / "absent" / "x.zip")
    assert there.read_bytes() == b"older backup"


def test_a_backup_with_a_recording_that_was_missing_already_restores_the_rest(
    studio: Studio, filed: FiledTake, tmp_path: Path
) -> None:
    studio.recording(filed.id).unlink()
    with Studio.restore(studio.backup(tmp_path), tmp_path / "new") as restored:
        assert [problem.kind for problem in restored.check()] == ["missing-sound"]


def test_a_damaged_backup_is_refused_and_leaves_nothing(
    studio: Studio, filed: FiledTake, tmp_path: Path
) -> None:
    """Cut short, a byte turned at any place, or a recording left out."""
    good = studio.backup(tmp_path / "good.zip").read_bytes()
    damaged = {"cut": good[: len(good) // 2], "text": b"not a zip", "empty": b""}
    with zipfile.ZipFile(tmp_path / "good.zip") as archive:
        member = archive.getinfo(f"recordings/{filed.sha256}")
        at = member.header_offset + 200
    damaged["turned"] = good[:at] + bytes([good[at] ^ 1]) + good[at + 1 :]
    for name, content in damaged.items():
        path = tmp_path / f"{name}.zip"
        path.write_bytes(content)
        with pytest.raises(StudioError, match="no whole backup") as caught:
            Studio.restore(path, tmp_path / "new")
        assert "\n" not in str(caught.value)
        assert not (tmp_path / "new").exists()
    lacking = tmp_path / "lacking.zip"
    with zipfile.ZipFile(tmp_path / "good.zip") as archive, zipfile.ZipFile(lacking, "w") as copy:
        for name in archive.namelist():
            if not name.startswith("recordings/"):
                copy.writestr(name, archive.read(name))
    with pytest.raises(StudioError, match="no whole backup"):
        Studio.restore(lacking, tmp_path / "new")
    assert [path.name for path in tmp_path.iterdir() if path.name.startswith(".")] == []


def test_nothing_is_restored_over_a_studio(studio: Studio, filed: FiledTake, tmp_path: Path) -> None:
    backup = studio.backup(tmp_path)
    with pytest.raises(StudioError, match="not empty"):
        Studio.restore(backup, studio.folder)
    with pytest.raises(StudioError, match="does not exist"):
        Studio.restore(tmp_path / "absent.zip", tmp_path / "new")
    assert studio.check() == []


def test_a_backup_of_a_newer_program_is_refused_by_its_own_name(studio: Studio, tmp_path: Path) -> None:
    with closing(sqlite3.connect(studio.folder / DATABASE_NAME)) as connection, connection:
        connection.execute("UPDATE alembic_version SET version_num = '9999'")
    backup = studio.backup(tmp_path)
    with pytest.raises(StudioError, match="newer Colophony") as caught:
        Studio.restore(backup, tmp_path / "new")
    assert backup.name in str(caught.value)


def test_what_was_erased_is_not_in_a_later_backup(
    studio: Studio, student: Student, filed: FiledTake, tmp_path: Path
) -> None:
    studio.erase_student(student.id)
    with zipfile.ZipFile(studio.backup(tmp_path)) as archive:
        archive.extractall(tmp_path / "unpacked")
    assert files_with(tmp_path / "unpacked", NAME.encode()) == []


def test_an_export_holds_all_of_one_student_in_files_that_anything_opens(
    studio: Studio, student: Student, recording: Path, tmp_path: Path
) -> None:
    other = add_consented(studio, "Ben Thistlewood")
    studio.file_take(other.id, write_recording(tmp_path, "ben.wav", b"ben"), make_findings(), taken_at=NOON)
    studio.file_take(student.id, recording, make_findings(), taken_at=NOON)
    unheard = write_recording(tmp_path, "odd name.tar.gz/..wav".replace("/", "_"), b"2")
    studio.receive_take(student.id, unheard, taken_at=NOON + timedelta(days=1))
    with zipfile.ZipFile(studio.export_student(student.id, tmp_path)) as archive:
        names = archive.namelist()
        content = json.loads(archive.read("findings.json"))
        sounds = [archive.read(name) for name in names if name.startswith("sound/")]
        curve = archive.read(next(name for name in names if name.startswith("curves/"))).decode()
        read_me = archive.read("READ ME.txt").decode()
    assert sounds == [recording.read_bytes(), unheard.read_bytes()]
    assert content["student"]["name"] == NAME
    assert content["consents"][0]["given_by"] == "Eva"
    assert content["consents"][0]["on"] == "2026-03-02"
    first, second = content["takes"]
    assert first["sound"] in names
    assert first["findings"]["take"]["strokes"][1]["state"] == "raucous"
    assert first["findings"]["advice"][1][0]["say"]["adult"] == "A faster bow, the same weight."
    assert (second["file"], second["findings"]) == (unheard.name, None)
    assert curve.splitlines()[0] == "time_s,pitch_hz,level_db,peak"
    assert len(curve.splitlines()) == 1 + len(make_findings().take.track.times_s)  # type: ignore[union-attr]
    assert NAME in read_me
    assert "Thistlewood" not in json.dumps(content)


def test_a_folder_that_cannot_be_written_is_one_line(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def refuse(path: object, *args: object, **kwargs: object) -> None:
        raise PermissionError(13, "Permission denied", str(path))

    monkeypatch.setattr(Path, "mkdir", refuse)
    with pytest.raises(StudioError, match="cannot be read or written") as caught:
        Studio.open(tmp_path / "studio")
    assert "\n" not in str(caught.value)
