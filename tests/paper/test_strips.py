"""Strips to cut out: measured on the page, against lengths from the tables of the trade."""

from __future__ import annotations

import datetime
import math
import subprocess
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from shutil import which
from typing import Any

import numpy as np
import pypdf
import pytest
from measuring import Box, Line, drawn

from colophony.app import bow
from colophony.app.asking import IsStopped, Survey, find_sounding
from colophony.app.kept_maps import KeptMaps
from colophony.app.paper import strip, strip_points
from colophony.app.paper.strip import make_strips
from colophony.app.paper.strip_beats import BeatStrip, find_beats
from colophony.app.paper.strip_points import PointMark, PointStrip, find_strip
from colophony.app.paper.strip_words import BEATS, MEASURE, POINTS
from colophony.app.paper.typeset import Paper
from colophony.app.ranges import points_m
from colophony.errors import InputError
from colophony.language import speaking
from colophony.physics.bowings import START_KINDS, Answers, Bowings
from colophony.physics.regimes import STATES
from colophony.teaching.findings import Reader

DAY = datetime.date(2026, 12, 1)
#: Half of the half per cent that a printed length may be off.
SHARE = 0.0025
#: Sounding lengths in mm: violin and cello as measured (Percival 2013), the half size a table of the trade.
#: A fingerboard of 270 mm on a violin of 325 mm leaves 55 mm to bow; the same share elsewhere (an estimate).
LENGTHS_MM = {("violin", "4/4"): 325.0, ("violin", "1/2"): 287.0, ("cello", "4/4"): 690.0}
LEFT = 55.0 / 325.0
#: Length of hair, mm, from memory.
HAIR_MM = {("violin", "4/4"): 650.0, ("violin", "1/2"): 530.0, ("cello", "4/4"): 600.0}


def strip_of(instrument: str, size: str, string: str = "A", note: str | None = None) -> PointStrip:
    """A strip whose rooms are invented: 3 mm to the bridge's side, 5 mm to the other; point 1 is silent."""
    sounding = find_sounding(bow.Request(instrument=instrument, size=size, string=string, note=note))
    places = points_m(sounding)
    marks = tuple(
        PointMark(k, place, None if k == 1 else 0.5, None if k == 1 else (place - 0.003, place + 0.005))
        for k, place in enumerate(places, start=1)
    )
    return PointStrip(sounding, 20.0, marks, is_computed=True)


def pages_of(
    folder: Path,
    points: list[PointStrip],
    beats: list[BeatStrip],
    *,
    paper: Paper = "a4",
    reader: Reader = "adult",
) -> tuple[pypdf.PdfReader, list[tuple[list[Line], list[Box]]]]:
    out = folder / "strips.pdf"
    make_strips(out, points=points, beats=beats, reader=reader, paper=paper, date=DAY)
    pdf = pypdf.PdfReader(out)
    return pdf, [drawn(page) for page in pdf.pages]


def outlines(boxes: list[Box]) -> list[Box]:
    """The outlines to cut along, from left to right."""
    return sorted((box for box in boxes if not box.filled and box.height > 40), key=lambda box: box.left)


def inside(lines: list[Line], box: Box) -> list[Line]:
    return [
        line for line in lines if box.left - 0.01 <= min(line.x0, line.x1) and line.x1 <= box.right + 0.01
    ]


@pytest.mark.parametrize("paper", ["a4", "us-letter"])
def test_the_check_line_of_every_page_is_100_mm_long(tmp_path: Path, paper: Paper) -> None:
    """What the reader measures is what the text promises."""
    pdf, pages = pages_of(
        tmp_path, [strip_of("violin", "4/4")], [find_beats("violin"), find_beats("violin")], paper=paper
    )
    assert len(pages) == 3
    for page, (lines, _) in zip(pdf.pages, pages, strict=True):
        check = [line for line in lines if line.is_level and line.y0 > 250 and 90 < line.length < 110]
        assert [line.length for line in check] == pytest.approx([100.0], rel=SHARE)
        ends = sorted(
            line.x0 for line in lines if line.is_upright and line.y0 > 250 and 4.9 < line.length < 5.1
        )
        assert ends[1] - ends[0] == pytest.approx(100.0, rel=SHARE)
        assert MEASURE in " ".join(page.extract_text().split())


@pytest.mark.parametrize("factor", ["0.995", "1.005"])
def test_a_page_half_a_per_cent_off_does_not_pass_the_measure(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, factor: str
) -> None:
    """The same page with every length a little off: the measure of these tests sees it."""
    off = tmp_path / "off.typ"
    off.write_text(strip._TEMPLATE.read_text("utf-8").replace("* 1mm", f"* {factor}mm"), "utf-8")
    monkeypatch.setattr(strip, "_TEMPLATE", off)
    _, [(lines, _)] = pages_of(tmp_path, [strip_of("violin", "4/4")], [])
    [check] = [line.length for line in lines if line.is_level and line.y0 > 250 and 90 < line.length < 110]
    assert check != pytest.approx(100.0, rel=SHARE)


