"""A stroke against the player's own marked strokes: what is named, what stays open, what advice makes of it.

Level goes as speed over distance (Woodhouse, Euphonics 9.4: the bridge force's sawtooth is 2 Z0 vb / beta
from peak to peak); weight brightens more than speed and place (E. Schoonderwaldt, Acta Acust. u. Acust. 95,
2009).
Both are checked on takes that the program's string plays; docs/reference-takes.md has the whole measurement.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
import pytest

from colophony.listening.colour import against_reference, make_reference
from colophony.listening.take import Brightness, Stroke, ToneState
from colophony.teaching.advice import judge
from colophony.teaching.brightness import TABLE
from colophony.teaching.own_sound import (
    Comparison,
    OwnSound,
    against,
    evidence_of,
    find_own_sound,
    level_slope,
)
from colophony.teaching.reference import MarkedStroke, find_mark, marked_strokes
from factories import make_stroke, make_take
from marked_takes import Player

# Hand-made strokes: known harmonics and levels.


def harmonics(*, brighter_db: float = 0.0, ripple: int = 0, count: int = 20) -> tuple[float, ...]:
    """A sawtooth's harmonics, those from the sixth raised, and every ``ripple``-th lowered by 6 dB."""
    order = np.arange(1, count + 1)
    levels = -20 * np.log10(order) + np.where(order >= 6, brighter_db, 0.0)
    if ripple:
        levels -= np.where(order % ripple == 0, 6.0, 0.0)
    return tuple(levels - 10 * np.log10(np.sum(10 ** (levels / 10))))


def bow(
    *, string: str = "D4", hz: float = 293.66, seconds: float = 4.0, level_db: float = -30.0, **how: float
) -> Stroke:
    return make_stroke(
        0.0,
        seconds,
        note=string,
        frequency_hz=hz,
        level_db=level_db,
        harmonics_db=harmonics(**how),  # type: ignore[arg-type]
    )


def own_sound(*, levels_follow: bool = True, string: str = "D", hz: float = 293.66) -> OwnSound:
    marked = []
    for point, ripple in ((2.0, 13), (3.0, 11), (4.0, 7)):
        mark = find_mark("violin", "4/4", string, point=point)
        level_db = -30.0 - (20 * math.log10(mark.distance_mm / 27.5) if levels_follow else -20.0 * point)
        marked += [MarkedStroke(mark, bow(level_db=level_db, ripple=ripple, hz=hz))] * 4
    return find_own_sound(marked)


HOME = {"ripple": 11}


def test_the_same_again_is_the_same() -> None:
    found = against(bow(**HOME), Comparison(own_sound(), whole_bows=True, same_microphone=True))
    assert found is not None
    assert found.named is None
    assert set(found.known) == {"time", "brightness", "level", "shape"}
    for ratio in (found.speed, found.weight, found.distance):
        assert ratio is not None
        assert ratio.low < 1.0 < ratio.high
    assert evidence_of(found) == ()


def test_whole_bows_in_twice_the_time_are_half_as_fast() -> None:
    """And 6 dB softer, where the microphone stayed: both say the same."""
    slow = bow(seconds=8.0, level_db=-36.0, **HOME)
    for same_microphone in (True, False):
        found = against(slow, Comparison(own_sound(), 3.0, True, same_microphone))
        assert found is not None
        assert found.named == ("speed", "less")
        assert found.speed is not None
        assert found.speed.low < 0.5 < found.speed.high


def test_louder_in_the_same_time_is_nearer() -> None:
    found = against(bow(level_db=-25.0, ripple=13), Comparison(own_sound(), 3.0, True, True))
    assert found is not None
    assert found.named == ("distance", "nearer")
    assert found.distance_mm is not None
    assert 14 < found.distance_mm < 22


def test_louder_alone_is_faster_or_nearer_and_not_told_which() -> None:
    """Level alone shows speed over distance: 6 dB are double."""
    one_place = find_own_sound(
        MarkedStroke(find_mark("violin", "4/4", "D", point=3), bow(**HOME)) for _ in range(4)
    )
    found = against(bow(level_db=-24.0, **HOME), Comparison(one_place, same_microphone=True))
    assert found is not None
    assert found.named is None
    assert found.speed_over_distance is not None
    assert found.speed_over_distance.low < 2.0 < found.speed_over_distance.high * 1.15
    assert [item.kind for item in evidence_of(found)] == ["own_speed_or_place"]


