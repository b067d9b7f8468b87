"""Progress on standard error, where a person watches; silence where none does."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager

from colophony.app.cli.lines import one_line


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
        task = bar.add_task(f"hearing {one_line(name)}", total=1.0)
        yield lambda share: bar.update(task, completed=share)
