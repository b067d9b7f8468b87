"""Recordings on disk, named by their content.

::

    recordings/3f/3fa9...   one file a content, named by its SHA-256
    incoming/               files on their way in, each locked by the program that writes it

A name that a person or a phone gave is never part of a path. A recording is copied to ``incoming``,
written through to the disk, and only then renamed to its place: a file in ``recordings`` is always whole.
"""

from __future__ import annotations

import errno
import hashlib
import io
import os
import re
import stat
import sys
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from pathlib import Path
from typing import IO

from colophony.errors import InputError
from colophony.language import _
from colophony.records.locks import try_lock

_BLOCK_BYTES = 1 << 20
_HASH = re.compile(r"[0-9a-f]{64}")


@dataclass(frozen=True, slots=True)
class Arrival:
    """A whole copy of a recording in ``incoming``, with the hash of what was copied."""

    path: Path
    sha256: str
    size_bytes: int
    lock: int  #: descriptor that keeps `RecordingStore.sweep` away


class RecordingStore:
    """The folders of recordings below a studio's folder."""

    def __init__(self, folder: Path) -> None:
        self.recordings = folder / "recordings"
        self.incoming = folder / "incoming"

    def prepare(self) -> None:
        """Make the folders, for their owner only."""
        for folder in (self.recordings, self.incoming):
            folder.mkdir(mode=0o700, exist_ok=True)

    def path(self, sha256: str) -> Path:
        """Return where the recording with this content lies, or would lie."""
        if _HASH.fullmatch(sha256) is None:
            raise ValueError(f"{sha256!r} is no SHA-256")
        return self.recordings / sha256[:2] / sha256

    @contextmanager
    def passing_file(self) -> Iterator[Path]:
        """Lend a private empty file in ``incoming``; it is gone afterwards.

        It is locked meanwhile, so that `sweep` of another program leaves it alone.
        """
        with self._locked_file() as (_, path):
            yield path

    @contextmanager
    def copy_in(self, source: IO[bytes]) -> Iterator[Arrival]:
        """Copy a recording to ``incoming``, through to the disk; the copy is gone afterwards unless kept."""
        with self._locked_file() as (lock, path):
            digest = hashlib.sha256()
            size = 0
            with path.open("wb") as copy:
                while block := source.read(_BLOCK_BYTES):
                    digest.update(block)
                    copy.write(block)
                    size += len(block)
                copy.flush()
                os.fsync(copy.fileno())
            yield Arrival(path, digest.hexdigest(), size, lock)

    def keep(self, arrival: Arrival) -> None:
        """Move an arrival to its place. The caller holds the database's writing turn.

        A file already there has the same content by its name, or is damaged and healed by this.
        """
        place = self.path(arrival.sha256)
        place.parent.mkdir(mode=0o700, exist_ok=True)
        if sys.platform == "win32":  # which renames no open file
            os.close(arrival.lock)
        os.replace(arrival.path, place)
        _sync_folder(place.parent)
        _sync_folder(self.recordings)

    def kept(self) -> Iterator[str]:
        """Yield the hash of every recording kept."""
        for folder in sorted(self.recordings.iterdir()):
            if folder.is_dir():
                yield from sorted(file.name for file in folder.iterdir() if _HASH.fullmatch(file.name))

    def remove(self, sha256: str) -> None:
        """Remove a recording. The caller holds the database's writing turn and knows no take has it."""
        place = self.path(sha256)
        place.unlink(missing_ok=True)
        with suppress(OSError):  # not empty: another recording's hash begins alike
            place.parent.rmdir()
        _sync_folder(self.recordings)

    def sweep(self) -> int:
        """Remove what ended programs left in ``incoming``; return how many files that were."""
        swept = 0
        for path in self.incoming.iterdir():
            try:
                descriptor = os.open(path, os.O_RDWR)
            except OSError:  # gone meanwhile
                continue
            abandoned = try_lock(descriptor)
            os.close(descriptor)
            if abandoned:
                with suppress(PermissionError):  # Windows: still open somewhere, so not abandoned
                    path.unlink(missing_ok=True)
                    swept += 1
        return swept

    @contextmanager
    def _locked_file(self) -> Iterator[tuple[int, Path]]:
        descriptor, path = self._new_file()
        try:
            yield descriptor, path
        finally:
            with suppress(OSError):  # `keep` may have closed it
                os.close(descriptor)
            path.unlink(missing_ok=True)

    def _new_file(self) -> tuple[int, Path]:
        while True:
            descriptor, name = tempfile.mkstemp(dir=self.incoming)
            # Between making and locking it, a sweep may have taken the file away: then take another.
            if try_lock(descriptor) and os.path.exists(name):
                return descriptor, Path(name)
            os.close(descriptor)


def open_recording(recording: Path) -> io.BufferedReader:
    """Open a recording for reading. Raises `InputError` when it is missing, no file, or may not be read."""
    try:
        # Without waiting: a named pipe would block for ever.
        descriptor = os.open(
            recording, os.O_RDONLY | getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_BINARY", 0)
        )
    except OSError as error:
        message = (
            _("{path} does not exist: check the name and the permissions")
            if error.errno == errno.ENOENT
            else _("{path} cannot be read ({reason}): check the name and the permissions")
        )
        raise InputError(message.format(path=recording, reason=error.strerror)) from error
    except ValueError as error:
        raise InputError(_("{name!r} is no file name").format(name=str(recording))) from error
    if not stat.S_ISREG(os.fstat(descriptor).st_mode):
        os.close(descriptor)
        raise InputError(_("{path} is no file: choose a recording").format(path=recording))
    return os.fdopen(descriptor, "rb")


def identify(recording: Path) -> tuple[str, int]:
    """Return the SHA-256 in hexadecimal and the size in bytes of a recording, without copying it."""
    with open_recording(recording) as file:
        sha256 = hashlib.file_digest(file, "sha256").hexdigest()
        return sha256, file.tell()


def _sync_folder(folder: Path) -> None:
    """Write a folder's list of names through to the disk, where the system can (Windows does so itself)."""
    if sys.platform == "win32":
        return
    descriptor = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(descriptor)
    finally:
        os.close(descriptor)
