"""Takes whose sound may not be kept: heard, shown for a while, then forgotten.

Without consent a minor's take leaves nothing behind. Its findings, and its sound when it is short enough,
stay in the memory of the running server for a quarter of an hour; the file it came in goes as soon as
it is heard. See docs/decisions/0062-what-an-unkept-take-leaves.md.
"""

from __future__ import annotations

import threading
import time
from collections import OrderedDict
from collections.abc import Callable
from contextlib import ExitStack
from dataclasses import dataclass, field, replace
from datetime import datetime
from pathlib import Path
from secrets import token_urlsafe

from colophony.records.domain import Purpose, Student
from colophony.teaching.findings import Findings
from colophony.teaching.reference import Mark

#: How long the findings are shown, and how long a recording may wait to be heard or be heard again, in s.
FORGET_AFTER_S = 15 * 60.0
WAIT_S = 60 * 60.0
#: Most takes shown at once; the oldest is forgotten for the next.
COUNT_LIMIT = 12
#: Longest sound kept in memory, in bytes: three minutes of mono at 48 kHz as the page records it.
SOUND_LIMIT = 36_000_000


@dataclass(frozen=True, slots=True)
class UnkeptTake:
    """One take of a student who has not consented. ``file`` is there only until it is heard."""

    key: str
    student: Student
    name: str
    taken_at: datetime
    purpose: Purpose
    forget_at_s: float
    file: Path | None
    findings: Findings | None = None
    sound: bytes | None = None
    mark: Mark | None = None
    hold: ExitStack = field(default_factory=ExitStack, repr=False)


class UnkeptTakes:
    """The takes that are shown and will be forgotten. Safe to share between threads."""

    def __init__(self, clock: Callable[[], float] = time.monotonic) -> None:
        self._clock = clock
        self._takes: OrderedDict[str, UnkeptTake] = OrderedDict()
        self._lock = threading.RLock()

    def add(
        self,
        student: Student,
        file: Path,
        *,
        name: str,
        taken_at: datetime,
        purpose: Purpose,
        hold: ExitStack,
        mark: Mark | None = None,
    ) -> UnkeptTake:
        """Remember a take that waits to be heard; ``hold`` removes its file when closed."""
        key = f"u-{token_urlsafe(16)}"
        until = self._clock() + WAIT_S
        take = UnkeptTake(key, student, name, taken_at, purpose, until, file, mark=mark, hold=hold)
        with self._lock:
            self.sweep()
            while len(self._takes) >= COUNT_LIMIT:
                self.forget(next(iter(self._takes)))
            self._takes[key] = take
        return take

    def heard(self, key: str, findings: Findings) -> bool:
        """Remember the findings for a while and remove the file; false when the take is forgotten already."""
        with self._lock:
            take = self._takes.get(key)
            if take is None or take.file is None:
                return False
            sound = take.file.read_bytes() if take.file.stat().st_size <= SOUND_LIMIT else None
            take.hold.close()
            self._takes[key] = replace(
                take, findings=findings, sound=sound, file=None, forget_at_s=self._clock() + FORGET_AFTER_S
            )
            return True

    def change(self, key: str, findings: Findings) -> None:
        """Show other findings of the same take, for no longer than before."""
        with self._lock:
            if key in self._takes:
                self._takes[key] = replace(self._takes[key], findings=findings)

    def find(self, key: str) -> UnkeptTake | None:
        """Return the take of that key, unless it is forgotten."""
        with self._lock:
            self.sweep()
            return self._takes.get(key)

    def minutes_left(self, take: UnkeptTake) -> int:
        """Return for how many minutes more the take is shown, at least 1."""
        return max(1, round((take.forget_at_s - self._clock()) / 60))

    def forget(self, key: str) -> None:
        """Forget a take now."""
        with self._lock:
            take = self._takes.pop(key, None)
            if take is not None:
                take.hold.close()

    def forget_student(self, student_id: int) -> None:
        """Forget every take of a student now."""
        with self._lock:
            for key in [k for k, take in self._takes.items() if take.student.id == student_id]:
                self.forget(key)

    def sweep(self) -> None:
        """Forget what is past its time."""
        with self._lock:
            now = self._clock()
            for key in [k for k, take in self._takes.items() if take.forget_at_s <= now]:
                self.forget(key)

    def forget_all(self) -> None:
        """Forget everything: the server stops."""
        with self._lock:
            for key in list(self._takes):
                self.forget(key)
