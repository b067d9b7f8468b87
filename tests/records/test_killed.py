"""Nothing is lost and nothing half filed, wherever a run is killed."""

from __future__ import annotations

import errno
import hashlib
import os
import random
import shutil
import subprocess
import sys
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from sqlalchemy import event
from sqlalchemy.engine import Engine

from colophony.app.studio import hear_and_file, hear_pending
from colophony.errors import StudioError
from colophony.records.domain import Problem
from colophony.records.studio import DATABASE_NAME, Studio
from studio_samples import (
    NAME,
    NOON,
    PASS_WORDS,
    PLAN_WORDS,
    TODAY,
    add_consented,
    assert_whole,
    files_with,
    make_findings,
    make_older_studio,
    practise,
    write_recording,
)

posix = pytest.mark.skipif(os.name == "nt", reason="Windows has no fork and no SIGKILL")
HERE = Path(__file__).parent

Kill = Callable[[str, str, int], str]


class Bench:
    """One studio folder that is put back to its start before every death."""

    def __init__(self, folder: Path) -> None:
        self.studio, self.start = folder / "studio", folder / "start"
        self.recording = write_recording(folder)
        self.before = self.recording.read_bytes()

    def keep_start(self) -> None:
        shutil.copytree(self.studio, self.start)

    def put_back(self) -> None:
        shutil.rmtree(self.studio, ignore_errors=True)
        if self.start.exists():
            shutil.copytree(self.start, self.studio)


@pytest.fixture
def bench(tmp_path: Path) -> Bench:
    return Bench(tmp_path)


@pytest.fixture
def kill(bench: Bench) -> Iterator[Kill]:
    program = subprocess.Popen(
        [sys.executable, HERE / "dying.py", bench.studio, bench.recording],
        env={**os.environ, "PYTHONPATH": str(HERE.parent), "PYTHONWARNINGS": "ignore"},
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        text=True,
    )

    def die(work: str, how: str, number: int) -> str:
        assert program.stdin is not None
        assert program.stdout is not None
        print(work, how, number, file=program.stdin, flush=True)
        answer = program.stdout.readline().strip()
        assert answer in ("killed", "ended")
        return answer

    with program:
        yield die
        assert program.stdin is not None
        program.stdin.close()


def deaths(kill: Kill, bench: Bench, work: str, *, every: int = 1) -> Iterator[int]:
    """Kill the work before each (or every n-th) step in turn; yield after each death, end when it lives."""
    for number in range(1, 400, every):
        bench.put_back()
        if kill(work, "step", number) == "ended":
            return
        yield number
    pytest.fail("the work never ended")


def left_to_do(problems: list[Problem]) -> set[str]:
    return {problem.kind for problem in problems if not problem.repaired}


@posix
def test_a_studio_killed_while_it_is_made_opens_the_next_time(kill: Kill, bench: Bench) -> None:
    count = 0
    for _ in deaths(kill, bench, "open", every=3):
        count += 1
        if (bench.studio / DATABASE_NAME).exists():
            assert_whole(bench.studio)
        with Studio.open(bench.studio) as studio:
            add_consented(studio)
            assert studio.check() == []
    assert count > 8  # the first migration alone has more than 20 steps


@posix
def test_a_take_killed_anywhere_on_its_way_in_is_absent_pending_or_whole(kill: Kill, bench: Bench) -> None:
    with Studio.open(bench.studio) as studio:
        student = add_consented(studio)
    bench.keep_start()
    seen = set()
    for _ in deaths(kill, bench, "file"):
        assert_whole(bench.studio)
        assert bench.recording.read_bytes() == bench.before
        with Studio.open(bench.studio) as studio:
            takes = studio.takes(student.id)
            seen.add(takes[0].status if takes else "absent")
            problems = studio.check()
            seen |= {problem.kind for problem in problems}
            assert left_to_do(problems) <= {"pending"}
            assert [take.id for take in studio.pending()] == [t.id for t in takes if t.status == "pending"]
            assert list((studio.folder / "incoming").iterdir()) == []
            kept = list((studio.folder / "recordings").glob("*/*"))
            assert len(kept) == len(takes)

            for take in studio.pending():
                hear_pending(studio, take, lambda path: make_findings())
            assert left_to_do(studio.check()) == set()
            heard = hear_and_file(studio, student, bench.recording, lambda path: make_findings())
            assert studio.takes(student.id) == [heard.take]
            assert (
                studio.findings(studio.takes(student.id)[0].id).take.strokes == make_findings().take.strokes
            )
    assert seen == {"absent", "pending", "heard", "left-over"}  # death came in every stage


@posix
def test_an_older_studio_killed_while_it_is_brought_up_to_date_keeps_everything(
    kill: Kill, bench: Bench
) -> None:
    make_older_studio(bench.studio)
    bench.keep_start()
    count = 0
    for _ in deaths(kill, bench, "open", every=2):
        count += 1
        assert_whole(bench.studio)
        with Studio.open(bench.studio) as studio:
            assert [student.name for student in studio.students()] == [NAME]
            assert studio.check() == []
            studio.keep_plan(studio.find_student(NAME).id, {}, made_on=TODAY)
    assert count > 8


