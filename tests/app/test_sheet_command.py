"""``colophony sheet`` and ``colophony strip``: from a student or an instrument to paper and sound."""

from __future__ import annotations

import datetime
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pypdf
import pytest

from colophony.app import practice
from colophony.app.paper import strip_points
from colophony.app.studio import open_studio
from colophony.errors import InputError
from colophony.teaching.exercises.ranges import published_ranges
from colophony.teaching.plans import Plan, plan_from_plain

Run = Callable[..., tuple[int, str, str]]


@pytest.fixture(autouse=True)
def published(monkeypatch: pytest.MonkeyPatch) -> None:
    """Targets and rooms from the published limits: what the engine finds is tested elsewhere."""

    def refuse(*_: object) -> Any:
        raise InputError("not asked here")

    monkeypatch.setattr(practice, "ask_ranges", lambda *_, **__: published_ranges)
    monkeypatch.setattr(strip_points, "_ask", refuse)


@pytest.fixture
def sounded(monkeypatch: pytest.MonkeyPatch) -> list[tuple[Plan, dict[str, Any]]]:
    """Stands in for the page with sound; what it was asked for."""
    import colophony.app.week

    asked: list[tuple[Plan, dict[str, Any]]] = []

    def page(plan: Plan, **more: Any) -> str:
        asked.append((plan, more))
        return "<!doctype html><title>A week</title>"

    monkeypatch.setattr(colophony.app.week, "make_week_page", page)
    return asked


