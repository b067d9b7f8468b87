"""``colophony range`` and ``colophony starts`` keep the contract; what answers is a plane of known limits."""

from __future__ import annotations

import csv
import io
import json
import re
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any
from xml.etree import ElementTree

import jsonschema
import numpy as np
import pytest
from map_answers import A_N, C_KG_S, GREATEST_M_S2_N, LEAST_M_S2_N, Plane

from colophony.app import ranges as range_case
from colophony.app import starts as start_case
from colophony.app.asking import STROKES_AT_ONCE
from colophony.app.cli import map_options
from colophony.app.cli.progress import time_left
from colophony.app.ranges import Request, find_ranges

Run = Callable[..., tuple[int, str, str]]
DOCS = Path(__file__).parents[2] / "docs"
SVG = "{http://www.w3.org/2000/svg}"
SMALL = ("--distances", 8, "--weights", 16)
DIRECT = ("--string", "D", "--speed-cm-s", 10, *SMALL)


@pytest.fixture
def plane(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> Plane:
    stand_in = Plane()
    monkeypatch.setattr(range_case, "asking", stand_in.asking)
    monkeypatch.setattr(start_case, "asking", stand_in.asking)
    monkeypatch.setenv("COLOPHONY_CACHE", str(tmp_path / "cache"))
    return stand_in


def strict_json(text: str, name: str) -> Any:
    def refuse(word: str) -> None:
        raise AssertionError(f"{word} is no JSON (RFC 8259, section 6)")

    value = json.loads(text, parse_constant=refuse)
    schema = json.loads((DOCS / f"{name}.schema.json").read_text(encoding="utf-8"))
    jsonschema.validate(value, schema, cls=jsonschema.Draft202012Validator)
    return value


def test_the_map_finds_the_limits_that_are_there(colophony: Run, plane: Plane) -> None:
    """Least a / beta^2 and greatest c v / beta come back within 3 %; every cell holds what was answered."""
    status, out, err = colophony("range", "--json", *DIRECT)
    answer = strict_json(out, "range")
    assert (status, err) == (0, "")
    length = plane.surveys[0].sounding.length_m
    assert np.shape(answer["state"]) == np.shape(answer["probability"]) == (8, 16)
    for row, limit in zip(answer["state"], answer["limits"], strict=True):
        beta = limit["simulated_distance_mm"] / 1000.0 / length
        least, greatest = A_N / beta**2, C_KG_S * 0.1 / beta
        assert limit["weight_min_n"] == pytest.approx(least, rel=0.03)
        assert limit["weight_max_n"] == pytest.approx(greatest, rel=0.03)
        assert limit["range_db"] == pytest.approx(20 * np.log10(greatest / least), abs=0.4)
        for weight, state in zip(answer["weight_n"], row, strict=True):
            assert (state == "helmholtz") == (least < weight < greatest)
    assert answer["runs"] <= plane.strokes
    assert (answer["finished"], answer["kept"], answer["target"]) == (True, False, "cpu")


def test_the_room_of_each_sounding_point_is_that_of_the_plane(colophony: Run, plane: Plane) -> None:
    """At a weight F and speed v one slip a period lives from sqrt(a / F) to c v / F of the length."""
    answer = strict_json(colophony("range", "--json", *DIRECT)[1], "range")
    length = plane.surveys[0].sounding.length_m
    points = answer["sounding_points"]
    assert [point["point"] for point in points] == [1, 2, 3, 4, 5]
    for point in points[1:]:
        weight = point["weight_n"]
        nearest = 1000 * length * (A_N / weight) ** 0.5
        assert point["nearest_mm"] == pytest.approx(nearest, rel=0.06)
        assert point["speed_min_cm_s"] == pytest.approx(
            100 * weight * point["distance_mm"] / 1000 / length / C_KG_S, rel=0.06
        )


def test_several_speeds_are_a_list(colophony: Run, plane: Plane) -> None:
    """One object a speed, the slowest first; a faster bow bears more weight in proportion."""
    _, out, _ = colophony("range", "--json", "--speed-cm-s", 20, "--speed-cm-s", 5, *SMALL)
    maps = strict_json(out, "range")
    assert [one["parameters"]["speed_cm_s"] for one in maps] == [5, 20]
    greatest = [one["limits"][-1]["weight_max_n"] for one in maps]
    assert greatest[1] / greatest[0] == pytest.approx(4.0, rel=0.06)


def test_a_kept_map_is_not_asked_again(colophony: Run, plane: Plane) -> None:
    """The second answer is the first, marked as kept; --anew asks, and so does any other content."""
    first = strict_json(colophony("range", "--json", *DIRECT)[1], "range")
    asked = plane.strokes
    second = strict_json(colophony("range", "--json", *DIRECT, "--threads", 1)[1], "range")
    assert plane.strokes == asked
    assert second == first | {"kept": True}
    colophony("range", "--json", *DIRECT, "--anew")
    assert plane.strokes == 2 * asked
    for change in (("--tilt-deg", 10), ("--gauge", "heavy"), ("--a4", 442), ("--periods", 60)):
        before = plane.strokes
        colophony("range", "--json", *DIRECT, *change)
        assert plane.strokes > before, change


def test_a_stopped_map_shows_what_is_finished(
    colophony: Run, plane: Plane, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Ctrl-C in the middle: valid JSON, table and picture of the finished cells, null elsewhere, status 130.

    Nothing unfinished is kept: the next call asks.
    """
    monkeypatch.setitem(STROKES_AT_ONCE, "cpu", 32)
    plane.stop_after = 70
    table, drawn = tmp_path / "a.csv", tmp_path / "a.svg"
    status, out, err = colophony("range", "--json", *DIRECT, "--csv", table, "--picture", drawn)
    answer = strict_json(out, "range")
    cells = [cell for row in answer["state"] for cell in row]
    assert status == map_options.STOPPED
    assert answer["finished"] is False
    assert sum(cell is not None for cell in cells) == 64
    assert "64 of 128 cells" in err
    assert sum(row["state"] != "" for row in csv.DictReader(table.open(encoding="utf-8"))) == 64
    ElementTree.parse(drawn)
    plane.stop_after = None
    assert strict_json(colophony("range", "--json", *DIRECT)[1], "range")["kept"] is False


def test_a_map_stopped_before_its_first_cell_leaves_nothing(
    colophony: Run, plane: Plane, tmp_path: Path
) -> None:
    """One line on standard error, no file, the exit status of an interruption."""
    plane.stop_after = 0
    for command in ("range", "starts"):
        status, out, err = colophony(command, "--json", "--picture", tmp_path / "a.svg")
        assert (status, out, err.strip().count("\n")) == (130, "", 0)
        assert not (tmp_path / "a.svg").exists()


def test_a_stopped_text_says_so(colophony: Run, plane: Plane, monkeypatch: pytest.MonkeyPatch) -> None:
    """A sentence is there all the same, for the middle may be missing."""
    monkeypatch.setitem(STROKES_AT_ONCE, "cpu", 32)
    plane.stop_after = 40  # in each of both
    for command in (("range", *DIRECT), ("starts", "--string", "D", "--weights", 6, "--accelerations", 12)):
        plane.strokes = 0
        status, out, err = colophony(*command)
        assert status == map_options.STOPPED
        assert "Stopped early" in " ".join(out.split())
        assert "stopped; 32 of" in err


def test_the_text_opens_with_the_room_in_the_middle(colophony: Run, plane: Plane) -> None:
    """A sentence, the setting, a row for each sounding point, a weight that a hand knows, a caution."""
    status, out, _ = colophony("range", *DIRECT, "--reader", "adult")
    told = " ".join(out.split())
    assert status == 0
    assert told.startswith("At 10 cm/s")
    for words in ("Violin 4/4, D string, open D4.", "two sheets of paper", "Stop when anything hurts"):
        assert words in told
    assert re.findall(r"^ +([1-5]) {2,}\d", out, re.MULTILINE) == ["1", "2", "3", "4", "5"]


def test_sounding_points_draw_together_where_a_finger_shortens_the_string(
    colophony: Run, plane: Plane
) -> None:
    """An octave halves the string, and with it every sounding point's distance (common practice, no source:
    the points are shares of the sounding length)."""
    _, out, _ = colophony("range", *DIRECT, "--note", "D5")
    assert "With D5 stopped, 50 % of the string sounds" in " ".join(out.split())
    answer = strict_json(colophony("range", "--json", *DIRECT, "--note", "D5")[1], "range")
    for point in answer["sounding_points"]:
        assert point["distance_mm"] == pytest.approx(point["open_string_mm"] / 2, abs=0.02)


def test_every_cell_is_a_row_of_the_table(colophony: Run, plane: Plane, tmp_path: Path) -> None:
    """As many rows as cells, numbers that read back (RFC 4180)."""
    path = tmp_path / "a.csv"
    status, out, _ = colophony("range", "--json", *DIRECT, "--csv", path)
    rows = list(csv.DictReader(io.StringIO(path.read_text(encoding="utf-8"))))
    answer = strict_json(out, "range")
    assert status == 0
    assert len(rows) == 8 * 16
    assert [row["state"] for row in rows] == [state for line in answer["state"] for state in line]
    assert {float(row["speed_cm_s"]) for row in rows} == {10.0}
    assert float(rows[-1]["weight_n"]) == pytest.approx(answer["weight_n"][-1], rel=1e-3)


@pytest.mark.parametrize("command", ["range", "starts"])
def test_the_picture_is_small_and_tells_itself_in_words(
    colophony: Run, plane: Plane, tmp_path: Path, command: str
) -> None:
    """One SVG with title and description; sign and word of every kind; below 60 kB without its typefaces."""
    path = tmp_path / "a.svg"
    status, _, err = colophony(command, "--string", "D", "--picture", path)
    text = path.read_text(encoding="utf-8")
    root = ElementTree.fromstring(text)
    assert status == 0
    assert "picture: " in err
    assert root.find(f"{SVG}title") is not None
    assert len(root.findtext(f"{SVG}desc") or "") > 60
    words = {text.text for text in root.iter(f"{SVG}text")}
    expected = {"clear", "surface", "pressed"} if command == "range" else {"clean", "creaking", "slipping"}
    assert expected <= words
    assert len(text) - len(root.findtext(f"{SVG}style") or "") < 60_000
    assert "http" not in text.replace("http://www.w3.org/2000/svg", "")


def test_a_picture_may_be_a_png(colophony: Run, plane: Plane, tmp_path: Path) -> None:
    """2000 pixels wide (PNG, ISO/IEC 15948: signature, then width in the header), and not empty."""
    pytest.importorskip("typst")
    path = tmp_path / "a.png"
    status, _, _ = colophony("range", *DIRECT, "--picture", path)
    data = path.read_bytes()
    assert status == 0
    assert data[:8] == b"\x89PNG\r\n\x1a\n"
    assert int.from_bytes(data[16:20]) == 2000
    assert len(data) > 20_000


def test_starts_find_the_window_that_is_there(colophony: Run, plane: Plane) -> None:
    """Clean between two accelerations in proportion to the weight: found within 4 %."""
    arguments = ("--json", "--string", "D", "--weights", 6, "--accelerations", 24)
    status, out, err = colophony("starts", *arguments)
    answer = strict_json(out, "starts")
    assert (status, err) == (0, "")
    assert np.shape(answer["kind"]) == (6, 24)
    inside = 0
    for window in answer["windows"]:
        least, greatest = (rate * window["weight_n"] for rate in (LEAST_M_S2_N, GREATEST_M_S2_N))
        clean = window["clean"]
        if not (clean["least_is_open"] or clean["greatest_is_open"]):
            inside += 1
            assert clean["least_m_s2"] == pytest.approx(least, rel=0.04)
            assert clean["greatest_m_s2"] == pytest.approx(greatest, rel=0.04)
    assert inside >= 4
    asked = plane.strokes
    assert strict_json(colophony("starts", *arguments)[1], "starts") == answer | {"kept": True}
    assert plane.strokes == asked


def test_the_text_of_starts_says_how_quickly_to_set_out(colophony: Run, plane: Plane, tmp_path: Path) -> None:
    """Accelerations also as the time to 20 cm/s: t = v / a; a table of every start."""
    path = tmp_path / "a.csv"
    status, out, _ = colophony("starts", "--string", "D", "--weights", 6, "--csv", path)
    assert status == 0
    assert "20 cm/s within" in " ".join(out.replace("\u00a0", " ").split())
    assert start_case.reached_ms(2.0) == pytest.approx(100.0)
    rows = list(csv.DictReader(path.open(encoding="utf-8")))
    assert len(rows) == 6 * 48
    assert {row["kind"] for row in rows} == {"clean", "creaking", "slipping"}


@pytest.mark.parametrize(
    ("arguments", "limit"),
    [
        (("range", "--distances", "1"), "2 to 1000"),
        (("range", "--weights", "3"), "4 to 1000"),
        (("range", "--periods", "5"), "20 to 2000"),
        (("range", "--repeats", "-1"), "0 to 100"),
        (("range", "--threads", "0"), "1 to 1024"),
        (("range", "--speed-cm-s", "0"), "0.5 to 300 cm/s"),
        (("range", "--speed-cm-s", "nan"), "0.5 to 300 cm/s"),
        (("range", "--speed-cm-s", "5", "--speed-cm-s", "5"), "leave one out"),
        (("range", "--tilt-deg", "90"), "0 to 60 degrees"),
        (("range", "--a4", "4400"), "380 to 480 Hz"),
        (("range", "--string", "C"), "G, D, A, E"),
        (("range", "--string", "A", "--note", "G3"), "A4 to E6"),
        (("range", "--instrument", "cello", "--size", "1/16"), "4/4"),
        (("starts", "--distance-mm", "0"), "2 to 162 mm"),
        (("starts", "--accelerations", "2"), "4 to 1000"),
        (("starts", "--note", "C9"), "another note"),
    ],
)
def test_a_bad_value_is_one_line_with_its_limit(
    colophony: Run, plane: Plane, tmp_path: Path, arguments: tuple[str, ...], limit: str
) -> None:
    """Status 1, nothing on standard output, nothing written, nothing asked; the line says what is allowed."""
    status, out, err = colophony(*arguments, "--csv", tmp_path / "a.csv")
    assert (status, out, err.count("\n")) == (1, "", 1)
    assert limit in err
    assert not list(tmp_path.iterdir())
    assert plane.strokes == 0


@pytest.mark.parametrize(
    "arguments",
    [
        ("range", "--instrument", "guitar"),
        ("range", "--target", "gpu"),
        ("range", "--picture", "out.pdf"),
        ("range", "--csv", "out.txt"),
        ("range", "--distances", "many"),
        ("starts", "--speed-cm-s", "20"),
    ],
)
def test_wrong_usage_is_status_2(colophony: Run, plane: Plane, arguments: tuple[str, ...]) -> None:
    """Usage is told apart from bad input."""
    status, out, err = colophony(*arguments)
    assert (status, out) == (2, "")
    assert "Error:" in err


def test_a_small_map_of_the_real_string_has_room_in_the_middle() -> None:
    """An open violin D at 10 cm/s sings at the middle sounding point under an egg's weight (0.6 N).

    Between the least and greatest weight that Schoonderwaldt, Guettler and Askenfelt (2008) measured there.
    """
    request = Request(string="D", speeds_cm_s=(10.0,), distances=6, weights=10, periods=30)
    seen: list[tuple[int, int]] = []
    ranges = find_ranges(request, table=False, progress=lambda done, expected: seen.append((done, expected)))
    least, greatest = ranges.maps[0].steady.ranges.limits_at(0.0275)
    assert least < 0.6 < greatest
    assert ranges.maps[0].points == ()
    assert seen[-1][0] == seen[-1][1] == ranges.runs


def test_a_time_is_said_as_a_person_says_it() -> None:
    """Seconds, minutes, hours; never nothing."""
    assert [time_left(t) for t in (0.0, 12.3, 150.0, 7300.0)] == ["1 s", "12 s", "2 min", "2 h"]


def test_help_of_the_maps_does_not_load_the_engine() -> None:
    """Help must come at once: the numbers behind a map are loaded when one is asked."""
    import subprocess

    code = (
        "import colophony.app.cli, sys; print([m for m in sys.modules if m in ('numba', 'numpy', 'typst')])"
    )
    out = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert out.stdout.strip() == "[]"
