"""Files that a command writes: whole or not at all, and never over what it reads."""

from __future__ import annotations

import os
from collections.abc import Iterable, Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path
from tempfile import TemporaryDirectory

import click

from colophony.app.phrases import either
from colophony.errors import InputError
from colophony.language import _


def check_outputs(
    outputs: Mapping[str, tuple[Path | None, str | tuple[str, ...]]], *, inputs: Iterable[Path]
) -> None:
    """Refuse, before any work is done, an output that could not be written or would harm an input.

    Parameters
    ----------
    outputs
        For each option its path (None where the option is absent) and the ending its file must have, or one
        of several.
    inputs
        Every file that the command reads.
    """
    inputs = tuple(inputs)
    for option, (path, ending) in outputs.items():
        if path is None:
            continue
        endings = (ending,) if isinstance(ending, str) else ending
        if path.suffix.lower() not in endings:
            line = _("{option} {file}: the name must end in {endings}")
            raise click.UsageError(line.format(option=option, file=path, endings=either(endings)))
        if any(_is_same_file(path, other) for other in inputs):
            line = _("{file} is one of the recordings; give {option} another name")
            raise InputError(line.format(file=path, option=option))
        if not path.absolute().parent.is_dir():
            line = _("{file}: there is no folder {folder}; make it first")
            raise InputError(line.format(file=path, folder=path.parent))
        if path.is_dir():
            line = _("{file} is a folder; give {option} the name of a file")
            raise InputError(line.format(file=path, option=option))


@contextmanager
def whole_file(path: Path) -> Iterator[Path]:
    """Lend a path to write to, and move what was written to ``path`` at the end of the block.

    Another program sees the old file or the new one, never a part; after an error nothing is left over.
    """
    target = path.absolute()
    with TemporaryDirectory(prefix=".colophony-", dir=target.parent) as folder:
        draft = Path(folder) / target.name
        yield draft
        with draft.open("rb+") as stream:
            os.fsync(stream.fileno())
        os.replace(draft, target)


def _is_same_file(one: Path, other: Path) -> bool:
    try:
        return one.samefile(other)
    except OSError:  # one of them is not there yet
        return one.absolute() == other.absolute()
