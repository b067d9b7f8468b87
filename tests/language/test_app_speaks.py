"""Sheet, report and command line say all they say through the catalogue.

A language that only tests speak brackets each message; what stands outside of the brackets is names,
numbers, units and notes, or a fault. The pages: ``tests/web/test_pages_speak.py``.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime
from pathlib import Path
from typing import Any

import pytest

from colophony.app.paper.sheet import sheet_words
from colophony.app.report import make_report
from colophony.language import speaking
from colophony.teaching.advice import judge
from colophony.teaching.findings import READERS
from factories import make_stroke, make_take
from pseudo import spoken_pseudo
from shown import NAME, every_state, left_over, strings_of, texts_of

TODAY = date(2026, 3, 2)
NOON = datetime(2026, 3, 2, 12, 0, tzinfo=UTC)


@pytest.mark.parametrize("reader", READERS)
def test_the_sheet_is_said_through_the_catalogue(reader: Any) -> None:
    """With advice, with nothing to change, with nothing to hear; a part of a long take."""
    with spoken_pseudo():
        heard = (every_state(), judge(make_take(make_stroke())), judge(replace(make_take(), strokes=())))
        told = [sheet_words(one, date=TODAY, reader=reader, next_lesson=TODAY) for one in heard]
    texts = [
        text
        for sheet in told
        for key, value in sheet.items()
        if key not in ("look", "reader")
        for text in strings_of(value)
    ]
    assert left_over(texts) == []


def test_the_sheet_adds_no_words_of_its_own(tmp_path: Path) -> None:
    """Set with every word taken out, the page holds no word (read back by pypdf)."""
    import pypdf

    from colophony.app.paper import sheet

    def blank(value: Any) -> Any:
        if isinstance(value, dict):
            return {key: blank(one) for key, one in value.items()}
        if isinstance(value, list):
            return [blank(one) for one in value]
        return "–" if isinstance(value, str) and not value.startswith("<") else value

    told = sheet_words(every_state(), date=TODAY, next_lesson=TODAY)
    plain = {
        key: value if key in ("look", "reader", "pieces") else blank(value) for key, value in told.items()
    }
    plain |= {"pieces": told["pieces"], "work_picture": told["work_picture"], "name_note": "–"}
    pdf = sheet.typeset(sheet._TEMPLATE, plain | {"student": "", "paper": "a4"}, date=TODAY)
    assert pdf is not None
    out = tmp_path / "sheet.pdf"
    out.write_bytes(pdf)
    text = "".join(page.extract_text() for page in pypdf.PdfReader(out).pages)
    assert left_over(text.split()) == []


@pytest.mark.parametrize("strokes", [0, 1, 60])
def test_the_report_is_said_through_the_catalogue(strokes: int) -> None:
    """Short and long, for every reader: the page holds the words of all three."""
    with spoken_pseudo():
        few = every_state()
        many = replace(few.take, strokes=(few.take.strokes * 4)[:strokes] or few.take.strokes)
        page = make_report(judge(many, instrument="violin"), student=NAME, generated=NOON)
    assert left_over(texts_of(page)) == []


def test_figures_and_dates_of_a_report_are_german_in_german() -> None:
    """Decimal comma (Unicode CLDR), whole page in one language; the catalogue need not be complete."""
    with speaking("de"):
        page = make_report(judge(make_take(make_stroke()), instrument="violin"))
    texts = texts_of(page)
    assert '<html lang="de"' in page
    assert any("441,0" in text for text in texts)
    assert not any("441.0" in text for text in texts)
