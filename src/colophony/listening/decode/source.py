"""Opens one local file for decoding, and makes sure that nothing else is ever opened.

The decoder understands addresses and playlists that point to other files or to the network. A take
comes from strangers' phones, so none of that is wanted: the file is opened here, by the operating
system's plain `open`, and the decoder is handed bytes. Three locks hold independently: it never
sees the name; its container formats are those of the list below, none of which is a playlist; and
whatever it still asks to open is refused.
"""

from __future__ import annotations

import io
import os
import stat
from pathlib import Path
from typing import Any, BinaryIO

import av
import av.container

from colophony.errors import TakeError
from colophony.language import N_, _

#: Container formats, by the decoder's names for them. Playlists (hls, concat, dash, sdp), image
#: sequences and devices are left out on purpose.
CONTAINERS = "aac,aiff,amr,asf,au,avi,caf,flac,matroska,webm,mov,mp4,m4a,3gp,3g2,mp3,mpegts,ogg,w64,wav"

#: What to do about a file that cannot be read: a sentence that ends several messages.
REMEDY = N_("Use a sound or video file such as WAV, FLAC, MP3, M4A, OGG, MP4, MOV or WebM.")
_A_FOLDER = N_("{name}: this is a folder. Name one recording inside it.")


def shown_name(path: Path) -> str:
    """The file's name, fit for one line of text."""
    return "".join(c if c.isprintable() else "?" for c in path.name or str(path))


def open_file(path: Path) -> BinaryIO:
    """Opens an ordinary, non-empty file for reading.

    Never waits: a named pipe or a device is refused, not read.

    Raises:
        TakeError: missing, a folder, unreadable, not an ordinary file, or empty.
    """
    name = shown_name(path)
    try:
        # O_NONBLOCK: opening a pipe without a writer would otherwise wait for ever.
        handle = os.open(path, os.O_RDONLY | getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_BINARY", 0))
    except (FileNotFoundError, NotADirectoryError):
        raise TakeError(_("{name}: no such file. Check the name and the folder.").format(name=name)) from None
    except PermissionError:
        if path.is_dir():  # some systems refuse to open a folder at all
            raise TakeError(_(_A_FOLDER).format(name=name)) from None
        raise TakeError(
            _("{name}: no permission to read it. Change its permissions or copy it.").format(name=name)
        ) from None
    except (OSError, ValueError) as error:
        reason = error.strerror if isinstance(error, OSError) and error.strerror else _("not a usable name")
        raise TakeError(
            _("{name}: cannot be opened ({reason}). Check the name.").format(name=name, reason=reason)
        ) from None
    mode = os.fstat(handle)
    if stat.S_ISDIR(mode.st_mode):
        problem = _(_A_FOLDER)
    elif not stat.S_ISREG(mode.st_mode):
        problem = _("{name}: not an ordinary file. Save the recording as a file first.")
    elif mode.st_size == 0:
        problem = _("{name}: the file is empty (0 bytes). Record or copy it again.")
    else:
        return os.fdopen(handle, "rb")
    os.close(handle)
    raise TakeError(problem.format(name=name))


class _Bytes(io.RawIOBase):
    """The bytes of an open file, without its name."""

    def __init__(self, file: BinaryIO) -> None:
        self._file = file

    def readable(self) -> bool:
        return True

    def seekable(self) -> bool:
        return True

    def read(self, size: int = -1) -> bytes:
        return self._file.read(size)

    def seek(self, offset: int, whence: int = os.SEEK_SET) -> int:
        return self._file.seek(offset, whence)

    def tell(self) -> int:
        return self._file.tell()


def _refuse_to_open(url: str, flags: int, options: dict[str, Any]) -> BinaryIO:
    raise PermissionError("a recording may not open other files")


def open_container(file: BinaryIO, name: str) -> av.container.InputContainer:
    """Finds the container format from the content and reads its header.

    Raises:
        TakeError: not a sound or video file, or its header is damaged.
    """
    file.seek(0)
    try:
        container: av.container.InputContainer = av.open(
            _Bytes(file),
            mode="r",
            options={"format_whitelist": CONTAINERS, "protocol_whitelist": "none"},
            io_open=_refuse_to_open,
            metadata_errors="replace",
        )
        return container
    except (av.FFmpegError, OSError, ValueError):
        raise TakeError(
            _("{name}: not a sound file, or its beginning is damaged. {remedy}").format(
                name=name, remedy=_(REMEDY)
            )
        ) from None


def states_frames(file: BinaryIO) -> bool:
    """Whether an MP3 file states its number of frames (in a ``Xing``, ``Info`` or ``VBRI`` header).

    Without one its length is an estimate from the bit rate. The file's position is kept.
    """
    position = file.tell()
    file.seek(0)
    head = file.read(10)
    skip = 0
    if len(head) == 10 and head.startswith(b"ID3"):  # its size: 4 bytes of 7 bits (ID3v2.4, section 3.1)
        skip = 10 + (head[6] << 21 | head[7] << 14 | head[8] << 7 | head[9])
    file.seek(skip)
    first = file.read(2048)
    file.seek(position)
    return any(tag in first for tag in (b"Xing", b"Info", b"VBRI"))
