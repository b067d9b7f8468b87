"""Hearing a take for a student: stored first where it may be kept, forgotten where it may not."""

from __future__ import annotations

import os
import subprocess
import sys
from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path

import pytest

from colophony.app.studio import file_date, hear_and_file, hear_pending, open_studio, restore_studio
from colophony.errors import StudioError, TakeError
from colophony.records.domain import FiledTake
from colophony.records.studio import Studio
from colophony.teaching.findings import Findings
from studio_samples import NOON, add_consented, files_with, make_findings, write_recording


@pytest.fixture
def studio(tmp_path: Path) -> Iterator[Studio]:
    with open_studio(tmp_path / "studio") as opened:
        yield opened


@pytest.fixture
def recording(tmp_path: Path) -> Path:
    return write_recording(tmp_path)


def hear(path: Path) -> Findings:
    return make_findings(path.name)


def hear_nothing(path: Path) -> Findings:
    raise TakeError(f"{path.name} holds no sound")


def break_down(path: Path) -> Findings:
    raise MemoryError


def test_a_take_that_may_be_kept_is_stored_before_it_is_heard(studio: Studio, recording: Path) -> None:
    student = add_consented(studio)
    seen: list[list[FiledTake]] = []

    def look(path: Path) -> Findings:
        seen.append(studio.pending())
        return hear(path)

    heard = hear_and_file(studio, student, recording, look, taken_at=NOON)
    assert [take.sha256 for take in seen[0]] == [heard.take.sha256 if heard.take else ""]
    assert heard.kept == "sound"
    assert studio.takes(student.id) == [heard.take]


def test_without_consent_a_minors_take_is_heard_and_forgotten(studio: Studio, recording: Path) -> None:
    student = studio.add_student("Cora", instrument="cello", minor=True)
    before = recording.read_bytes()
    heard = hear_and_file(studio, student, recording, hear)
    assert (heard.kept, heard.take) == ("nothing", None)
    assert heard.findings.take.strokes == make_findings().take.strokes
    assert studio.takes(student.id) == []
    assert files_with(studio.folder, b"soundsound") == []
    assert files_with(studio.folder, b"lesson.m4a") == []
    assert recording.read_bytes() == before
    with pytest.raises(StudioError, match="a reference take is kept"):
        hear_and_file(studio, student, recording, hear, purpose="reference")


def test_where_only_findings_may_be_kept_the_sound_is_not_stored_even_while_it_is_heard(
    studio: Studio, recording: Path
) -> None:
    student = add_consented(studio, keep_sound=False)

    def look(path: Path) -> Findings:
        assert files_with(studio.folder, b"soundsound") == []
        return hear(path)

    heard = hear_and_file(studio, student, recording, look)
    assert heard.kept == "findings"
    assert heard.take is not None
    assert studio.findings(heard.take.id).summary == heard.findings.summary


def test_a_recording_with_nothing_to_hear_is_not_kept(studio: Studio, recording: Path) -> None:
    student = add_consented(studio)
    with pytest.raises(TakeError, match="no sound"):
        hear_and_file(studio, student, recording, hear_nothing)
    assert studio.takes(student.id) == []
    assert recording.is_file()


def test_a_heard_take_outlives_a_later_hearing_that_fails(studio: Studio, recording: Path) -> None:
    student = add_consented(studio)
    heard = hear_and_file(studio, student, recording, hear)
    with pytest.raises(TakeError):
        hear_and_file(studio, student, recording, hear_nothing)
    assert studio.takes(student.id) == [heard.take]


def test_a_hearing_that_breaks_down_leaves_the_take_pending_to_be_taken_up_again(
    studio: Studio, recording: Path
) -> None:
    student = add_consented(studio)
    with pytest.raises(MemoryError):
        hear_and_file(studio, student, recording, break_down)
    assert [problem.kind for problem in studio.check()] == ["pending"]

    def hear_again(path: Path) -> Findings:
        assert path.read_bytes() == recording.read_bytes()
        return hear(path)

    [take] = studio.pending()
    with pytest.raises(TakeError, match=r"^lesson\.m4a holds no sound"):
        hear_pending(studio, take, hear_nothing)
    assert studio.pending() == [take]
    heard = hear_pending(studio, take, hear_again)
    assert heard.findings.take.file == "lesson.m4a"
    assert studio.takes(student.id) == [heard.take]
    assert studio.pending() == studio.check() == []


def test_a_take_is_dated_by_its_file_unless_a_moment_is_given(studio: Studio, tmp_path: Path) -> None:
    student = add_consented(studio)
    recording = write_recording(tmp_path, "old.wav", b"old")
    os.utime(recording, (NOON.timestamp(), NOON.timestamp()))
    heard = hear_and_file(studio, student, recording, hear)
    assert heard.take is not None
    assert heard.take.taken_at == NOON
    assert abs((file_date(tmp_path / "absent") - datetime.now(UTC)).total_seconds()) < 60


def test_a_backup_is_restored_through_the_use_case(studio: Studio, recording: Path, tmp_path: Path) -> None:
    student = add_consented(studio)
    hear_and_file(studio, student, recording, hear)
    with restore_studio(studio.backup(tmp_path), tmp_path / "new") as restored:
        assert restored.takes(student.id) == studio.takes(student.id)


@pytest.mark.parametrize(
    ("code", "says"),
    [
        ("import colophony.app.studio, colophony.records.domain", "[]"),
        (
            "sys.modules['sqlalchemy'] = None\n"
            "from colophony.app.studio import open_studio; from colophony.errors import StudioError\n"
            "try: open_studio('x')\n"
            "except StudioError as error: print(error, end=' ')",
            "keeping takes needs sqlalchemy: run pip install '.[studio]' in Colophony's folder ",
        ),
    ],
)
def test_the_database_is_brought_in_only_when_a_studio_is_opened(
    code: str, says: str, tmp_path: Path
) -> None:
    shown = "import sys\n" + code + "\nprint([m for m in ('sqlalchemy', 'alembic') if sys.modules.get(m)])"
    done = subprocess.run([sys.executable, "-c", shown], capture_output=True, text=True, cwd=tmp_path)
    assert done.stderr == ""
    assert done.stdout.strip().removesuffix("[]").strip() == says.removesuffix("[]").strip()
