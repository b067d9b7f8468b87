"""A recording or a score on its way in: the one file of a form, streamed to where its page wants it.

RFC 7578 (multipart/form-data). The name of a sent file is data for the page, never part of a path.
"""

from __future__ import annotations

import unicodedata
from dataclasses import dataclass, field
from typing import IO, TYPE_CHECKING

from python_multipart.exceptions import FormParserError
from python_multipart.multipart import MultipartParser, parse_options_header
from starlette.concurrency import run_in_threadpool
from starlette.requests import Request

from colophony.errors import InputError
from colophony.language import N_, _

if TYPE_CHECKING:
    from python_multipart.multipart import MultipartCallbacks

_FIELDS_LIMIT = 16 * 1024
_NAME_LIMIT = 100


@dataclass(frozen=True, slots=True)
class Awaited:
    """The one file that a form brings: its field, and what is said where it is missing or came in part."""

    field: str
    missing: str
    broken: str


RECORDING = Awaited(
    "recording",
    N_("No recording was sent: choose a file, or record one."),
    N_("The recording arrived broken or only in part: send it again."),
)
SCORE = Awaited(
    "score",
    N_("No score was sent: choose a file."),
    N_("The score arrived broken or only in part: send it again."),
)


@dataclass(frozen=True, slots=True)
class Upload:
    """What arrived: the name that the sender gave the file, its size in bytes, the form's other fields."""

    name: str
    size: int
    fields: dict[str, str]


def displayed_name(sent: str) -> str:
    """Return a file name fit for a page: no folders, no control characters, at most 100 characters."""
    last = sent.replace("\\", "/").rpartition("/")[2]
    clean = "".join(c for c in last if unicodedata.category(c)[0] != "C").strip().strip(".")
    if len(clean) > _NAME_LIMIT:
        stem, dot, ending = clean.rpartition(".")
        clean = f"{stem[: _NAME_LIMIT - 10]}{dot}{ending[:8]}" if dot else clean[:_NAME_LIMIT]
    return clean or "recording"


async def receive_upload(request: Request, into: IO[bytes], awaited: Awaited = RECORDING) -> Upload:
    """Stream the one file of the form into ``into``, nowhere else; return the rest.

    Raises `InputError` with one line for the page when the form is broken, ends early or holds no file.
    What was written so far is the caller's to remove, as is everything when the sender hangs up.
    """
    kind, options = parse_options_header(request.headers.get("content-type", ""))
    if kind != b"multipart/form-data" or not options.get(b"boundary"):
        raise InputError(_(awaited.missing))
    form = _Form(into, awaited)
    try:
        parser = MultipartParser(options[b"boundary"], form.callbacks())
        async for chunk in request.stream():
            await run_in_threadpool(parser.write, chunk)
    except FormParserError:
        raise InputError(_(awaited.broken)) from None
    if not form.complete:
        raise InputError(_(awaited.broken))
    if form.size == 0:
        raise InputError(_("The file is empty: choose another.") if form.is_named else _(awaited.missing))
    return Upload(form.name, form.size, form.fields)


@dataclass(slots=True)
class _Form:
    """The parts of one form, collected from the parser's callbacks."""

    file: IO[bytes]
    awaited: Awaited
    name: str = ""
    is_named: bool = False
    size: int = 0
    fields: dict[str, str] = field(default_factory=dict)
    complete: bool = False
    _files: int = 0
    _header_name: bytes = b""
    _header_value: bytes = b""
    _disposition: bytes = b""
    _field: str | None = None
    _value: bytearray = field(default_factory=bytearray)
    _text_size: int = 0

    def callbacks(self) -> MultipartCallbacks:
        return {
            "on_part_begin": self.part_begin,
            "on_header_begin": self.header_begin,
            "on_header_field": self.header_name,
            "on_header_value": self.header_value,
            "on_header_end": self.header_end,
            "on_headers_finished": self.headers_finished,
            "on_part_data": self.part_data,
            "on_part_end": self.part_end,
            "on_end": self.end,
        }

    def part_begin(self) -> None:
        self._disposition = b""
        self._field = None
        self._value = bytearray()

    def header_begin(self) -> None:
        self._header_name = self._header_value = b""

    def header_name(self, data: bytes, start: int, end: int) -> None:
        self._header_name += self._counted(data[start:end])

    def header_value(self, data: bytes, start: int, end: int) -> None:
        self._header_value += self._counted(data[start:end])

    def header_end(self) -> None:
        if self._header_name.lower() == b"content-disposition":
            self._disposition = self._header_value

    def headers_finished(self) -> None:
        options = parse_options_header(self._disposition)[1]
        name = options.get(b"name", b"").decode("utf-8", "replace")
        if b"filename" not in options:
            self._field = name
            return
        self._files += 1
        if name != self.awaited.field or self._files > 1:
            raise InputError(_("Send one file at a time."))
        self.is_named = bool(options[b"filename"])
        self.name = displayed_name(options[b"filename"].decode("utf-8", "replace"))

    def part_data(self, data: bytes, start: int, end: int) -> None:
        if self._field is None:
            self.file.write(data[start:end])
            self.size += end - start
        else:
            self._value += self._counted(data[start:end])

    def part_end(self) -> None:
        if self._field is not None:
            self.fields[self._field] = self._value.decode("utf-8", "replace").strip()

    def end(self) -> None:
        self.complete = True

    def _counted(self, text: bytes) -> bytes:
        self._text_size += len(text)
        if self._text_size > _FIELDS_LIMIT:
            raise InputError(_("The form holds more words than this page takes: shorten them."))
        return text
