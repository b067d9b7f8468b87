"""Page Progress: weeks in a sentence and a picture, and a report to print."""

from __future__ import annotations

import io

import pypdf
import pytest
from serving import Site

from browser import OpenPage, axe_violations, overflow_px
from studio_samples import add_consented, keep_weeks

RISING = (0.30, 0.38, 0.45, 0.52, 0.60, 0.66, 0.75)


@pytest.fixture(scope="module")
def weeks(site: Site, tmp_path_factory: pytest.TempPathFactory) -> int:
    student = add_consented(site.desk.studio, "Ida Winterstein")
    keep_weeks(site.desk.studio, student, RISING, tmp_path_factory.mktemp("takes"))
    return student.id


def test_the_page_opens_with_what_changed(site: Site, weeks: int) -> None:
    page = site.client.get(f"/progress/{weeks}?reader=teacher").text
    assert "<h1>Clean share of bowed time rose from 30\u00a0% to 74\u00a0%.</h1>" in page
    assert page.count("<circle") == 3 * len(RISING)
    assert f'href="/progress/{weeks}"' in site.client.get("/progress").text


def test_the_report_is_made_for_the_reader_who_is_asked_for(site: Site, weeks: int) -> None:
    answer = site.client.get(f"/progress/{weeks}/report.pdf?reader=adult&since=2026-03-05&paper=us-letter")
    assert answer.headers["content-type"] == "application/pdf"
    pdf = pypdf.PdfReader(io.BytesIO(answer.content))
    assert [float(side) for side in pdf.pages[0].mediabox[2:]] == [612, 792]
    assert "6 takes" in pdf.pages[0].extract_text()


@pytest.mark.parametrize("asked", ["reader=nobody", "since=yesterday", "paper=a3"])
def test_what_is_no_choice_has_one_line(site: Site, weeks: int, asked: str) -> None:
    answer = site.client.get(f"/progress/{weeks}?{asked}")
    assert answer.status_code == 400
    assert asked.partition("=")[2] in answer.text


def test_a_student_without_takes_begins_the_record(site: Site) -> None:
    answer = site.client.get(f"/progress/{site.add_student()}")
    assert answer.status_code == 200
    assert "No takes yet" in answer.text


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_the_page_serves_everybody_on_a_phone(
    site: Site, weeks: int, open_page: OpenPage, scheme: str
) -> None:
    """WCAG 2.2 as far as axe tells; nothing wider than a small phone (320 px, success criterion 1.4.10)."""
    page = open_page(f"{site.address}/progress/{weeks}", width=320, scheme=scheme)
    assert axe_violations(page) == []
    assert overflow_px(page) <= 0
    assert page.complaints == []
