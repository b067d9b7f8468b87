"""The pages, the command line and several threads may work in one studio at the same time."""

from __future__ import annotations

import os
import subprocess
import sys
from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

from colophony.records.domain import Student
from colophony.records.studio import Studio
from studio_samples import NOON, add_consented, assert_whole, make_findings, write_recording

HERE = Path(__file__).parent


def start(code: Sequence[str | Path]) -> subprocess.Popen[str]:
    return subprocess.Popen(
        [sys.executable, *code],
        env={**os.environ, "PYTHONPATH": str(HERE.parent)},
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    )


def run_together(programs: list[subprocess.Popen[str]]) -> list[str]:
    """Let all start at one moment and return what they complained of."""
    for program in programs:
        assert program.stdout is not None
        assert program.stdout.readline() == "ready\n"
    for program in programs:
        assert program.stdin is not None
        program.stdin.write("go\n")
        program.stdin.flush()
    return [program.communicate(timeout=60)[1] for program in programs]


def test_programs_that_file_at_once_wait_for_each_other(tmp_path: Path) -> None:
    folder = tmp_path / "studio"
    shared = write_recording(tmp_path, "shared.wav", b"shared")
    names = ("Anna Quillfeather", "Ben Thistlewood", "Anna Quillfeather")
    with Studio.open(folder) as studio:
        for name in sorted(set(names)):
            add_consented(studio, name)
        programs = []
        for number, name in enumerate(names):
            tags = [f"{number}-{i}" for i in range(12)]
            own = [write_recording(tmp_path, f"{tag}.wav", tag.encode()) for tag in tags]
            programs.append(start([HERE / "working.py", folder, name, *own[:6], shared, *own[6:]]))
        assert run_together(programs) == ["", "", ""]
        assert [program.returncode for program in programs] == [0, 0, 0]
        takes = {s.name: studio.takes(s.id) for s in studio.students()}
        assert {name: len(of) for name, of in takes.items()} == {
            "Anna Quillfeather": 25,
            "Ben Thistlewood": 13,
        }
        assert all(take.status == "heard" for of in takes.values() for take in of)
        assert len(list((folder / "recordings").glob("*/*"))) == 37
        assert studio.check() == []


def test_programs_that_open_a_new_studio_at_once_make_one(tmp_path: Path) -> None:
    code = (
        "import sys; from pathlib import Path; from colophony.records.studio import Studio\n"
        "print('ready', flush=True); sys.stdin.readline()\n"
        "with Studio.open(Path(sys.argv[1])) as s:\n"
        "    s.add_student(sys.argv[2], instrument='cello', minor=False)\n"
    )
    programs = [start(["-c", code, tmp_path / "studio", name]) for name in "AB"]
    assert run_together(programs) == ["", ""]
    assert_whole(tmp_path / "studio")
    with Studio.open(tmp_path / "studio") as studio:
        assert [student.name for student in studio.students()] == ["A", "B"]


def test_threads_share_one_studio(studio: Studio, student: Student, tmp_path: Path) -> None:
    recordings = [write_recording(tmp_path, f"{i}.wav", f"{i}-".encode()) for i in range(8)]

    def work(recording: Path) -> int:
        filed = studio.file_take(student.id, recording, make_findings(), taken_at=NOON)
        assert studio.findings(filed.id).summary.strokes == 2
        return filed.id

    with ThreadPoolExecutor(6) as pool:
        numbers = list(pool.map(work, recordings * 2))
    assert len(set(numbers)) == 8
    assert len(studio.takes(student.id)) == 8
    assert studio.check() == []


def test_filing_and_erasing_the_same_sound_at_once_never_loses_it(
    studio: Studio, student: Student, recording: Path
) -> None:
    """One program erases the last take with a content while another files that content again."""
    other = add_consented(studio, "Ben Thistlewood")
    kept = studio.file_take(other.id, recording, make_findings(), taken_at=NOON)
    studio.erase_take(kept.id)

    def erase_and_file(who: Student) -> None:
        for _ in range(10):
            filed = studio.file_take(who.id, recording, make_findings(), taken_at=NOON)
            assert studio.recording(filed.id).read_bytes() == recording.read_bytes()
            studio.erase_take(filed.id)

    with ThreadPoolExecutor(2) as pool:
        list(pool.map(erase_and_file, [student, other]))
    assert studio.takes(student.id) == studio.takes(other.id) == []
    assert list((studio.folder / "recordings").glob("*/*")) == []
    assert studio.check() == []
