"""Files that a command writes: whole or not at all, and never over what it reads."""

from __future__ import annotations

import os
import tempfile
from collections.abc import Iterable, Mapping
from pathlib import Path

import click

from colophony.errors import InputError


def check_outputs(outputs: Mapping[str, tuple[Path | None, str]], *, inputs: Iterable[Path]) -> None:
    """Refuse, before any work is done, an output that could not be written or would harm an input.

    Parameters
    ----------
    outputs
        For each option its path (None where the option is absent) and the ending its file must have.
    inputs
        Every file that the command reads.
    """
    inputs = tuple(inputs)
    for option, (path, ending) in outputs.items():
        if path is None:
            continue
        if path.suffix.lower() != ending:
            raise click.UsageError(f"{option} {path}: the name must end in {ending}")
        if any(_is_same_file(path, other) for other in inputs):
            raise InputError(f"{path} is one of the recordings; give {option} another name")
        if not path.absolute().parent.is_dir():
            raise InputError(f"{path}: there is no folder {path.parent}; make it first")
        if path.is_dir():
            raise InputError(f"{path} is a folder; give {option} the name of a file")


def write_whole(path: Path, content: bytes) -> None:
    """Write a file so that another program sees the old one or the new one, never a part."""
    handle, name = tempfile.mkstemp(prefix=f".{path.name}.", dir=path.absolute().parent)
    try:
        with os.fdopen(handle, "wb") as stream:
            stream.write(content)
            stream.flush()
            os.fsync(stream.fileno())
        os.chmod(name, 0o666 & ~_umask())
        os.replace(name, path)
    except BaseException:
        Path(name).unlink(missing_ok=True)
        raise


def _umask() -> int:
    mask = os.umask(0o022)
    os.umask(mask)
    return mask


def _is_same_file(one: Path, other: Path) -> bool:
    try:
        return one.samefile(other)
    except OSError:  # one of them is not there yet
        return one.absolute() == other.absolute()
