"""The first Ctrl-C asks a long work to stop where it is; the second ends it at once."""

from __future__ import annotations

import signal
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from types import FrameType


@contextmanager
def stoppable() -> Iterator[Callable[[], bool]]:
    """Yield a function that says whether somebody asked to stop, for as long as the block lasts."""
    asked = threading.Event()

    def on_signal(number: int, frame: FrameType | None) -> None:
        if asked.is_set():
            raise KeyboardInterrupt
        asked.set()

    if threading.current_thread() is not threading.main_thread():  # where no signal arrives
        yield asked.is_set
        return
    before = signal.signal(signal.SIGINT, on_signal)
    try:
        yield asked.is_set
    finally:
        signal.signal(signal.SIGINT, before)
