"""One page for home: what was heard, one thing to work on, how to check it, five days, cautions.

The page is set by Typst from ``sheet.typ``, see `typeset`.
"""

from __future__ import annotations

import datetime
from collections import Counter
from pathlib import Path
from typing import Any

from colophony.app import words
from colophony.app.look import INK, sign_svg
from colophony.app.look.bowing import ADVICE_WORDS, advice_picture
from colophony.app.look.draw import piece_seconds, take_pieces, take_words
from colophony.app.look.figures import clock, day
from colophony.app.paper.typeset import Paper, clean_name, look, typeset, write_pdf
from colophony.app.paper.words import DAYS, LABELS, NAME_BY_HAND, PART_SHOWN
from colophony.language import _
from colophony.listening.take import ToneState
from colophony.teaching import cautions, wording
from colophony.teaching.faults import FAULTS
from colophony.teaching.findings import Findings, Reader, Say
from colophony.teaching.telling import told_state

_TEMPLATE = Path(__file__).with_name("sheet.typ")
_MOST_PIECES = 4


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
    name = clean_name(student)
    told = sheet_words(findings, date=date, reader=reader, next_lesson=next_lesson)
    pdf = typeset(_TEMPLATE, told | {"student": name, "paper": paper}, date=date)
    if pdf is None and name:
        told["name_note"] = NAME_BY_HAND.to(reader)
        pdf = typeset(_TEMPLATE, told | {"student": "", "paper": paper}, date=date)
    write_pdf(pdf, out)


def sheet_words(
    findings: Findings,
    *,
    date: datetime.date,
    reader: Reader = "adult",
    next_lesson: datetime.date | None = None,
) -> dict[str, Any]:
    """Return everything the sheet says and draws, as plain JSON values; pictures are SVG text."""

    def say(words: Say) -> str:
        return words.to(reader)

    take, summary = findings.take, findings.summary
    main = summary.main_advice
    kind: str
    test, why, drawing, drawing_alt = "", "", "", ""
    if main is not None:
        kind = FAULTS[main.fault].kind
        test = say(main.test) if main.test else ""
        work = say(main.say).removesuffix(test).rstrip()
        why = main.reason if reader == "teacher" else ""
        drawing = str(advice_picture(main.change, main.direction, theme=INK))
        drawing_alt = _(ADVICE_WORDS[main.change, main.direction])
    else:
        kind = "again" if summary.clean_share is None else "keep"
        work = say(LABELS[kind])
    task, marks = DAYS[kind]
    pieces, part = _picture(findings)
    return {
        "reader": reader,
        "labels": {key: say(words) for key, words in LABELS.items()},
        "date": day(date),
        "next_lesson": day(next_lesson) if next_lesson else "",
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
        "goes_on": _("The picture goes on."),
        "look": look(),
    }


def _states(findings: Findings) -> list[dict[str, Any]]:
    """Return sign, word and number of strokes of each state in the take, in the order of the legend."""
    seen = Counter(told_state(stroke) for stroke in findings.take.strokes)
    return [
        {
            "sign": str(sign_svg(state, theme=INK)),
            "word": wording.state_word(state),
            "alt": _("Sign for {state}").format(state=wording.state_word(state)),
            "count": seen[state],
        }
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
