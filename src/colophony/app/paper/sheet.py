"""One page for home: what was heard, one thing to work on, how to check it, five days, cautions.

The page is set by Typst from ``sheet.typ``. Everything a person wrote reaches it as data (JSON), never as
markup. The PDF is tagged and declares PDF/UA-1 (ISO 14289-1).
"""

from __future__ import annotations

import datetime
import json
import unicodedata
from collections import Counter
from pathlib import Path
from typing import Any, Literal

from colophony.app import words
from colophony.app.look import FONTS_DIR, INK, sign_svg
from colophony.app.look.bowing import ADVICE_WORDS, advice_picture
from colophony.app.look.draw import piece_seconds, take_pieces, take_words
from colophony.app.look.figures import clock
from colophony.app.look.tokens import SIZES_PT, TEXT_FAMILY, VOICE_FAMILY
from colophony.app.paper.words import DAYS, LABELS, NAME_BY_HAND, PART_SHOWN
from colophony.errors import InputError
from colophony.listening.take import ToneState
from colophony.teaching import cautions, wording
from colophony.teaching.faults import FAULTS
from colophony.teaching.findings import Findings, Reader, Say
from colophony.teaching.telling import told_state

Paper = Literal["a4", "us-letter"]

_TEMPLATE = Path(__file__).with_name("sheet.typ")
_MOST_PIECES = 4
_LONGEST_NAME = 60
_NO_TEXT = frozenset({"Cc", "Cs", "Co", "Cn", "Zl", "Zp"})
_MONTHS = (
    *("January", "February", "March", "April", "May", "June"),
    *("July", "August", "September", "October", "November", "December"),
)
_INSTALL = "a sheet needs typst: run pip install '.[paper]' in Colophony's folder"


def make_sheet(
    findings: Findings,
    out: Path,
    *,
    student: str | None,
    date: datetime.date,
    reader: Reader = "adult",
    next_lesson: datetime.date | None = None,
    paper: Paper = "a4",
) -> None:
    """Write the sheet for home as a PDF of exactly one page.

    A name that no typeface at hand can print leaves a line to write on, and the sheet says so.

    Parameters
    ----------
    findings : the take and its advice
    out : the file to write, replaced when it exists
    student : the name at the top, any text; a line to write on when None
    date : the day of the lesson
    reader : in whose words
    next_lesson : shown at the top when given
    paper : "a4" (ISO 216) or "us-letter"

    Raises `InputError` when the extra ``paper`` is not installed or the file cannot be written.
    """
    name = _clean_name(student)
    told = sheet_words(findings, date=date, reader=reader, next_lesson=next_lesson)
    pdf = _typeset(told | {"student": name, "paper": paper}, date)
    if pdf is None and name:
        told["name_note"] = getattr(NAME_BY_HAND, reader)
        pdf = _typeset(told | {"student": "", "paper": paper}, date)
    if pdf is None:
        raise InputError("the sheet holds text that no typeface here can print: rename the note or the file")
    try:
        out.write_bytes(pdf)
    except OSError as error:
        raise InputError(f"{out} cannot be written ({error.strerror}): choose another place") from error


