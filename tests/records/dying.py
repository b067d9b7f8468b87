"""A program that works in a studio and dies: run by `test_killed.py`, one line of standard input a death.

``WORK HOW NUMBER``: a fork of this process does WORK (open, file, erase, withdraw, practise) in the studio
and is killed (SIGKILL: nothing can be caught or cleaned up) either before its NUMBER-th step (HOW = step), a
step being a call that changes the disk or a statement that reaches the database, or NUMBER milliseconds
after its start (HOW = after). The answer is ``killed`` or ``ended``.
"""

from __future__ import annotations

import os
import signal
import sys
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

# Brought in once, before the forks: a death costs milliseconds, not a start of Python.
import alembic.command
import alembic.script  # noqa: F401
from sqlalchemy import event
from sqlalchemy.engine import Engine

from colophony.app.studio import hear_and_file, open_studio
from studio_samples import NAME, NOON, TODAY, make_findings, practise


def main(folder: Path, recording: Path) -> None:
    for line in sys.stdin:
        work, how, number = line.split()
        child = os.fork()
        if child == 0:
            status = 1
            try:
                step = int(number) if how == "step" else 0
                do(work, folder, recording, die_before=step)
                status = 0
            finally:
                os._exit(status)
        if how == "after":
            time.sleep(int(number) / 1000)
            os.kill(child, signal.SIGKILL)
        _, status = os.waitpid(child, 0)
        answer = "killed" if os.WIFSIGNALED(status) else "ended" if status == 0 else "failed"
        print(answer, flush=True)


def do(work: str, folder: Path, recording: Path, *, die_before: int) -> None:
    if work == "open":
        die_before_step(die_before)
    with open_studio(folder) as studio:
        if work == "open":
            return
        student = studio.find_student(NAME)
        die_before_step(die_before)
        if work == "file":
            hear_and_file(studio, student, recording, lambda path: make_findings(path.name), taken_at=NOON)
        elif work == "erase":
            studio.erase_student(student.id)
        elif work == "withdraw":
            studio.withdraw_consent(student.id, on=TODAY)
        elif work == "practise":
            practise(studio, student)
        os.open(os.devnull, os.O_RDONLY)  # a last step, when all is done


def die_before_step(number: int) -> None:
    left = number

    def step(*args: object, **kwargs: object) -> None:
        nonlocal left
        left -= 1
        if left == 0:
            os.kill(os.getpid(), signal.SIGKILL)

    def stepping(function: Callable[..., Any]) -> Callable[..., Any]:
        def call(*args: Any, **kwargs: Any) -> Any:
            step()
            return function(*args, **kwargs)

        return call

    for name in ("fsync", "replace", "unlink", "mkdir", "open", "rmdir"):
        setattr(os, name, stepping(getattr(os, name)))
    event.listen(Engine, "before_cursor_execute", step)
    event.listen(Engine, "commit", step)


if __name__ == "__main__":
    main(Path(sys.argv[1]), Path(sys.argv[2]))
