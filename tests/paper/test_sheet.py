"""The sheet for home: one page, tagged, readable, whatever was heard and whatever the name."""

from __future__ import annotations

import datetime
import sys
from pathlib import Path
from typing import Any

import pypdf
import pytest

from colophony.app.paper import make_sheet
from colophony.app.paper.sheet import sheet_words
from colophony.app.paper.words import DAYS, LABELS, NAME_BY_HAND
from colophony.errors import InputError
from colophony.listening.take import Brightness, Evidence, Onset, Span, Stroke, Take, ToneState
from colophony.teaching import cautions
from colophony.teaching.advice import judge
from colophony.teaching.faults import FAULTS
from colophony.teaching.findings import Reader
from factories import make_stroke, make_take

READERS: tuple[Reader, ...] = ("child", "adult", "teacher")
DAY = datetime.date(2026, 11, 25)


def one_state(state: ToneState, start_s: float = 0.5) -> Stroke:
    end_s = start_s + 1.8
    return make_stroke(start_s, end_s, state=state, spans=(Span(start_s, end_s, state, 0.9),))


def every_state() -> Take:
    return make_take(*(one_state(state, 0.5 + 2 * i) for i, state in enumerate(ToneState)))


def long_take() -> Take:
    states = [ToneState.MULTIPLE_SLIP if i % 30 == 29 else ToneState.STEADY for i in range(300)]
    warnings = (
        Evidence("clipped", {"share": 0.02}),
        Evidence("noisy", {"snr_db": 12.0}),
        Evidence("expected_missing", {"notes": ", ".join(["F#4"] * 40)}),
    )
    return make_take(*(one_state(s, 0.5 + 2 * i) for i, s in enumerate(states)), warnings=warnings)


TAKES = {
    "pressed": make_take(),
    "good": make_take(make_stroke(), make_stroke(3.0, 5.0)),
    "empty": make_take(strokes=(), duration_s=3.0),
    "creaking": make_take(make_stroke(onset=Onset("slow", 180.0, 40.0, "creaking", False))),
    "brighter": make_take(make_stroke(brightness=Brightness(3000.0, 7.0, 9.0))),
    "every-state": every_state(),
    "long": long_take(),
    "trackless": make_take(track=None),
}


def read(pdf: Path) -> tuple[pypdf.PdfReader, str]:
    reader = pypdf.PdfReader(pdf)
    return reader, " ".join(" ".join(page.extract_text() for page in reader.pages).split())


@pytest.mark.parametrize("reader", READERS)
@pytest.mark.parametrize("name", TAKES)
def test_a_sheet_is_one_a4_page_that_says_everything(tmp_path: Path, name: str, reader: Reader) -> None:
    """A4 is 210 by 297 mm (ISO 216), 595.3 by 841.9 points."""
    findings = judge(TAKES[name])
    out = tmp_path / "sheet.pdf"
    make_sheet(findings, out, student="Mira", date=DAY, reader=reader)
    pdf, text = read(out)
    assert len(pdf.pages) == 1
    assert [float(side) for side in pdf.pages[0].mediabox[2:]] == pytest.approx([595.28, 841.89], abs=0.1)
    for said in (
        "Mira",
        "25 November 2026",
        getattr(findings.summary.headline, reader),
        getattr(findings.summary.check, reader),
        getattr(LABELS["care"], reader),
        *cautions.all_cautions(reader=reader),
    ):
        assert " ".join(said.split()) in text
    if findings.summary.main_advice:
        assert getattr(findings.summary.main_advice.say, reader) in text


def test_the_sheet_is_tagged_and_declares_pdf_ua(tmp_path: Path) -> None:
    """ISO 14289-1 (PDF/UA-1): tagged, with a language, a title that is shown, and its declaration."""
    out = tmp_path / "sheet.pdf"
    make_sheet(judge(make_take()), out, student="Mira", date=DAY)
    pdf, _ = read(out)
    root = pdf.trailer["/Root"]
    assert root["/MarkInfo"]["/Marked"] == True  # noqa: E712  a PDF boolean
    assert root["/Lang"] == "en"
    assert root["/ViewerPreferences"]["/DisplayDocTitle"] == True  # noqa: E712
    assert "/StructTreeRoot" in root
    assert pdf.metadata is not None
    assert pdf.metadata.title == "This week's bow, Mira"
    assert "<pdfuaid:part>1</pdfuaid:part>" in root["/Metadata"].get_data().decode()


def test_every_picture_is_described(tmp_path: Path) -> None:
    """ISO 14289-1, 7.3: figures carry an alternative text."""
    out = tmp_path / "sheet.pdf"
    make_sheet(judge(make_take()), out, student=None, date=DAY)
    pdf, _ = read(out)
    described = [
        str(element["/Alt"])
        for element in (
            reference.get_object() for reference in _elements(pdf.trailer["/Root"]["/StructTreeRoot"])
        )
        if element.get("/S") == "/Figure"
    ]
    assert len(described) == 5  # two pieces of the take, two signs, one advice
    assert all(described)
    assert "Sign for pressed" in described