def test_brighter_in_the_same_time_and_as_loud_is_heavier() -> None:
    found = against(bow(brighter_db=4.5, **HOME), Comparison(own_sound(), 3.0, True, True))
    assert found is not None
    assert found.named == ("weight", "more")
    assert [item.kind for item in evidence_of(found)] == ["own_weight"]


def test_with_neither_time_nor_level_nothing_is_named() -> None:
    """A slower bow brightens too: from the microphone alone weight and speed trade off."""
    found = against(bow(brighter_db=6.0, **HOME), Comparison(own_sound()))
    assert found is not None
    assert found.named is None
    assert found.speed is None
    assert found.speed_over_distance is None


def test_levels_that_do_not_follow_the_law_are_not_used() -> None:
    """Then the microphone was moved between the reference takes."""
    own = own_sound(levels_follow=False)
    found = against(bow(level_db=-10.0, **HOME), Comparison(own, same_microphone=True))
    assert found is not None
    assert "level" not in found.known


def test_on_the_highest_string_brightness_says_nothing_of_weight() -> None:
    """E5: the corner stays sharper than ten harmonics below 7 kHz can show."""
    own = own_sound(string="E", hz=659.26)
    found = against(bow(hz=659.26, brighter_db=5.0, **HOME), Comparison(own, 3.0, True, True))
    assert found is not None
    assert found.weight is None
    assert abs(TABLE["violin", "E"].of_weight) < 1.0 < TABLE["violin", "G"].of_weight


def test_a_tone_without_overtones_has_no_shape_and_is_compared_by_time_and_level() -> None:
    """A far microphone may leave one harmonic: nothing to fit a line to, and nothing warns."""
    pure = replace(bow(), harmonics_db=(0.0, *[-60.0] * 19))
    marks = [find_mark("violin", "4/4", "D", point=point) for point in (2.0, 3.0)]
    levels = [-30.0 - 20.0 * math.log10(mark.distance_mm / 27.5) for mark in marks]
    marked = [MarkedStroke(mark, replace(pure, level_db=db)) for mark, db in zip(marks, levels, strict=True)]
    found = against(pure, Comparison(find_own_sound(marked), 3.0, True, True))
    assert found is not None
    assert set(found.known) == {"time", "level"}


def test_other_strings_stopped_notes_and_plucked_ones_are_not_compared() -> None:
    comparison = Comparison(own_sound(), 3.0, True, True)
    for stroke in (
        bow(hz=440.0),
        bow(hz=330.0),
        bow(seconds=0.5),
        replace(bow(), state=ToneState.PLUCKED),
        replace(bow(), frequency_hz=None),
    ):
        assert against(stroke, comparison) is None


def test_of_a_rough_stroke_only_its_speed_is_known() -> None:
    rough = replace(bow(seconds=8.0), state=ToneState.RAUCOUS)
    found = against(rough, Comparison(own_sound(), 3.0, True, True))
    assert found is not None
    assert (found.known, found.named) == (("time",), ("speed", "less"))
    assert found.weight is None
    assert against(rough, Comparison(own_sound())) is None


# What advice makes of it


@dataclass(frozen=True)
class Case:
    stroke: Stroke
    expected: tuple[str, str]


def coloured(stroke: Stroke, db: float) -> Stroke:
    return replace(stroke, brightness=Brightness(1500.0, 3.4, db))


CASES = {
    "brighter and heavier": Case(coloured(bow(brighter_db=6.0, **HOME), 7.0), ("weight", "less")),
    "brighter and slower": Case(
        coloured(bow(brighter_db=2.0, seconds=8.0, level_db=-36.0, **HOME), 7.0), ("speed", "more")
    ),
    "duller and lighter": Case(coloured(bow(brighter_db=-6.0, **HOME), -7.0), ("weight", "more")),
    "duller and faster": Case(
        coloured(bow(brighter_db=-2.0, seconds=2.0, level_db=-24.0, **HOME), -7.0), ("speed", "less")
    ),
    "brighter and nearer": Case(
        coloured(bow(level_db=-25.0, ripple=13), 7.0), ("distance", "farther")
    ),
}  # fmt: skip


