"""The week's sheet: one or two pages that say and draw all of a plan, for every reader and paper."""

from __future__ import annotations

import datetime
import math
import re
import subprocess
from dataclasses import replace
from pathlib import Path
from shutil import which
from typing import Any

import numpy as np
import pypdf
import pytest
from plan_samples import FIRST_DAY, sample_plan

from colophony.app.look.tokens import INK
from colophony.app.paper.week import asked, make_week_sheet, week_words
from colophony.app.paper.week_picture import picture_words, target_picture
from colophony.app.paper.words import NAME_BY_HAND
from colophony.language import speaking
from colophony.teaching.cautions import caution
from colophony.teaching.exercises.exercise import Remark
from colophony.teaching.exercises.words import rule_words
from colophony.teaching.findings import READERS, Reader
from colophony.teaching.plans import Plan

VIOLIN = ("G", "D", "A", "E")


def sheet(folder: Path, plan: Plan, **more: Any) -> tuple[pypdf.PdfReader, str]:
    out = folder / "week.pdf"
    make_week_sheet(plan, out, **({"student": "Mira"} | more))
    pdf = pypdf.PdfReader(out)
    return pdf, " ".join(" ".join(page.extract_text() for page in pdf.pages).split())


@pytest.mark.parametrize("paper", ["a4", "us-letter"])
@pytest.mark.parametrize(
    ("reader", "instrument", "size"),
    [("child", "violin", "1/8"), ("adult", "viola", "4/4"), ("teacher", "cello", "4/4")],
)
def test_a_week_of_six_exercises_is_said_in_full_on_two_pages(
    tmp_path: Path, reader: Reader, instrument: str, size: str, paper: Any
) -> None:
    """A4 (ISO 216) or US letter (ANSI Y14.1); every exercise with what to do, to listen for, and its rule."""
    plan = sample_plan(instrument, size)
    pdf, text = sheet(tmp_path, plan, reader=reader, paper=paper)
    assert len(pdf.pages) == 2
    side = {"a4": [595.28, 841.89], "us-letter": [612.0, 792.0]}[paper]
    for page in pdf.pages:
        assert [float(one) for one in page.mediabox[2:]] == pytest.approx(side, abs=0.1)
    for item in plan.items:
        exercise = item.exercise
        for said in (
            exercise.title,
            exercise.say.to(reader),
            exercise.listen_for.to(reader),
            rule_words(exercise.pass_rule, reader),
            *(row["words"] for row in asked(item.targets, reader)),
        ):
            assert " ".join(said.split()) in text
    for name in plan.cautions:
        assert caution(name, reader=reader) in text
    assert "Mira" in text


def test_a_short_week_stays_on_one_page(tmp_path: Path) -> None:
    pdf, _ = sheet(tmp_path, sample_plan(items=2), reader="child")
    assert len(pdf.pages) == 1


def test_the_days_are_named_and_marked() -> None:
    """7 December 2026 is a Monday (ISO 8601: 2026-W50-1)."""
    assert FIRST_DAY.isocalendar() == (2026, 50, 1)
    told = week_words(sample_plan(), reader="adult")
    names = [f"{one['name']} {one['day']}" for one in told["weekdays"]]
    assert names == ["Mon 7", "Tue 8", "Wed 9", "Thu 10", "Fri 11", "Sat 12", "Sun 13"]
    assert [k for k, on in enumerate(told["items"][3]["days"], start=1) if on] == [2, 4, 6]
    assert told["items"][2]["rest"] == "then 2 min rest"


def test_the_sheet_is_tagged_and_speaks_the_language_of_the_moment(tmp_path: Path) -> None:
    """ISO 14289-1 (PDF/UA-1): tagged, declared, a title that is shown, the natural language named."""
    with speaking("de"):
        pdf, _ = sheet(tmp_path, sample_plan())
    root: Any = pdf.trailer["/Root"]
    assert root["/MarkInfo"]["/Marked"] == True  # noqa: E712  a PDF boolean
    assert root["/Lang"] == "de"
    assert root["/ViewerPreferences"]["/DisplayDocTitle"] == True  # noqa: E712
    assert "<pdfuaid:part>1</pdfuaid:part>" in root["/Metadata"].get_data().decode()
    assert "Mira" in str(pdf.metadata and pdf.metadata.title)


def test_every_picture_is_described_and_headings_lead(tmp_path: Path) -> None:
    """ISO 14289-1, 7.3 and 7.4: figures carry a text in their place, headings are marked as such."""
    plan = sample_plan()
    pdf, _ = sheet(tmp_path, plan)
    elements = _elements(pdf.trailer["/Root"]["/StructTreeRoot"])  # type: ignore[index]
    described = [str(one["/Alt"]) for one in elements if one.get("/S") == "/Figure" and "/Alt" in one]
    assert set(described) >= {picture_words(item.targets) for item in plan.items}
    kinds = [str(one.get("/S")) for one in elements]
    assert kinds.count("/H2") == len(plan.items)
    assert "/H1" in kinds
    assert "/Table" in kinds


def _elements(node: Any) -> list[Any]:
    """Return every structure element below a node, in reading order."""
    node = node.get_object() if isinstance(node, pypdf.generic.IndirectObject) else node
    if isinstance(node, list):
        return [element for kid in node for element in _elements(kid)]
    if isinstance(node, dict):
        return [node, *_elements(node.get("/K", []))]
    return []


