"""``colophony score`` keeps the contract: sentence and table, JSON by its schema, files, lines for faults."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any
from xml.etree import ElementTree as ET

import jsonschema
import pytest
import score_pieces as pieces

from colophony.app.kept_maps import KeptMaps
from colophony.app.score import rooms
from colophony.app.score.opening import read_score
from colophony.app.score.plan import plan_score
from colophony.app.score.values import Request
from colophony.errors import InputError
from colophony.physics.instruments import find_instrument
from colophony.physics.maps import closed_form_ranges, contact_distances_m
from colophony.teaching.room import weight_range_n
from colophony.teaching.sounding_points import point_to_m

pytest.importorskip("music21")

Run = Callable[..., tuple[int, str, str]]
SCHEMA = Path(__file__).parents[2] / "docs/score.schema.json"


@pytest.fixture
def study(tmp_path: Path) -> Path:
    path = tmp_path / "study.musicxml"
    path.write_bytes(pieces.study())
    return path


def long_slur(quarters: float = 16.0) -> bytes:
    """A slur of four whole notes: 16 seconds at 60, which no bow lasts at mezzo-forte."""
    bars = [pieces.note("A4", 4, slur=["start"]), pieces.note("B4", 4), pieces.note("C5", 4)]
    return pieces.simple(*bars, pieces.note("D5", 4, slur=["stop"]))


def answer(run: Run, *arguments: object) -> dict[str, Any]:
    status, out, err = run("score", "--json", "--published", *arguments)
    assert (status, err) == (0, "")
    told: dict[str, Any] = json.loads(out)
    schema = json.loads(SCHEMA.read_text(encoding="utf-8"))
    jsonschema.validate(told, schema, cls=jsonschema.Draft202012Validator)
    return told


def test_json_keeps_its_schema_and_contract(colophony: Run, study: Path) -> None:
    """The keys of the contract are there; every stroke of the study, in the order played."""
    told = answer(colophony, study)
    contract = (
        "measure beat direction notes seconds hair_used_mm speed_cm_s start_at_mm end_at_mm sounding_point "
        "weight_n range_db warnings"
    )
    for stroke in told["strokes"]:
        assert set(contract.split()) <= set(stroke)
    measures = [int(stroke["measure"]) for stroke in told["strokes"]]
    assert measures == [0, 1, 1, 2, 3, 3, 4, 4, 4, 4, 1, 1, 2, 3, 3, 5, 5, 5, 6, 6, 7]
    assert told["part"] == "Violin"
    assert told["parameters"] == {
        "instrument": "violin",
        "size": "4/4",
        "bow_mm": 650.0,
        "tempo": 72.0,
        "tempo_is_given": True,
        "a4_hz": 440.0,
    }
    directions = [stroke["direction"] for stroke in told["strokes"]]
    assert directions[:2] == ["up", "down"], "the pickup goes up"
    assert directions[-1] == "up", "as written"
    assert [stroke["rule"] for stroke in told["strokes"][-3:]] == ["plucked", "plucked", "written"]


def test_what_is_asked_for_is_used(colophony: Run, study: Path) -> None:
    """Bow, tempo, instrument and size stand in the answer, and change the plan."""
    asked = ("--bow-mm", 400, "--tempo", 36, "--instrument", "viola", "--size", "1/2", "--a4", 442)
    told = answer(colophony, study, *asked)
    assert told["parameters"] == {
        "instrument": "viola",
        "size": "1/2",
        "bow_mm": 400.0,
        "tempo": 36.0,
        "tempo_is_given": True,
        "a4_hz": 442.0,
    }
    plain = answer(colophony, study)
    assert told["strokes"][0]["seconds"] == pytest.approx(2 * plain["strokes"][0]["seconds"], rel=0.002)
    assert max(stroke["end_at_mm"] or 0 for stroke in told["strokes"]) <= 400


def test_text_says_first_where_the_bow_runs_out(colophony: Run, tmp_path: Path) -> None:
    """A sentence, what to do, then a row a stroke."""
    path = tmp_path / "long.musicxml"
    path.write_bytes(long_slur())
    status, out, _err = colophony("score", "--published", path)
    lines = out.splitlines()
    assert status == 0
    assert lines[0] == "In the only stroke the bow runs out."
    assert "! Measure 1: the bow runs out." in out
    assert "- Split the slur after A4 (1 of 4), B4 (2 of 4), C5 (3 of 4)." in out
    assert "|----------->|" in out
    assert "Stop on pain" in out


def test_a_tempo_that_is_given_takes_the_place_of_what_the_page_lacks(colophony: Run, tmp_path: Path) -> None:
    """Then no other figure is told; a later word keeps its ratio to the first: 44 is 66 times 56 over 84."""
    piece = tmp_path / "piece.musicxml"
    bar = pieces.note("D4", 4)
    for first, later, told in (
        ("", "", []),
        (pieces.words("Allegro"), "", []),
        (pieces.tempo(84), pieces.words("Adagio"), ["“Adagio” is taken as 44"]),
    ):
        part = pieces.part_xml([first + bar, later + bar], metre="4/4")
        piece.write_text(pieces.score_xml(part), encoding="utf-8")
        status, out, _err = colophony("score", "--published", "--tempo", "66", piece)
        assert status == 0
        notes = [line.removeprefix("Note: ") for line in out.splitlines() if line.startswith("Note:")]
        assert [note[: len(says)] for note, says in zip(notes, told, strict=True)] == told


def test_a_swell_that_comes_back_is_told_with_its_turn_on_80_columns(colophony: Run, tmp_path: Path) -> None:
    """From slow over fast to slow, and no column is lost for it."""
    piece = tmp_path / "swell.musicxml"
    pins = (
        pieces.wedge("crescendo"),
        pieces.wedge("stop") + pieces.wedge("diminuendo"),
        pieces.wedge("stop"),
    )
    tied = pieces.note("D4", 2, tie=["start"]), pieces.note("D4", 2, tie=["stop"])
    piece.write_bytes(
        pieces.simple(
            pieces.dynamic("p") + pins[0] + tied[0] + pins[1] + tied[1] + pins[2], pieces.note("E4", 4)
        )
    )
    status, out, _err = colophony("score", "--published", piece)
    assert status == 0
    lines = out.splitlines()
    row = next(k for k, line in enumerate(lines) if " down " in line)
    assert "D4" in lines[row]
    slow, fast = next(cell for cell in lines[row].split("|")[-1].split() if "-" in cell).split("-")
    assert int(slow) < int(fast)
    assert lines[row + 1].split()[0] == f"-{slow}"


def test_the_annotated_score_is_a_score_again(colophony: Run, study: Path, tmp_path: Path) -> None:
    """It is read back with a sign over every bowed stroke of the first time through, as planned."""
    out = tmp_path / "annotated.musicxml"
    first = answer(colophony, study)["strokes"]
    status, _out, err = colophony("score", "--published", study, "--annotated", out)
    assert (status, err) == (0, f"score: {out}\n")
    again = answer(colophony, out)["strokes"]
    for before, after in zip(first, again, strict=True):
        if before["direction"] and before["time_through"] == 1:
            assert after["given"]
            assert after["direction"] == before["direction"]


def test_the_picture_is_a_drawing(colophony: Run, study: Path, tmp_path: Path) -> None:
    """SVG, whole and well-formed."""
    out = tmp_path / "page.svg"
    status, _out, err = colophony("score", "--published", study, "--picture", out)
    assert (status, err) == (0, f"picture: {out}\n")
    assert ET.parse(out).getroot().tag.endswith("svg")


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        (("--part", "Oboe"), "there is no part 'Oboe'; the parts are: 1 Violin"),
        (("--bow-mm", "50"), "a bow of 50 mm of hair is out of range: give 200 to 800"),
        (("--tempo", "1000"), "a tempo of 1000 is out of range: give 20 to 400 quarter notes a minute"),
        (("--size", "1/16", "--instrument", "cello"), "'1/16' is no cello size"),
        (("--a4", "100"), "a tuning of 100 Hz is out of range"),
    ],
)
def test_a_fault_is_one_line(colophony: Run, study: Path, arguments: tuple[str, ...], says: str) -> None:
    """Exit status 1, what and which limit, nothing on standard output."""
    status, out, err = colophony("score", "--published", study, *arguments)
    assert (status, out) == (1, "")
    assert err.startswith("colophony: ")
    assert says in err
    assert err.count("\n") == 1


def test_a_file_that_is_not_there_or_no_score_is_told(colophony: Run, tmp_path: Path) -> None:
    """One line each."""
    assert colophony("score", tmp_path / "none.xml")[2] == (
        f"colophony: {tmp_path / 'none.xml'}: there is no such file\n"
    )
    assert "is a folder" in colophony("score", tmp_path)[2]
    (tmp_path / "x.mxl").write_bytes(b"PK\x03\x04nothing")
    assert "is damaged" in colophony("score", tmp_path / "x.mxl")[2]


def test_the_piece_itself_is_not_written_over(colophony: Run, study: Path) -> None:
    """Nothing is lost by a slip of the hand."""
    before = study.read_bytes()
    status, _out, _err = colophony("score", "--published", study, "--annotated", study)
    assert status == 1
    assert study.read_bytes() == before


def test_a_part_on_another_instrument_is_refused_or_named() -> None:
    """No note of a low part lies on a violin: one line. One that partly does is planned, the rest named."""
    low = read_score(pieces.simple(pieces.note("C2", 4)), name="low")
    with pytest.raises(InputError, match="no note of Violin lies on a violin"):
        plan_score(low, Request(), computed=False)
    mixed = read_score(pieces.simple(pieces.note("C2", 2) + pieces.note("A4", 2)), name="mixed")
    planned = plan_score(mixed, Request(), computed=False)
    assert [remark.name for stroke in planned.plan.strokes for remark in stroke.remarks] == ["reach"]


# --- rooms: what stands in for the engine is the published law, of which every answer is known


@pytest.fixture
def mapped(monkeypatch: pytest.MonkeyPatch) -> list[tuple[str, int]]:
    """Maps that are the published limits themselves; returns the list of those that were asked for."""
    asked: list[tuple[str, int]] = []

    def ranges(instrument: Any, string: Any, steps: int, kept: Any) -> tuple[Any, ...]:
        asked.append((string.name, steps))
        near = string.open_frequency_hz * 2.0 ** (steps / 12.0)
        return tuple(
            closed_form_ranges(
                string,
                speed_m_s=speed,
                distances_m=contact_distances_m(string, frequency_hz=near, count=8),
                frequency_hz=near,
            )
            for speed in rooms.SPEEDS_M_S
        )

    monkeypatch.setattr(rooms, "_ranges", ranges)
    return asked


def test_rooms_between_the_mapped_notes_and_speeds_follow_the_law(mapped: list[tuple[str, int]]) -> None:
    """Where the maps are c v / beta and a / beta^2, so is every answer between them, within 2 %."""
    violin = find_instrument("violin")
    ask = rooms.asking_rooms(violin)
    string = violin.string("A")
    for semitones in (0, 2, 5, 9):
        frequency = string.open_frequency_hz * 2.0 ** (semitones / 12.0)
        distance = point_to_m(3, string, frequency_hz=frequency)
        for speed in (0.05, 0.17, 0.4):
            beta = distance / string.stopped_length_m(frequency)
            found = ask(string, frequency, distance, speed)
            assert found.is_computed
            assert found.computed_n == pytest.approx(
                weight_range_n(string, beta=beta, speed_m_s=speed), rel=0.02
            )
    assert sorted(set(mapped)) == [("A", 0), ("A", 7)], "a map a fifth"


def test_maps_are_made_once_and_told(mapped: list[tuple[str, int]], tmp_path: Path) -> None:
    """Every string and fifth of the piece before the first stroke is placed; progress counts them."""
    told: list[tuple[str, int, int]] = []
    score = read_score(pieces.study(), name="study")
    kept = KeptMaps(tmp_path)
    plan_score(score, Request(), kept=kept, progress=lambda *one: told.append(one))
    assert len(mapped) == len(set(mapped))
    maps = [one for one in told if one[0] == "maps"]
    assert maps == [("maps", k + 1, len(mapped)) for k in range(len(mapped))]
    strokes = [one for one in told if one[0] == "strokes"]
    assert strokes[-1] == ("strokes", 21, 21)


def test_a_string_is_asked_for_its_own_room(tmp_path: Path) -> None:
    """One real map: the range of the open A string at mezzo-forte meets that of normal playing (0.5 to 1.5 N,
    Guettler 1997), with its middle near by, and the kept map gives the same plan."""
    score = read_score(pieces.simple(pieces.note("A4", 2) * 2), name="one note")
    kept = KeptMaps(tmp_path)
    plan = plan_score(score, Request(), kept=kept).plan
    assert 0.3 < plan.strokes[0].weight_n < 1.5
    span = plan.strokes[0].weight_span_n
    assert span is not None
    assert span[0] < 0.5
    assert span[1] > 1.0
    assert len(list(tmp_path.glob("*.map"))) == 1
    assert plan_score(score, Request(), kept=kept).plan == plan
