"""``colophony progress``: the same weeks in words, as JSON and on one printed page."""

from __future__ import annotations

import datetime
import json
from collections.abc import Callable
from pathlib import Path

import pypdf
import pytest

from colophony.app.paper.progress import make_progress_report
from colophony.app.progress import headline, measures_shown, progress_of
from colophony.language import speaking
from colophony.records.studio import Studio
from colophony.teaching.findings import Reader
from studio_samples import NAME, add_consented, keep_weeks

Run = Callable[..., tuple[int, str, str]]
RISING = (0.30, 0.38, 0.45, 0.52, 0.60, 0.66, 0.75)
DAY = datetime.date(2026, 5, 1)


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    made = tmp_path_factory.mktemp("weeks")
    with Studio.open(made / "studio") as studio:
        student = add_consented(studio)
        keep_weeks(studio, student, RISING, made)
        studio.record_pass(
            student.id, "hold-point-whole", on=DAY, passed_strokes=9, asked_strokes=10, passed=True
        )
        studio.add_student("Cora", instrument="cello", minor=True)
    return made / "studio"


def test_weeks_are_told_in_sentences(folder: Path, colophony: Run) -> None:
    """By hand: the median slope is 7.4 % a week, the median share 52 %; three weeks before and after it."""
    status, out, err = colophony("progress", NAME, "--studio", folder, "--reader", "teacher")
    assert (status, err) == (0, "")
    assert out.startswith("Clean share of bowed time rose from 30\u00a0% to 74\u00a0%.\n")
    assert "7 takes on the violin 1/2, from 2 March 2026 to 13 April 2026." in out
    assert "Pressed: 50\u00a0% of strokes in the earlier half, 0\u00a0% in the later." in out
    assert "Passed on 2026-05-01: Whole bows in one lane" in out


def test_json_holds_every_take_and_what_is_sure(folder: Path, colophony: Run) -> None:
    status, out, _ = colophony("progress", NAME, "--studio", folder, "--json")
    told = json.loads(out)
    assert status == 0
    assert [take["clean_share"] for take in told["takes"]] == list(RISING)
    assert told["changes"][0] | {"first": 0, "last": 0, "typical": 0} == {
        "measure": "clean_share",
        "days": 7,
        "first": 0,
        "last": 0,
        "typical": 0,
        "is_clear": True,
        "is_better": True,
    }
    assert [change["is_clear"] for change in told["changes"]] == [True, False, False]


def test_a_few_weeks_alone_tell_no_change(folder: Path, colophony: Run) -> None:
    status, out, _ = colophony("progress", NAME, "--studio", folder, "--since", "2026-04-01")
    assert status == 0
    assert out.startswith("Too few days")


def test_takes_of_one_day_have_one_date(folder: Path, colophony: Run) -> None:
    """From the 13th to the 13th is no span of days."""
    _, out, _ = colophony("progress", NAME, "--studio", folder, "--since", "2026-04-13")
    assert "1 take on the violin 1/2, on 13 April 2026." in out


def test_a_student_without_takes_and_a_wrong_name_each_have_one_line(folder: Path, colophony: Run) -> None:
    assert colophony("progress", "Cora", "--studio", folder)[1] == "No takes on this instrument yet.\n"
    status, out, err = colophony("progress", "Anna", "--studio", folder)
    assert (status, out, err.count("\n")) == (1, "", 1)


@pytest.mark.parametrize("reader", ["child", "adult", "teacher"])
@pytest.mark.parametrize("language", ["en", "de"])
def test_the_report_is_one_tagged_page(folder: Path, tmp_path: Path, reader: Reader, language: str) -> None:
    """PDF/UA-1 (ISO 14289-1): tagged, titled, with its language; pictures carry words in their place."""
    with speaking(language):
        with Studio.open(folder) as studio:
            shown = progress_of(studio, studio.find_student(NAME))
        make_progress_report(shown, tmp_path / "report.pdf", on=DAY, reader=reader)
    pdf = pypdf.PdfReader(tmp_path / "report.pdf")
    assert len(pdf.pages) == 1
    assert pdf.trailer["/Root"]["/MarkInfo"]["/Marked"]
    assert pdf.trailer["/Root"]["/Lang"] == language
    assert NAME in pdf.metadata.title  # type: ignore[operator, union-attr]
    assert "2026" in pdf.pages[0].extract_text()


def test_the_report_is_in_the_words_of_the_students_own_reader(
    folder: Path, tmp_path: Path, colophony: Run
) -> None:
    """A child's, unless another is asked for; the terminal keeps to whoever sits before it."""
    with Studio.open(folder) as studio:
        shown = progress_of(studio, studio.find_student(NAME))
    texts = []
    for more in ((), ("--reader", "teacher")):
        _, out, _ = colophony("progress", NAME, "--studio", folder, "--pdf", tmp_path / "report.pdf", *more)
        texts.append(" ".join(pypdf.PdfReader(tmp_path / "report.pdf").pages[0].extract_text().split()))
        assert out.startswith(headline(shown, reader="teacher"))
    for text, reader in zip(texts, ("child", "teacher"), strict=True):
        assert headline(shown, reader=reader).replace("\u00a0", " ") in text.replace("\u00a0", " ")


def test_a_picture_says_its_values_to_who_cannot_see_it(folder: Path) -> None:
    with Studio.open(folder) as studio:
        shown = progress_of(studio, studio.find_student(NAME))
    first, *_ = measures_shown(shown, reader="adult")
    assert "2 March 2026: 30\u00a0%" in first.picture
    assert first.picture.count("<circle") == len(RISING)
    assert first.rows[-1] == (datetime.date(2026, 4, 13), "75\u00a0%")