def _elements(node: Any) -> list[dict[str, Any]]:
    """Return every structure element below a node, in reading order."""
    node = node.get_object() if isinstance(node, pypdf.generic.IndirectObject) else node
    if isinstance(node, list):
        return [element for kid in node for element in _elements(kid)]
    if isinstance(node, dict):
        return [node, *_elements(node.get("/K", []))]
    return []


@pytest.mark.parametrize(
    "name",
    [
        '#panic("x") $x^2$ \\ "quoted" <label> @ref *b* _i_ [c] `d` // e /* f */ = g ~ --- ',
        "#{sys.inputs}",
        "<script>alert(1)</script> & Søn",
        "O'Brien, Zoë-Łucja Đurić",
    ],
)
def test_a_name_is_data_and_never_markup(tmp_path: Path, name: str) -> None:
    out = tmp_path / "sheet.pdf"
    make_sheet(judge(make_take()), out, student=name, date=DAY)
    pdf, text = read(out)
    shown = " ".join(name.split())
    assert (shown if len(shown) <= 60 else shown[:59]) in text
    assert len(pdf.pages) == 1


@pytest.mark.parametrize(
    "name", ["Ольга Иванова", "Νεφέλη", "王小明", "נועם", "สมชาย", "🎻🎻", "Nefer 𓄤", "می‌خواهم"]
)
@pytest.mark.parametrize("reader", ["child", "adult"])
def test_a_name_in_any_script_is_printed_or_left_to_be_written(
    tmp_path: Path, name: str, reader: Reader
) -> None:
    out = tmp_path / "sheet.pdf"
    make_sheet(judge(make_take()), out, student=name, date=DAY, reader=reader)
    pdf, text = read(out)
    assert len(pdf.pages) == 1
    by_hand = getattr(NAME_BY_HAND, reader) in text
    titled = pdf.metadata is not None and name in (pdf.metadata.title or "")
    assert by_hand != titled


def test_a_name_that_no_typeface_has_leaves_a_line_and_says_so(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The machine's own typefaces are taken away; those that come with Colophony have no hieroglyphs."""
    import typst

    fonts = typst.Fonts

    def without_the_systems(*, include_system_fonts: bool, font_paths: list[Path]) -> typst.Fonts:
        return fonts(include_system_fonts=False, font_paths=font_paths)

    monkeypatch.setattr(typst, "Fonts", without_the_systems)
    out = tmp_path / "sheet.pdf"
    make_sheet(judge(make_take()), out, student="Nefer 𓄤", date=DAY)
    text = read(out)[1]
    assert NAME_BY_HAND.adult in text
    assert "Nefer" not in text


@pytest.mark.parametrize("name", ["", "   ", None, "\n\t\x00\ud800\ue000", "A" * 500, "Anna " * 100])
def test_no_name_and_a_very_long_one_fit(tmp_path: Path, name: str | None) -> None:
    out = tmp_path / "sheet.pdf"
    make_sheet(judge(make_take()), out, student=name, date=DAY, next_lesson=datetime.date(2026, 12, 2))
    pdf, text = read(out)
    assert len(pdf.pages) == 1
    assert "Next lesson: 2 December 2026" in text
    assert ("…" in text) == (name is not None and len(name.strip()) > 60)


def test_letter_paper_is_to_be_had(tmp_path: Path) -> None:
    """US letter is 8.5 by 11 inches (ANSI Y14.1), 612 by 792 points."""
    out = tmp_path / "sheet.pdf"
    make_sheet(judge(every_state()), out, student="Mira", date=DAY, reader="teacher", paper="us-letter")
    pdf, _ = read(out)
    assert len(pdf.pages) == 1
    assert [float(side) for side in pdf.pages[0].mediabox[2:]] == [612.0, 792.0]


def test_the_same_findings_give_the_same_file(tmp_path: Path) -> None:
    for name in ("a.pdf", "b.pdf"):
        make_sheet(judge(make_take()), tmp_path / name, student="Mira", date=DAY)
    assert (tmp_path / "a.pdf").read_bytes() == (tmp_path / "b.pdf").read_bytes()


def test_a_long_take_shows_the_part_that_the_advice_speaks_of() -> None:
    told = sheet_words(judge(long_take()), date=DAY)
    assert len(told["pieces"]) == 2
    assert told["part"] == "The picture shows the part from 0:30.0 to 1:30.0."  # stroke 30 begins at 58.5 s


def test_only_the_teacher_reads_the_reason() -> None:
    findings = judge(make_take())
    assert [bool(sheet_words(findings, date=DAY, reader=reader)["why"]) for reader in READERS] == [
        False,
        False,
        True,
    ]


def test_every_kind_of_fault_has_its_task_for_the_five_days() -> None:
    assert {fault.kind for fault in FAULTS.values()} | {"keep", "again"} == set(DAYS)


def test_without_typesetting_one_line_says_how_to_get_it(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setitem(sys.modules, "typst", None)
    with pytest.raises(InputError, match=r"\.\[paper\]"):
        make_sheet(judge(make_take()), tmp_path / "sheet.pdf", student=None, date=DAY)
    assert not (tmp_path / "sheet.pdf").exists()


def test_a_place_that_cannot_be_written_is_named(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="cannot be written"):
        make_sheet(judge(make_take()), tmp_path / "no" / "sheet.pdf", student=None, date=DAY)
