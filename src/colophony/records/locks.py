"""Locks between programs that share a studio's folder.

The operating system lets go of such a lock when the program that holds it ends, however it ends: a file
that is still locked belongs to a program that runs.
"""

from __future__ import annotations

import os
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from colophony.errors import StudioError
from colophony.language import _

if sys.platform == "win32":
    import msvcrt

    def try_lock(descriptor: int) -> bool:
        """Lock an open file without waiting; false when another holds it."""
        try:
            # A byte far beyond the end, so that the file itself stays readable for others.
            os.lseek(descriptor, 2**30, os.SEEK_SET)
            msvcrt.locking(descriptor, msvcrt.LK_NBLCK, 1)
        except OSError:
            return False
        finally:
            os.lseek(descriptor, 0, os.SEEK_SET)
        return True

else:
    import fcntl

    def try_lock(descriptor: int) -> bool:
        """Lock an open file without waiting; false when another holds it."""
        try:
            fcntl.flock(descriptor, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            return False
        return True


@contextmanager
def alone(path: Path, *, wait_s: float) -> Iterator[None]:
    """Hold the lock file at ``path``, waiting up to ``wait_s`` seconds. Raises `StudioError` after that."""
    descriptor = os.open(path, os.O_RDWR | os.O_CREAT, 0o600)
    try:
        end = time.monotonic() + wait_s
        while not try_lock(descriptor):
            if time.monotonic() > end:
                raise StudioError(
                    _(
                        "another program has been opening the studio for {seconds} s: close it and try again"
                    ).format(seconds=f"{wait_s:.0f}")
                )
            time.sleep(0.02)
        yield
    finally:
        os.close(descriptor)
