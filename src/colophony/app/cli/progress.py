"""Progress on standard error, where a person watches; silence where none does."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager

from colophony.app.cli.lines import one_line
from colophony.language import _


@contextmanager
def show_progress(name: str) -> Iterator[Callable[[float], None] | None]:
    """Yield a function that takes the share done (0 to 1), or None where standard error is no terminal."""
    if not sys.stderr.isatty():
        yield None
        return
    from rich.console import Console
    from rich.progress import BarColumn, Progress, TextColumn, TimeElapsedColumn

    columns = (TextColumn("{task.description}", markup=False), BarColumn(), TimeElapsedColumn())
    with Progress(*columns, console=Console(stderr=True), transient=True) as bar:
        task = bar.add_task(_("hearing {file}").format(file=one_line(name)), total=1.0)
        yield lambda share: bar.update(task, completed=share)


#: Shorter work needs no bar.
_PATIENCE_S = 2.0


@contextmanager
def show_strokes(*, quiet: bool = False) -> Iterator[Callable[[int, int], None] | None]:
    """Yield a function that takes the strokes done and expected; None where nobody watches.

    After two seconds it shows them with the time that is left, going by the time that they took so far.
    """
    if quiet or not sys.stderr.isatty():
        yield None
        return
    from time import monotonic

    from rich.console import Console
    from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn

    columns = (
        TextColumn(_("bowing")),
        BarColumn(),
        MofNCompleteColumn(),
        TextColumn(
            _("strokes, {left} left; Ctrl-C stops and keeps what is finished").format(
                left="{task.fields[left]}"
            )
        ),
    )
    begin = monotonic()
    with Progress(*columns, console=Console(stderr=True), transient=True) as bar:
        task = bar.add_task("", total=1, visible=False, left="")

        def show(done: int, expected: int) -> None:
            spent = monotonic() - begin
            left = spent * (expected - done) / max(done, 1)
            bar.update(
                task, completed=done, total=expected, visible=spent > _PATIENCE_S, left=time_left(left)
            )

        yield show


def time_left(seconds: float) -> str:
    """Return a time as a person says it: ``12 s``, ``3 min``, ``2 h``."""
    if seconds < 99.5:
        return f"{max(1, round(seconds))} s"
    return f"{round(seconds / 60)} min" if seconds < 5400 else f"{round(seconds / 3600)} h"
