"""Takes waiting to be heard: one at a time, in the order they came, each to be called off at any moment."""

from __future__ import annotations

import threading
from collections import OrderedDict, deque
from collections.abc import Callable
from contextvars import Context, copy_context
from dataclasses import dataclass, field
from enum import StrEnum
from pathlib import Path
from secrets import token_urlsafe
from typing import Any

from colophony.app.web.forms import TakeForm
from colophony.app.web.listener import CalledOffError, Listener
from colophony.errors import ColophonyError, InputError
from colophony.language import _
from colophony.teaching.findings import Findings

_WAITING_LIMIT = 20
_REMEMBERED = 200


class Stage(StrEnum):
    """Where a take stands on its way to findings."""

    WAITING = "waiting"
    HEARING = "hearing"
    HEARD = "heard"
    FAILED = "failed"
    CALLED_OFF = "called-off"


@dataclass(slots=True)
class Hearing:
    """One take on its way: what to hear, how far it is, and where to look afterwards.

    ``heard`` files the findings and returns the address of the page that shows them. ``ref`` stands for
    the take (see `colophony.app.web.desk.ShownTake`), ``form`` is what was said of it, ``back`` the page to
    return to, ``line`` the one line of a failure, ``share`` how much is heard, 0 to 1.
    """

    path: Path
    request: Any
    title: str
    back: str
    ref: str
    student_id: int
    form: TakeForm
    heard: Callable[[Findings], str]
    key: str = field(default_factory=lambda: token_urlsafe(16))
    stage: Stage = Stage.WAITING
    share: float = 0.0
    line: str = ""
    address: str = ""
    called_off: threading.Event = field(default_factory=threading.Event)
    context: Context = field(default_factory=copy_context)  # the sender's language

    @property
    def is_over(self) -> bool:
        """Whether nothing more will happen."""
        return self.stage in {Stage.HEARD, Stage.FAILED, Stage.CALLED_OFF}


class HearingQueue:
    """The takes of one server, heard one after the other by one `Listener`."""

    def __init__(self, listener: Listener) -> None:
        self._listener = listener
        self._waiting: deque[Hearing] = deque()
        self._known: OrderedDict[str, Hearing] = OrderedDict()
        self._change = threading.Condition()
        self._closed = False
        self._thread: threading.Thread | None = None

    def check_room(self) -> None:
        """Raise `InputError` when too many takes wait already."""
        if len(self._waiting) >= _WAITING_LIMIT:
            line = _("{n} takes are waiting to be heard: send this one a little later.")
            raise InputError(line.format(n=_WAITING_LIMIT))

    def add(self, hearing: Hearing) -> None:
        """Queue a take. Raises `InputError` when too many wait already."""
        with self._change:
            self.check_room()
            self._waiting.append(hearing)
            self._known[hearing.key] = hearing
            for key in [k for k, h in self._known.items() if h.is_over][:-_REMEMBERED]:
                del self._known[key]
            if self._thread is None:
                self._thread = threading.Thread(target=self._run, name="hearings", daemon=True)
                self._thread.start()
            self._change.notify_all()

    def find(self, key: str) -> Hearing | None:
        """Return the take of that key while it is remembered."""
        return self._known.get(key)

    def place(self, hearing: Hearing) -> int:
        """Return how many takes are heard before this one's turn comes."""
        with self._change:
            before = [*self._waiting]
            busy = any(h.stage is Stage.HEARING for h in self._known.values())
        return before.index(hearing) + busy if hearing in before else 0

    def call_off(self, hearing: Hearing) -> None:
        """Stop hearing a take, or take it out of the queue."""
        with self._change:
            hearing.called_off.set()
            if hearing in self._waiting:
                self._waiting.remove(hearing)
                self._end(hearing, Stage.CALLED_OFF)

    def call_off_student(self, student_id: int) -> None:
        """Stop hearing every take of a student, and wait until that is so."""
        for hearing in [h for h in self._known.values() if h.student_id == student_id and not h.is_over]:
            self.call_off(hearing)
            self.wait(hearing, 10)

    def warm_up(self) -> None:
        """Start the listening process now, so that the first take does not wait for it."""
        self._listener.start()

    def wait(self, hearing: Hearing, timeout_s: float) -> None:
        """Return when the take is over, at the latest after ``timeout_s``."""
        with self._change:
            self._change.wait_for(lambda: hearing.is_over, timeout_s)

    def close(self) -> None:
        """Stop hearing and forget what waits."""
        with self._change:
            self._closed = True
            for hearing in self._known.values():
                hearing.called_off.set()
            self._waiting.clear()
            self._change.notify_all()
        if self._thread is not None:
            self._thread.join(10)
        self._listener.stop()

    def _run(self) -> None:
        while True:
            with self._change:
                self._change.wait_for(lambda: self._closed or bool(self._waiting))
                if self._closed:
                    return
                hearing = self._waiting.popleft()
                hearing.stage = Stage.HEARING
            hearing.context.run(self._hear, hearing)

    def _hear(self, hearing: Hearing) -> None:
        def progress(share: float) -> None:
            hearing.share = min(max(share, 0.0), 1.0)

        try:
            findings = self._listener.hear(
                hearing.path, hearing.request, progress=progress, called_off=hearing.called_off
            )
            hearing.address = hearing.heard(findings)
        except CalledOffError:
            self._end(hearing, Stage.CALLED_OFF)
        except ColophonyError as error:
            hearing.line = str(error).replace(hearing.path.name, hearing.title)
            self._end(hearing, Stage.FAILED)
        else:
            with self._change:
                hearing.stage = Stage.HEARD
                self._change.notify_all()

    def _end(self, hearing: Hearing, stage: Stage) -> None:
        with self._change:
            hearing.stage = stage
            self._change.notify_all()