@posix
def test_a_plan_and_a_result_killed_anywhere_are_absent_or_whole(kill: Kill, bench: Bench) -> None:
    with Studio.open(bench.studio) as studio:
        student = add_consented(studio)
        studio.file_take(student.id, bench.recording, make_findings(), taken_at=NOON)
    bench.keep_start()
    seen = set()
    for _ in deaths(kill, bench, "practise"):
        with Studio.open(bench.studio) as studio:
            assert studio.check() == []
            plans, passes = studio.plans(student.id), studio.passes(student.id)
            seen.add((len(plans), len(passes)))
            assert all(plan.content["why"] == [PLAN_WORDS] for plan in plans)
            assert all(result.detail["why"] == PASS_WORDS for result in passes)
    assert seen == {(0, 0), (1, 0), (1, 1)}


@posix
@pytest.mark.parametrize(("work", "every"), [("erase", 1), ("withdraw", 3)])
def test_an_erasure_killed_anywhere_is_whole_or_not_begun(
    kill: Kill, bench: Bench, work: str, every: int
) -> None:
    with Studio.open(bench.studio) as studio:
        student = add_consented(studio)
        studio.file_take(student.id, bench.recording, make_findings(), taken_at=NOON)
        practise(studio, student)
    bench.keep_start()
    seen = set()
    for _ in deaths(kill, bench, work, every=every):
        with Studio.open(bench.studio) as studio:
            assert studio.check() == [] or work == "withdraw"
            begun = not studio.students() if work == "erase" else not studio.may_keep(student.id)
            seen.add(begun)
            if begun:
                assert files_with(studio.folder, b"soundsound") == []
            if begun and work == "erase":
                for words in (b"Quillfeather", PLAN_WORDS.encode(), PASS_WORDS.encode()):
                    assert files_with(studio.folder, words) == []
            if not begun:
                [take] = studio.takes(student.id)
                assert studio.recording(take.id).read_bytes() == bench.before
    assert seen == {True, False}


@posix
def test_takes_killed_at_any_moment_are_absent_pending_or_whole(kill: Kill, bench: Bench) -> None:
    """As above, without knowing where the steps are: the moment is drawn by lot."""
    with Studio.open(bench.studio) as studio:
        student = add_consented(studio)
    bench.keep_start()
    lot = random.Random(1)
    for _ in range(15):
        bench.put_back()
        kill("file", "after", lot.randrange(1, 80))
        assert_whole(bench.studio)
        assert bench.recording.read_bytes() == bench.before
        with Studio.open(bench.studio) as studio:
            assert left_to_do(studio.check()) <= {"pending"}
            hear_and_file(studio, student, bench.recording, lambda path: make_findings())
            assert len(studio.takes(student.id)) == 1
            assert studio.check() == []


def test_a_full_disk_at_any_step_is_one_line_and_costs_nothing(
    bench: Bench, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The disk fills before the n-th write, for every n: the program lives and must tidy up itself."""
    with Studio.open(bench.studio) as studio:
        student = add_consented(studio)
        left, said = 0, set()

        def step(*args: object) -> None:
            nonlocal left
            left -= 1
            if left == 0:
                raise OSError(errno.ENOSPC, "No space left on device")

        def stepping(function: Callable[..., Any]) -> Callable[..., Any]:
            def call(*args: Any) -> Any:
                step()
                return function(*args)

            return call

        monkeypatch.setattr(os, "fsync", stepping(os.fsync))
        monkeypatch.setattr(os, "replace", stepping(os.replace))
        event.listen(Engine, "before_cursor_execute", step)
        try:
            for number in range(1, 200):
                left = number
                try:
                    hear_and_file(studio, student, bench.recording, lambda path: make_findings())
                    break
                except StudioError as error:
                    said.add(str(error).partition(" is full: make room")[1])
                left = 0
                assert_whole(bench.studio)
                assert bench.recording.read_bytes() == bench.before
                assert list((bench.studio / "incoming").iterdir()) == []
                for take in studio.takes(student.id):
                    studio.erase_take(take.id)
        finally:
            event.remove(Engine, "before_cursor_execute", step)
        assert number > 10
        assert said == {" is full: make room"}
        assert len(studio.takes(student.id)) == 1
        assert studio.check() == []


def test_an_original_that_changes_while_it_is_copied_is_filed_as_it_was_copied(bench: Bench) -> None:
    with Studio.open(bench.studio) as studio:
        student = add_consented(studio)
        filed = studio.receive_take(student.id, bench.recording, taken_at=NOON)
        bench.recording.write_bytes(b"another")
        kept = studio.recording(filed.id).read_bytes()
        assert hashlib.sha256(kept).hexdigest() == filed.sha256 != hashlib.sha256(b"another").hexdigest()


def test_the_name_is_in_the_files_while_it_is_kept(bench: Bench) -> None:
    """What the erasures above look for is there to be found before."""
    with Studio.open(bench.studio) as studio:
        student = add_consented(studio)
        studio.file_take(student.id, bench.recording, make_findings(), taken_at=NOON)
        practise(studio, student)
    for words in (NAME.encode(), b"soundsound", PLAN_WORDS.encode(), PASS_WORDS.encode()):
        assert files_with(bench.studio, words) != []
    with Studio.open(bench.studio) as studio:
        studio.withdraw_consent(student.id, on=TODAY)