def sheet_words(
    findings: Findings,
    *,
    date: datetime.date,
    reader: Reader = "adult",
    next_lesson: datetime.date | None = None,
) -> dict[str, Any]:
    """Return everything the sheet says and draws, as plain JSON values; pictures are SVG text."""

    def say(words: Say) -> str:
        text: str = getattr(words, reader)
        return text

    take, summary = findings.take, findings.summary
    main = summary.main_advice
    kind: str
    test, why, drawing, drawing_alt = "", "", "", ""
    if main is not None:
        kind = FAULTS[main.fault].kind
        test = say(main.test) if main.test else ""
        work = say(main.say).removesuffix(test).rstrip()
        why = main.why if reader == "teacher" else ""
        drawing = str(advice_picture(main.change, main.direction, theme=INK))
        drawing_alt = ADVICE_WORDS[main.change, main.direction]
    else:
        kind = "again" if summary.clean_share is None else "keep"
        work = say(LABELS[kind])
    task, marks = DAYS[kind]
    pieces, part = _picture(findings)
    return {
        "reader": reader,
        "labels": {key: say(words) for key, words in LABELS.items()},
        "date": _day(date),
        "next_lesson": _day(next_lesson) if next_lesson else "",
        "headline": say(summary.headline),
        "pieces": pieces,
        "pieces_alt": take_words(take),
        "part": say(PART_SHOWN).format(start=part[0], end=part[1]) if part else "",
        "states": _states(findings),
        "work": work,
        "test": test,
        "work_title": say(LABELS["work" if main else "next_step"]),
        "work_picture": drawing,
        "work_alt": drawing_alt,
        "why": why,
        "check_title": say(LABELS["record" if kind == "again" else "check"]),
        "check": say(summary.check),
        "task": say(task),
        "marks": marks,
        "warnings": words.warnings(take, reader=reader)[:2],
        "cautions": list(cautions.all_cautions(reader=reader)),
        "name_note": "",
        "look": {
            "voice": VOICE_FAMILY,
            "text": TEXT_FAMILY,
            "sizes": dict(SIZES_PT),
            "ink": INK.ink,
            "quiet": INK.quiet,
            "line": INK.line,
            "edge": INK.edge,
            "rosin": INK.rosin,
        },
    }


def _states(findings: Findings) -> list[dict[str, Any]]:
    """Return sign, word and number of strokes of each state in the take, in the order of the legend."""
    seen = Counter(told_state(stroke) for stroke in findings.take.strokes)
    return [
        {"sign": str(sign_svg(state, theme=INK)), "word": wording.state_word(state), "count": seen[state]}
        for state in ToneState
        if seen[state]
    ]


def _picture(findings: Findings) -> tuple[list[str], tuple[str, str] | None]:
    """Return the pieces of the take's picture, and first and last moment where only a part is shown.

    A long take shows the two pieces around the stroke that the one advice speaks of, else its beginning.
    """
    take = findings.take
    if not take.strokes:
        return [], None
    pieces = [str(piece) for piece in take_pieces(take, theme=INK)]
    if len(pieces) <= _MOST_PIECES:
        return pieces, None
    seconds = piece_seconds(take.duration_s)
    main = findings.summary.main_advice
    at_s = next(
        (
            stroke.start_s
            for stroke, items in zip(take.strokes, findings.advice, strict=True)
            if main in items
        ),
        0.0,
    )
    first = min(int(at_s / seconds), len(pieces) - 2)
    return pieces[first : first + 2], (clock(first * seconds), clock((first + 2) * seconds))


def _day(date: datetime.date) -> str:
    """Return a date as people write it, whatever the machine's language: 25 November 2026."""
    return f"{date.day} {_MONTHS[date.month - 1]} {date.year}"


def _clean_name(student: str | None) -> str:
    """Return a name on one line, shortened with an ellipsis beyond `_LONGEST_NAME` characters."""
    # Controls, lone surrogates, private and unassigned characters print nothing; joiners belong to scripts.
    kept = "".join(" " if unicodedata.category(c) in _NO_TEXT else c for c in student or "")
    name = " ".join(kept.split())
    return name if len(name) <= _LONGEST_NAME else name[: _LONGEST_NAME - 1].rstrip() + "…"


def _typeset(told: dict[str, Any], date: datetime.date) -> bytes | None:
    """Return the PDF, or None when a glyph is missing from every typeface at hand.

    The vendored typefaces come first; the system's are asked only for what those lack.
    """
    try:
        import typst
    except ImportError as error:
        raise InputError(_INSTALL) from error
    # The lesson's day, not the clock: the same findings give the same file.
    made = datetime.datetime.combine(date, datetime.time(), datetime.UTC)
    for with_system_fonts in (False, True):
        fonts = typst.Fonts(include_system_fonts=with_system_fonts, font_paths=[FONTS_DIR])
        try:
            pdf = typst.compile(
                _TEMPLATE.read_bytes(),
                format="pdf",
                font_paths=fonts,
                sys_inputs={"sheet": json.dumps(told)},
                pdf_standards="ua-1",
                timestamp=made,
            )
        except typst.TypstError as error:
            if "could not be displayed" not in str(error):
                raise
        else:
            return bytes(pdf)
    return None
