"""Takes at marked places: what is to be played, whether a take fits, and one line where it does not."""

from __future__ import annotations

import math
import re

import pytest

from colophony.errors import InputError
from colophony.listening.take import Stroke, ToneState
from colophony.teaching.reference import check_marked, find_mark, marked_strokes, procedure
from factories import make_stroke, make_take

G = find_mark("violin", "4/4", "G", point=3)


def bows(
    count: int, *, hz: float = 196.0, note: str = "G3", seconds: float = 4.0, **changes: object
) -> list[Stroke]:
    return [
        make_stroke(5.0 * k, 5.0 * k + seconds, note=note, frequency_hz=hz, **changes) for k in range(count)
    ]


def test_the_procedure_plays_every_open_string_at_three_places_the_middle_first() -> None:
    marks = procedure("cello", "1/2")
    assert [mark.string for mark in marks[::3]] == ["C2", "G2", "D3", "A3"]
    assert [mark.point for mark in marks[:3]] == [3.0, 2.0, 4.0]


def test_speed_is_the_hair_in_the_time_of_one_bow_and_place_is_the_sounding_point_s() -> None:
    """65 cm of hair in 4 beats at 60: 16.25 cm/s, inside the published span of mf bows (docs/physics.md)."""
    assert (G.seconds, G.speed_cm_s) == (4.0, 16.25)
    nearer, farther = (find_mark("violin", "4/4", "G", point=p).distance_mm for p in (2, 4))
    assert nearer / G.distance_mm == pytest.approx(1.5 / 2.5, abs=0.01)
    assert farther / G.distance_mm == pytest.approx(3.5 / 2.5, abs=0.01)
    assert find_mark("violin", "4/4", "G", point=3, beats=4, tempo=120, hair_mm=600).speed_cm_s == 30.0


@pytest.mark.parametrize(
    ("how", "line"),
    [
        ({"point": 6.0}, "sounding point 6 is out of range"),
        (
            {"point": 3.0, "beats": 1.0},
            "one whole bow in 1.0 s: choose beats and tempo that give 1.5 to 12 s",
        ),
        ({"point": 3.0, "tempo": 0.0}, "give both above 0"),
        ({"point": 3.0, "hair_mm": 3.0}, "3 mm of hair is no whole bow"),
    ],
)
def test_what_cannot_be_played_is_refused_in_one_line(how: dict[str, float], line: str) -> None:
    with pytest.raises(InputError, match=line):
        find_mark("violin", "4/4", "G", **how)  # type: ignore[arg-type]
    with pytest.raises(InputError):
        find_mark("violin", "4/4", "C", point=3)


def test_four_whole_bows_in_time_fit() -> None:
    fit = check_marked(make_take(*bows(4)), G)
    assert (len(fit.strokes), fit.line) == (4, None)


def test_one_bow_of_four_may_go_astray() -> None:
    assert check_marked(make_take(*bows(3), *bows(1, seconds=2.0)), G).line is None


@pytest.mark.parametrize(
    ("strokes", "line"),
    [
        (bows(2), "2 strokes on the open G3 were heard: play 4 whole bows"),
        (bows(1), "1 stroke on the open G3 was heard"),
        (bows(4, hz=293.7, note="D4"), "Most strokes sounded D4, not the open G3"),
        (bows(4, seconds=3.0), r"0 of 4 bows lasted 4 beats at 60 \(4.0 s, 0.6 s more or less\); they"),
        (bows(2) + bows(2, state=ToneState.RAUCOUS), "2 of 4 strokes sounded clear"),
    ],
)  # fmt: skip
def test_a_take_that_does_not_fit_gets_one_line_and_keeps_what_fits(strokes: list[Stroke], line: str) -> None:
    fit = check_marked(make_take(*strokes), G)
    assert fit.line is not None
    assert re.search(line, fit.line)
    assert "\n" not in fit.line
    assert len(fit.strokes) == len(marked_strokes(G, strokes))


@pytest.mark.parametrize(("seconds", "fits"), [(3.41, True), (3.39, False), (4.59, True), (4.61, False)])
def test_a_bow_may_be_fifteen_per_cent_longer_or_shorter(seconds: float, fits: bool) -> None:
    """Less than half of the way from one sounding point to the next: 20 log10(3.5 / 2.5) / 2 = 1.46 dB."""
    assert bool(marked_strokes(G, bows(1, seconds=seconds))) is fits
    assert max(20 * math.log10(1.15), -20 * math.log10(0.85)) < 20 * math.log10(3.5 / 2.5) / 2


def test_an_open_string_a_little_out_of_tune_is_that_string() -> None:
    assert marked_strokes(G, bows(1, hz=196.0 * 2 ** (60 / 1200)))
    assert not marked_strokes(G, bows(1, hz=196.0 * 2 ** (100 / 1200)))