@pytest.fixture
def with_nele(colophony: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Run:
    """A studio with Nele (invented), a minor with a half-size cello, whose takes may be kept."""
    monkeypatch.setenv("COLOPHONY_STUDIO", str(tmp_path / "studio"))
    colophony("studio", "add", "Nele", "--instrument", "cello", "--size", "1/2", "--reader", "child")
    consent = ("studio", "consent", "nele", "--given-by", "I. Example", "--relation", "mother")
    assert colophony(*consent)[0] == 0
    return colophony


def text_of(path: Path) -> str:
    return " ".join(" ".join(page.extract_text() for page in pypdf.PdfReader(path).pages).split())


def kept_plan(tmp_path: Path) -> Plan:
    with open_studio(tmp_path / "studio") as studio:
        kept = studio.latest_plan(studio.find_student("nele").id)
    assert kept is not None
    return plan_from_plain(kept.content)


def test_a_newcomer_prints_a_first_week_for_a_half_size_violin(
    colophony: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """One line, no studio: a sheet with a line for the name, marked as invented; no folder is made."""
    monkeypatch.setenv("COLOPHONY_STUDIO", str(tmp_path / "studio"))
    out = tmp_path / "week.pdf"
    status, said, err = colophony(
        "sheet", "--instrument", "violin", "--size", "1/2", "--pdf", out, "--reader", "adult"
    )
    assert (status, said) == (0, "")
    assert f"sheet: {out}" in err
    text = text_of(out)
    assert "Violin 1/2" in text
    assert "first week" in text
    assert "Name" in text
    assert not (tmp_path / "studio").exists()


def test_a_student_without_a_plan_gets_one_that_is_kept(
    with_nele: Run, sounded: list[Any], tmp_path: Path
) -> None:
    """All three papers at once, in the student's own reader's words, from the same plan."""
    pdf, html, strips = (tmp_path / name for name in ("week.pdf", "week.html", "strips.pdf"))
    status, _, err = with_nele("sheet", "nele", "--pdf", pdf, "--html", html, "--strips", strips)
    assert status == 0
    assert err.count(str(tmp_path)) == 3
    plan = kept_plan(tmp_path)
    assert (plan.instrument, plan.size) == ("cello", "1/2")
    assert sounded[0][0] == plan
    assert sounded[0][1] == {"student": "Nele", "reader": "child"}
    assert "Nele" in text_of(pdf)
    assert "Your week with the bow" in text_of(pdf)
    assert html.read_text("utf-8").startswith("<!doctype html>")
    assert "exactly 100 mm" in text_of(strips)
    assert "Cello 1/2" in text_of(strips)


def test_the_latest_kept_plan_is_used_and_an_old_one_named(with_nele: Run, tmp_path: Path) -> None:
    out = tmp_path / "week.pdf"
    first = (datetime.date.today() - datetime.timedelta(days=10)).isoformat()
    assert with_nele("plan", "nele", "--from", first)[0] == 0
    kept = kept_plan(tmp_path)
    status, _, err = with_nele("sheet", "nele", "--pdf", out)
    assert status == 0
    assert f"begins on {first}" in err
    assert kept_plan(tmp_path) == kept


def test_paper_print_and_language_are_chosen(with_nele: Run, tmp_path: Path) -> None:
    """US letter is 612 by 792 points; the language is named in the file (ISO 14289-1)."""
    out = tmp_path / "week.pdf"
    status, _, err = with_nele(
        "sheet", "nele", "--pdf", out, "--paper", "us-letter", "--large-print", "--save-ink",
        "--language", "de", "--reader", "teacher", "--next-lesson", "2026-12-14",
    )  # fmt: skip
    assert status == 0, err
    pdf = pypdf.PdfReader(out)
    assert [float(side) for side in pdf.pages[0].mediabox[2:]] == [612.0, 792.0]
    assert len(pdf.pages) > 2
    assert pdf.trailer["/Root"]["/Lang"] == "de"


@pytest.mark.parametrize(
    ("arguments", "status", "say"),
    [
        (("--instrument", "violin"), 2, "say what to write"),
        (("--pdf", "a.pdf"), 2, "name a student of the studio, or an instrument"),
        (("--instrument", "violin", "--pdf", "a.txt"), 2, "must end in .pdf"),
        (("--instrument", "violin", "--pdf", "a.pdf", "--strips", "a.pdf"), 2, "the same file"),
        (("nele", "--size", "1/2", "--pdf", "a.pdf"), 2, "has an instrument already"),
        (("nobody", "--pdf", "a.pdf"), 1, "nobody"),
        (("--instrument", "cello", "--size", "1/16", "--pdf", "a.pdf"), 1, "1/16"),
    ],
)
def test_what_cannot_be_written_gets_one_line(
    with_nele: Run,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    arguments: tuple[str, ...],
    status: int,
    say: str,
) -> None:
    monkeypatch.chdir(tmp_path)
    ended, out, err = with_nele("sheet", *arguments)
    assert (ended, out) == (status, "")
    assert say in err
    assert "Traceback" not in err
    assert not list(tmp_path.glob("a.*"))


def test_strips_are_printed_for_an_instrument_alone(colophony: Run, tmp_path: Path) -> None:
    """A strip a string by default; with a note the open string and the high position side by side."""
    out = tmp_path / "strips.pdf"
    assert colophony("strip", out, "--instrument", "viola", "--size", "3/4")[0] == 0
    text = text_of(out)
    assert all(word in text for word in ("C3", "G3", "D4", "A4", "Viola 3/4"))
    status, _, err = colophony(
        "strip", out, "--string", "A", "--note", "A5", "--beats", "6", "--tempo", "72", "--reader", "child"
    )
    assert status == 0, err
    text = text_of(out)
    assert "A5" in text
    assert "6 beats a bow at 72 beats a minute" in text


@pytest.mark.parametrize(
    ("arguments", "say"),
    [
        (("--beats", "40"), "choose 1 to 16"),
        (("--beats", "0"), "choose 1 to 16"),
        (("--tempo", "900"), "choose 20 to 240"),
        (("--tempo", "0"), "choose 20 to 240"),
        (("--speed-cm-s", "900"), "choose 1 to 200"),
        (("--string", "C"), "no string of a violin"),
        (("--note", "C2"), "no string of a violin plays C2"),
    ],
)
def test_a_strip_that_cannot_be_is_refused_in_one_line(
    colophony: Run, tmp_path: Path, arguments: tuple[str, ...], say: str
) -> None:
    status, out, err = colophony("strip", tmp_path / "strips.pdf", *arguments)
    assert (status, out) == (1, "")
    assert say in err
    assert not (tmp_path / "strips.pdf").exists()
