"""Typst, called in one place: data in, a tagged PDF that declares PDF/UA-1 (ISO 14289-1) out.

Everything a person wrote reaches a template as data (JSON), never as markup.
"""

from __future__ import annotations

import datetime
import json
import unicodedata
from collections.abc import Mapping
from pathlib import Path
from typing import Any, Literal

from colophony.app.look import FONTS_DIR, INK
from colophony.app.look.tokens import SIZES_PT, TEXT_FAMILY, VOICE_FAMILY
from colophony.errors import InputError
from colophony.language import _, language

Paper = Literal["a4", "us-letter"]
PAPERS: tuple[Paper, ...] = ("a4", "us-letter")

_LONGEST_NAME = 60
_NO_TEXT = frozenset({"Cc", "Cs", "Co", "Cn", "Zl", "Zp"})


def look() -> dict[str, Any]:
    """Return typefaces, sizes in pt and colours of paper as plain JSON values."""
    return {
        "voice": VOICE_FAMILY,
        "text": TEXT_FAMILY,
        "sizes": dict(SIZES_PT),
        "ink": INK.ink,
        "quiet": INK.quiet,
        "line": INK.line,
        "edge": INK.edge,
        "rosin": INK.rosin,
        "board": INK.board,
    }


def typeset(template: Path, told: Mapping[str, Any], *, date: datetime.date) -> bytes | None:
    """Return the PDF, or None when a glyph is missing from every typeface at hand.

    The vendored typefaces come first; the system's are asked only for what those lack.

    Parameters
    ----------
    template : a Typst file that reads one JSON object from ``sys.inputs.sheet``
    told : that object; the language of the moment is added as ``language``
    date : written into the file in place of the clock: the same values give the same file

    Raises `InputError` when the extra ``paper`` is not installed.
    """
    try:
        import typst
    except ImportError as error:
        raise InputError(
            _("a sheet needs typst: run pip install '.[paper]' in Colophony's folder")
        ) from error
    made = datetime.datetime.combine(date, datetime.time(), datetime.UTC)
    for with_system_fonts in (False, True):
        fonts = typst.Fonts(include_system_fonts=with_system_fonts, font_paths=[FONTS_DIR])
        try:
            pdf = typst.compile(
                template.read_bytes(),
                format="pdf",
                font_paths=fonts,
                sys_inputs={"sheet": json.dumps({**told, "language": language()})},
                pdf_standards="ua-1",
                timestamp=made,
            )
        except typst.TypstError as error:
            if "could not be displayed" not in str(error):
                raise
        else:
            return bytes(pdf)
    return None


def write_pdf(pdf: bytes | None, out: Path) -> None:
    """Write what `typeset` returned; raises `InputError` where there is nothing or the file refuses."""
    if pdf is None:
        raise InputError(
            _("the sheet holds text that no typeface here can print: rename the note or the file")
        )
    try:
        out.write_bytes(pdf)
    except OSError as error:
        raise InputError(
            _("{file} cannot be written ({reason}): choose another place").format(
                file=out, reason=error.strerror
            )
        ) from error


def clean_name(student: str | None) -> str:
    """Return a name on one line, shortened with an ellipsis beyond 60 characters."""
    # Controls, lone surrogates, private and unassigned characters print nothing; joiners belong to scripts.
    kept = "".join(" " if unicodedata.category(c) in _NO_TEXT else c for c in student or "")
    name = " ".join(kept.split())
    return name if len(name) <= _LONGEST_NAME else name[: _LONGEST_NAME - 1].rstrip() + "…"
