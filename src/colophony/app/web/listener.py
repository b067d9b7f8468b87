"""The process that listens: one beside the server, so that pages stay quick and a take can be called off.

Why a process and not a thread: docs/decisions/0060-listening-in-its-own-process.md.
"""

from __future__ import annotations

import multiprocessing
import threading
from collections.abc import Callable
from multiprocessing.connection import Connection
from multiprocessing.context import SpawnProcess
from pathlib import Path
from typing import Any, Protocol

from colophony.errors import ColophonyError
from colophony.language import _, language, speaking
from colophony.teaching.findings import Findings

Progress = Callable[[float], None]


class Hear(Protocol):
    """The use case `colophony.app.lesson.hear`; whatever stands in for it is a function of a module."""

    def __call__(self, path: Path, request: Any, *, progress: Progress | None = None) -> Findings:
        """Return the findings of the take at ``path``."""


class CalledOffError(Exception):
    """The person at the page called the listening off."""


class ListeningError(ColophonyError):
    """The take could not be heard; the text is one line for the page."""


def _load_ears() -> None:
    """Import what hearing needs, so that the first take does not wait for it."""
    import colophony.listening.colour
    import colophony.listening.listen
    import colophony.teaching.advice  # noqa: F401


def hear_take(path: Path, request: Any, *, progress: Progress | None = None) -> Findings:
    """Hear a take with the project's own ears, loaded here because only the listening process needs them."""
    from colophony.app.lesson import hear

    return hear(path, request, progress=progress)


class Listener:
    """Hears one take at a time in a process of its own, started at the first take and kept for the next."""

    def __init__(self, hear: Hear = hear_take) -> None:
        self._hear = hear
        self._process: SpawnProcess | None = None
        self._pipe: Connection | None = None

    def start(self) -> None:
        """Start the process unless it runs: its imports are then done before the first take comes."""
        if self._process is not None and self._process.is_alive():
            return
        # Spawned, never forked: the server has threads, and numba's parallel loops do not survive a fork.
        context = multiprocessing.get_context("spawn")
        self._pipe, far_end = context.Pipe()
        self._process = context.Process(target=_listen, args=(far_end, self._hear), daemon=True)
        self._process.start()
        far_end.close()

    def hear(self, path: Path, request: Any, *, progress: Progress, called_off: threading.Event) -> Findings:
        """Return the findings of the take at ``path``; ``progress`` gets the share heard so far, 0 to 1.

        Raises `ListeningError` with one line for the page, `CalledOffError` soon after ``called_off`` is set.
        """
        self.start()
        assert self._pipe is not None
        try:
            self._pipe.send((path, request, language()))
            while True:
                if called_off.is_set():
                    self.stop()
                    raise CalledOffError
                if not self._pipe.poll(0.1):
                    continue
                kind, value = self._pipe.recv()
                if kind == "progress":
                    progress(value)
                elif kind == "findings":
                    assert isinstance(value, Findings)
                    return value
                else:
                    raise ListeningError(value)
        except (EOFError, OSError):
            self.stop()
            raise ListeningError(
                _(
                    "The listening stopped half way, perhaps for want of memory. The recording is still "
                    "here: hear it again, or send a shorter part of it."
                )
            ) from None

    def stop(self) -> None:
        """End the process, also in the middle of a take."""
        if self._process is not None:
            self._process.terminate()
            self._process.join(5)
            self._process = None
        if self._pipe is not None:
            self._pipe.close()
            self._pipe = None


def _listen(pipe: Connection, hear: Hear) -> None:
    """Answer takes until the server goes away. Runs in the process of its own."""
    told = -1.0

    def progress(share: float) -> None:
        nonlocal told
        if share - told >= 0.01 or share >= 1:
            told = share
            pipe.send(("progress", float(share)))

    if hear is hear_take:
        _load_ears()
    while True:
        try:
            path, request, spoken = pipe.recv()
        except (EOFError, KeyboardInterrupt):
            return
        told = -1.0
        answer: tuple[str, object]
        try:
            with speaking(spoken):
                answer = ("findings", hear(path, request, progress=progress))
        except ColophonyError as error:
            answer = ("refused", str(error))
        # Any other error ends this process with its traceback; the server sees the pipe close and says so.
        pipe.send(answer)