@pytest.mark.skipif(which("pdftoppm") is None, reason="needs poppler's pdftoppm")
def test_the_check_line_is_100_mm_on_the_rendered_page_too(tmp_path: Path) -> None:
    """Another program draws the page at 300 dots an inch: 100 mm are 1181.1 dots (25.4 mm an inch)."""
    pages_of(tmp_path, [strip_of("violin", "4/4")], [])
    command = ["pdftoppm", "-r", "300", "-gray", "-singlefile", "strips.pdf", "page"]
    subprocess.run(command, cwd=tmp_path, check=True, timeout=60)
    raw = (tmp_path / "page.pgm").read_bytes()
    width, height = (int(word) for word in raw.split(None, 4)[1:3])
    dots = np.frombuffer(raw[-width * height :], np.uint8).reshape(height, width)
    runs = [_longest_run(row < 160) for row in dots[: height // 10]]
    assert max(runs) == pytest.approx(1181.1, abs=3)


def _longest_run(dark: np.ndarray[Any, Any]) -> int:
    edges = np.flatnonzero(np.diff(np.concatenate([[0], dark.astype(np.int8), [0]])))
    return int((edges[1::2] - edges[::2]).max()) if len(edges) else 0


@pytest.mark.parametrize(("instrument", "size"), LENGTHS_MM)
def test_the_sounding_points_lie_where_the_trade_counts_them(
    tmp_path: Path, instrument: str, size: str
) -> None:
    """Five equal lanes from the bridge to the fingerboard's end (Flesch 1924), each point in its middle."""
    _, [(lines, boxes)] = pages_of(tmp_path, [strip_of(instrument, size)], [])
    [outline] = outlines(boxes)
    bowable = LEFT * LENGTHS_MM[instrument, size]
    ticks = [line for line in inside(lines, outline) if line.is_level and 11 < line.length < 14]
    expected = [(k - 0.5) * bowable / 5 for k in range(1, 6)]
    assert sorted(_from_bridge(line.y0, outline, instrument) for line in ticks) == pytest.approx(
        expected, rel=SHARE
    )
    board = [
        line for line in inside(lines, outline) if line.is_level and line.length > 33 and line.width > 0.3
    ]
    assert [_from_bridge(line.y0, outline, instrument) for line in board] == pytest.approx(
        [bowable], rel=SHARE
    )


def _from_bridge(y: float, outline: Box, instrument: str) -> float:
    """On violin and viola the bridge lies below, on a cello, as its player sees it, above."""
    return outline.top - y if instrument == "cello" else y - outline.bottom


def test_the_bridge_is_drawn_at_the_edge_that_meets_it(tmp_path: Path) -> None:
    for instrument in ("violin", "cello"):
        _, [(_, boxes)] = pages_of(tmp_path, [strip_of(instrument, "4/4")], [])
        [outline] = outlines(boxes)
        [bridge] = [box for box in boxes if box.filled and box.width == pytest.approx(34.0, abs=0.01)]
        edge = bridge.top if instrument == "cello" else bridge.bottom
        assert _from_bridge(edge, outline, instrument) == pytest.approx(0.0, abs=0.01)


def test_wander_rooms_are_as_long_as_they_were_found(tmp_path: Path) -> None:
    """8 mm each here; the fifth ends at the fingerboard."""
    _, [(lines, boxes)] = pages_of(tmp_path, [strip_of("violin", "4/4")], [])
    [outline] = outlines(boxes)
    bars = [line for line in inside(lines, outline) if line.is_upright and line.width > 0.5]
    spans = sorted((min(b.y0, b.y1) - outline.bottom, max(b.y0, b.y1) - outline.bottom) for b in bars)
    middles = (16.5, 27.5, 38.5, 49.5)
    for (nearest, farthest), middle in zip(spans, middles, strict=True):
        assert nearest == pytest.approx(middle - 3.0, abs=0.02)
        assert farthest == pytest.approx(middle + 5.0, abs=0.02)


def test_points_draw_together_in_a_high_position(tmp_path: Path) -> None:
    """An octave up half the string sounds, and every point lies half as far from the bridge."""
    _, [(lines, boxes)] = pages_of(
        tmp_path, [strip_of("violin", "4/4"), strip_of("violin", "4/4", note="A5")], []
    )
    places = []
    for outline in outlines(boxes):
        ticks = [line for line in inside(lines, outline) if line.is_level and 11 < line.length < 14]
        places.append(sorted(line.y0 - outline.bottom for line in ticks))
    assert places[1] == pytest.approx([0.5 * place for place in places[0]], rel=SHARE)


@pytest.mark.parametrize("paper", ["a4", "us-letter"])
@pytest.mark.parametrize(("instrument", "size"), HAIR_MM)
def test_beats_lie_evenly_from_frog_to_tip_over_all_pieces(
    tmp_path: Path, instrument: str, size: str, paper: Paper
) -> None:
    """An even bow: beat k of n begins at (k - 1) / n of the hair; pieces end where the next begins."""
    beats = 6
    _, [(lines, boxes)] = pages_of(
        tmp_path, [], [find_beats(instrument, size, beats=beats, tempo=60.0)], paper=paper
    )
    places, start = [], 0.0
    pieces = outlines(boxes)
    for k, outline in enumerate(pieces):
        lines_here = [line for line in inside(lines, outline) if line.is_level]
        places += [
            start + line.y0 - outline.bottom
            for line in lines_here
            if line.length > 19 and line.width > 0.25  # the joint's own line is thinner
        ]
        is_last = k == len(pieces) - 1
        tab = 0.0 if is_last else outline.top - max(ln.y0 for ln in lines_here if ln.length > 19)
        assert tab == pytest.approx(0.0 if is_last else 12.0, abs=0.05)
        start += outline.height - tab
    hair = HAIR_MM[instrument, size]
    assert start == pytest.approx(hair, rel=SHARE)
    expected = [hair * k / beats for k in range(beats + 1)]
    for mark in expected:
        assert min(abs(place - mark) for place in places) < max(SHARE * mark, 0.02)
    assert all(min(abs(place - mark) for mark in expected) < max(SHARE * place, 0.02) for place in places)


@pytest.mark.parametrize("paper", ["a4", "us-letter"])
def test_what_is_cut_out_stays_on_the_page(tmp_path: Path, paper: Paper) -> None:
    """Printers leave some 6 mm at the edges blank (common practice, no source)."""
    pdf, pages = pages_of(
        tmp_path,
        [strip_of("cello", "4/4", string) for string in "CGDA"],
        [find_beats("cello"), find_beats("violin", beats=16)],
        paper=paper,
    )
    assert len(pages) == 3
    for page, (lines, boxes) in zip(pdf.pages, pages, strict=True):
        right, top = (float(side) * 25.4 / 72 for side in page.mediabox[2:])
        for box in outlines(boxes):
            assert box.left > 6
            assert box.bottom > 6
            assert box.right < right - 6
            assert box.top < top - 6
        assert all(line.x1 < right - 6 and min(line.y0, line.y1) > 6 for line in lines)


@pytest.mark.parametrize("reader", ["child", "adult", "teacher"])
def test_the_pages_say_how_strips_are_held_and_what_harms_varnish(tmp_path: Path, reader: Reader) -> None:
    """Nothing is stuck to varnish (common practice, no source)."""
    pdf, _ = pages_of(tmp_path, [strip_of("viola", "4/4")], [find_beats("viola")], reader=reader)
    for page, words in zip(pdf.pages, (POINTS, BEATS), strict=True):
        text = " ".join(page.extract_text().split())
        for key in ("title", "cut", "lay", "read", "care"):
            assert words[key].to(reader) in text


def test_strips_are_tagged_and_described(tmp_path: Path) -> None:
    """ISO 14289-1 (PDF/UA-1): tagged, declared, with the language, and figures with a text in their place."""
    with speaking("de"):
        pdf, _ = pages_of(tmp_path, [strip_of("violin", "4/4")], [find_beats("violin")])
    root = pdf.trailer["/Root"]
    assert root["/MarkInfo"]["/Marked"] == True  # noqa: E712  a PDF boolean
    assert root["/Lang"] == "de"
    assert "<pdfuaid:part>1</pdfuaid:part>" in root["/Metadata"].get_data().decode()


@pytest.mark.parametrize(
    ("give", "say"),
    [
        (lambda: find_beats("violin", beats=0), "0 beats a bow are out of range: choose 1 to 16"),
        (lambda: find_beats("violin", tempo=10.0), "tempo of 10 is out of range: choose 20 to 240"),
        (lambda: find_beats("violin", "5/4"), "no violin size"),
        (lambda: find_strip(bow.Request(), speed_cm_s=0.5), "choose 1 to 200 cm/s"),
        (lambda: find_strip(bow.Request(), weight_n=50.0), "choose 0.02 to 20 N"),
        (lambda: find_strip(bow.Request(string="C")), "no string of a violin"),
        (lambda: make_strips(Path("x.pdf"), date=DAY), "no strip to print"),
        (
            lambda: make_strips(Path("x.pdf"), points=[strip_of("violin", "4/4")] * 5, date=DAY),
            "5 strips do not fit on one page",
        ),
        (
            lambda: make_strips(
                Path("x.pdf"), points=[strip_of("violin", "4/4"), strip_of("cello", "4/4")], date=DAY
            ),
            "for one instrument",
        ),
    ],
)
def test_what_cannot_be_printed_gets_one_line(give: Any, say: str) -> None:
    with pytest.raises(InputError, match=say):
        give()


# --- rooms

#: Of a plane whose limits are known: least weight a / beta^2, greatest c v / beta.
A_N, C_KG_S = 1.0e-3, 0.75


@pytest.fixture
def plane(monkeypatch: pytest.MonkeyPatch) -> list[int]:
    """Stands in for the engine; counts how often it is lent."""
    lent = []

    @contextmanager
    def asking(survey: Survey, *, is_stopped: IsStopped | None = None) -> Iterator[Any]:
        lent.append(1)
        length = survey.sounding.length_m

        def ask(bowings: Bowings) -> Answers:
            weight = np.asarray(bowings.weight_n, dtype=float)
            beta = np.asarray(bowings.distance_m, dtype=float) / length
            clean = (weight >= A_N / beta**2) & (weight <= C_KG_S * np.asarray(bowings.speed_m_s) / beta)
            state = np.where(clean, STATES.index("helmholtz"), STATES.index("raucous"))
            nothing = np.full(len(weight), np.nan, np.float32)
            kind = np.full(len(weight), START_KINDS.index("clean"), np.int8)
            still = np.zeros(len(weight), np.float32)
            return Answers(
                state.astype(np.int8), beta.astype(np.float32), *([nothing] * 4), still, nothing, kind
            )

        yield ask

    monkeypatch.setattr(strip_points, "asking", asking)
    return lent


def test_rooms_are_those_of_the_string_at_one_weight(plane: list[int]) -> None:
    """At a weight w the tone holds from sqrt(a / w) to c v / w of the length."""
    found = find_strip(bow.Request(string="A"), speed_cm_s=20.0, weight_n=0.9)
    nearest, farthest = 325.0 * math.sqrt(A_N / 0.9), 325.0 * C_KG_S * 0.2 / 0.9
    for mark in found.marks:
        place = 1000.0 * mark.distance_m
        if not nearest < place < farthest:
            assert mark.room_m is None
        else:
            assert mark.room_m is not None
            assert 1000.0 * mark.room_m[0] == pytest.approx(nearest, rel=0.05)
            assert 1000.0 * mark.room_m[1] == pytest.approx(farthest, rel=0.05)
    assert [mark.room_m is not None for mark in found.marks] == [False, True, True, True, True]


def test_each_point_has_its_own_weight_where_none_is_given(plane: list[int]) -> None:
    """The middle, in ratio, of the weights that speak there: sqrt(a / beta^2 * c v / beta)."""
    found = find_strip(bow.Request(string="A"), speed_cm_s=20.0)
    for mark in found.marks[1:]:
        beta = mark.distance_m / 0.325
        assert mark.weight_n == pytest.approx(math.sqrt(A_N / beta**2 * C_KG_S * 0.2 / beta), rel=0.05)


def test_rooms_are_computed_once_and_kept(plane: list[int], tmp_path: Path) -> None:
    kept = KeptMaps(tmp_path)
    first = find_strip(bow.Request(string="A"), kept=kept)
    again = find_strip(bow.Request(string="A"), kept=kept)
    assert first.marks == again.marks
    assert len(plane) == 1


def test_published_limits_stand_in_where_the_engine_refuses(monkeypatch: pytest.MonkeyPatch) -> None:
    """Schoonderwaldt, Guettler and Askenfelt (2008): the greatest weight falls as 1 / distance."""

    def refuse(*_: object) -> Any:
        raise InputError("too short a string")

    monkeypatch.setattr(strip_points, "_ask", refuse)
    found = find_strip(bow.Request(string="D"))
    assert not found.is_computed
    for mark in found.marks[1:]:
        assert mark.room_m is not None
        assert mark.room_m[0] < mark.distance_m < mark.room_m[1]


def test_the_engines_rooms_hold_their_points() -> None:
    """A real string: near the bridge heavier, every room holds its point, and wider rooms lie farther out."""
    found = find_strip(bow.Request(string="A"))
    spoken = [mark for mark in found.marks if mark.room_m is not None]
    assert len(spoken) >= 4
    assert all(m.room_m and m.room_m[0] < m.distance_m < m.room_m[1] for m in spoken)
    weights = [mark.weight_n or 0.0 for mark in spoken]
    assert weights == sorted(weights, reverse=True)