@pytest.mark.parametrize("name", CASES)
def test_where_the_reference_names_the_cause_its_cure_stands_alone(name: str) -> None:
    case = CASES[name]
    take = make_take(case.stroke)
    plain = judge(take).advice[0]
    findings = judge(take, comparison=Comparison(own_sound(), 3.0, True, True))
    [advice] = findings.advice[0]
    assert len(plain) == 2
    assert (advice.change, advice.direction) == case.expected
    assert advice.test is None
    assert "marked place" in advice.why
    assert any(item.kind.startswith("own_") for item in findings.take.strokes[0].evidence)


def test_a_pressed_bow_at_the_reference_s_speed_is_not_told_to_be_faster() -> None:
    pressed = replace(bow(seconds=4.0), state=ToneState.RAUCOUS, spans=(), confidence=0.9, evidence=())
    without = [(a.change, a.direction) for a in judge(make_take(pressed)).advice[0]]
    with_it = judge(make_take(pressed), comparison=Comparison(own_sound(), 3.0, True)).advice[0]
    assert ("speed", "more") in without
    assert [(a.change, a.direction) for a in with_it] == [("weight", "less")]
    slow = replace(pressed, end_s=8.0)
    [advice] = judge(make_take(slow), comparison=Comparison(own_sound(), 3.0, True)).advice[0]
    assert (advice.change, advice.direction) == ("speed", "more")


def test_a_take_without_reference_is_judged_as_before() -> None:
    take = make_take()
    assert judge(take, comparison=None) == judge(take)
    assert judge(take, comparison=Comparison(own_sound())).advice == judge(take).advice


def test_one_slip_a_period_is_said_against_the_place_it_is_most_like() -> None:
    """The mean of far places is like none of them."""
    far = [bow(ripple=2, brighter_db=-12.0)] * 4
    near = [bow(ripple=5, brighter_db=6.0)] * 4
    stroke = bow(ripple=5, brighter_db=6.0)
    mixed = against_reference(stroke, make_reference([*far, *near]))
    apart = against_reference(stroke, make_reference([], places=[far, near]))
    assert mixed.state is ToneState.STEADY
    assert apart.state is ToneState.HELMHOLTZ
    assert apart.brightness.against_reference_db == pytest.approx(0.0, abs=0.1)


# Takes of the program's string, heard


@pytest.fixture(scope="module")
def player() -> tuple[Player, OwnSound]:
    """A violin's D string with references at three points, of a seed that no figure was chosen by."""
    played = Player("violin", "4/4", "D", seed=57)
    marked = []
    for point in (3.0, 2.0, 4.0):
        marked += marked_strokes(played.mark(point), played.take(played.bows(point, 4)).strokes)
    return played, find_own_sound(marked)


def test_the_player_s_level_follows_speed_over_distance(player: tuple[Player, OwnSound]) -> None:
    """Within a quarter: weight and the body bend it a little."""
    slope = level_slope(player[1].strings["D4"].places)
    assert slope == pytest.approx(1.0, abs=0.25)


@pytest.mark.parametrize(
    ("change", "named"),
    [
        ({}, None),
        ({"weight": 2.0}, ("weight", "more")),
        ({"speed": 0.5}, ("speed", "less")),
        ({"at": 2.0}, ("distance", "nearer")),
    ],
)
def test_what_a_simulated_player_changed_is_named(
    player: tuple[Player, OwnSound], change: dict[str, float], named: tuple[str, str] | None
) -> None:
    played, own = player
    take = played.take(played.bows(3.0, 2, **change))
    found = [against(stroke, Comparison(own, 3.0, True, True)) for stroke in take.strokes]
    assert any(one is not None and one.named == named for one in found)
    assert all(one is None or one.named in (named, None) for one in found)