@pytest.mark.parametrize("reader", READERS)
def test_large_print_is_16_points_and_more_throughout(tmp_path: Path, reader: Reader) -> None:
    """Large print begins at 16 points (common practice, no source); read from the page's own operators.

    Letters inside of the drawings grow with them and are left out.
    """
    pdf, _ = sheet(tmp_path, sample_plan(items=3), reader=reader, large_print=True)
    sizes: dict[str, float] = {}

    def visit(text: str, cm: Any, tm: Any, font: Any, size: float) -> None:
        for word in text.split():
            sizes[word] = min(abs(size * tm[3] * cm[3]), sizes.get(word, math.inf))

    for page in pdf.pages:
        page.extract_text(visitor_text=visit)
    assert len(sizes) > 50
    small = [word for word, size in sizes.items() if size < 15.9]
    assert [word for word in small if not re.fullmatch(r"[GDAE]|[\d.m]+", word)] == []


@pytest.mark.skipif(which("pdftoppm") is None, reason="needs poppler's pdftoppm")
def test_saving_ink_saves_ink(tmp_path: Path) -> None:
    """Measured on the rendered pages: at least a fifth less is printed."""
    used = []
    for save_ink in (False, True):
        sheet(tmp_path, sample_plan(), save_ink=save_ink)
        command = ["pdftoppm", "-r", "60", "-gray", "week.pdf", f"page{save_ink}"]
        subprocess.run(command, cwd=tmp_path, check=True, timeout=60)
        used.append(sum(_darkness(path) for path in tmp_path.glob(f"page{save_ink}*.pgm")))
    assert used[1] < 0.8 * used[0]


def _darkness(path: Path) -> float:
    raw = path.read_bytes()
    width, height = (int(word) for word in raw.split(None, 4)[1:3])
    return float(np.sum(255.0 - np.frombuffer(raw[-width * height :], np.uint8)))


def test_the_same_plan_gives_the_same_file(tmp_path: Path) -> None:
    for name in ("a.pdf", "b.pdf"):
        make_week_sheet(sample_plan(items=2), tmp_path / name, student="Mira")
    assert (tmp_path / "a.pdf").read_bytes() == (tmp_path / "b.pdf").read_bytes()


def test_a_name_is_data_and_one_that_cannot_be_printed_is_left_to_be_written(tmp_path: Path) -> None:
    _, text = sheet(tmp_path, sample_plan(items=1), student='#panic("x") <b> $y$')
    assert '#panic("x") <b> $y$' in text
    _, text = sheet(tmp_path, sample_plan(items=1), student="Nefer \U00013124")
    assert ("Nefer" in text) != (NAME_BY_HAND.adult in text)
    _, text = sheet(tmp_path, sample_plan(items=1), student=None, next_lesson=datetime.date(2026, 12, 14))
    assert "Next lesson: 14 December 2026" in text


# --- what is asked


def test_strings_under_one_weight_are_told_together() -> None:
    """Four open strings at one place: the place once, the weights by what a hand knows."""
    item = sample_plan().items[5]
    rows = {row["name"]: row["words"] for row in asked(item.targets, "adult")}
    assert rows["Place"].count("from the bridge") == 1
    assert rows["Weight"].count(":") <= 4
    told = {row["name"]: row["words"] for row in asked(item.targets, "teacher")}
    assert told["Weight"].count("\u00a0N") == 4


def test_the_room_of_several_strings_is_what_all_of_them_have() -> None:
    """Rooms of 10 to 40 mm and 15 to 50 mm share 15 to 40 mm."""
    item = sample_plan().items[4]
    spans = ((10.0, 40.0), (15.0, 50.0))
    targets = [
        replace(target, places=(replace(target.begin, distance_span_mm=span),))
        for target, span in zip(item.targets, spans, strict=True)
    ]
    [place] = [row["words"] for row in asked(targets, "adult") if row["name"] == "Place"]
    assert "from 15 mm to 40 mm" in place.replace("\u00a0", " ").replace("\u00a0", " ")


def test_what_an_instrument_cannot_do_is_said_beside_the_place() -> None:
    item = sample_plan().items[0]
    instead = Remark("closed-point", {"point": 3.0, "chosen": 3.5})
    rows = asked([replace(item.targets[0], instead=(instead,))], "adult")
    assert "3.5 is the nearest that has" in rows[1]["words"]


# --- the drawing


def bow_height(svg: str) -> float:
    """Height of the thick line that is the bow, in drawing units from above."""
    found = re.search(r'd="M32 ([\d.]+)L162 [\d.]+"[^>]*stroke-width="6"', svg)
    assert found is not None
    return float(found.group(1))


def drawn(index: int, instrument: str = "violin") -> str:
    item = sample_plan(instrument).items[index]
    strings = VIOLIN if instrument == "violin" else ("C", "G", "D", "A")
    return target_picture(item.targets, strings, turned=instrument == "cello", theme=INK)


def test_nearer_to_the_bridge_is_lower_for_a_violinist_and_higher_for_a_cellist() -> None:
    """The bowing place as its player sees it: sounding point 4 against the octave's 3, half as far."""
    assert bow_height(drawn(3)) > bow_height(drawn(1))
    assert bow_height(drawn(3, "cello")) < bow_height(drawn(1, "cello"))


def test_an_octave_up_the_bow_is_drawn_half_as_far_from_the_bridge() -> None:
    """The lanes draw together on the shorter string; the bridge lies at 214 units, its edge of the lanes."""
    bridge = 214.0
    assert bridge - bow_height(drawn(3)) == pytest.approx((bridge - bow_height(drawn(0))) / 2, abs=0.2)


def test_a_bow_that_moves_has_two_places_and_one_that_stays_has_one() -> None:
    assert "stroke-dasharray" in drawn(1)
    assert "stroke-dasharray" not in drawn(0)
