"""Exercises as data: the library, files of a teacher's own, and what an exercise asks of an instrument."""

from __future__ import annotations

import json
import math
import re
from dataclasses import replace
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from colophony.app.own_exercises import exercise_file
from colophony.app.practice import ask_ranges
from colophony.errors import InputError
from colophony.language import LANGUAGES, speaking
from colophony.physics.bows import find_bow
from colophony.physics.strings import BowedString, sizes_of
from colophony.teaching.exercises.difficulty import ASSUMED, LEVELS, Spread, difficulty_of, spread_of
from colophony.teaching.exercises.exercise import (
    AIMS,
    Exercise,
    Remark,
    StrokeSpec,
    Target,
    exercise_from_plain,
    target_from_plain,
    to_plain,
)
from colophony.teaching.exercises.library import find_exercise, library, read_exercises
from colophony.teaching.exercises.ranges import AskRanges, StringRanges, published_ranges
from colophony.teaching.exercises.reading import MistakesError
from colophony.teaching.exercises.remarks import REMARKS, remark_words
from colophony.teaching.exercises.targets import LEAST_RANGE_DB, targets_of
from colophony.teaching.exercises.words import difficulty_words, rule_words, target_words
from colophony.teaching.findings import READERS, Findings, Say, Summary
from colophony.teaching.sounding_points import point_width_m
from factories import make_stroke, make_take

OWN = """
[[exercise]]
key = "my-slow-scale"
title = "Slow scale"
aim = "long-slow"
trains = ["speed"]
before = ["hold-point-whole"]
say.adult = "A scale, one note a bow."
listen_for.adult = "Every note begins alike."
stroke = { beats = 8, strings = [3], points = 2.5 }
pass = { at_least = 5, of = 8 }
"""


_NAMES = (
    "key",
    "title",
    "aim",
    "trains",
    "before",
    "minutes",
    "say",
    "adult",
    "stroke",
    "pass",
    "points",
    "of",
)


@cache
def shipped(key: str) -> Exercise:
    return find_exercise(key, library())


def with_stroke(key: str, **changes: object) -> Exercise:
    exercise = shipped(key)
    return replace(exercise, stroke=replace(exercise.stroke, **changes))  # type: ignore[arg-type]


# --- the library


def test_the_library_holds_every_aim_and_twenty_exercises() -> None:
    """Ten kinds of work on tone, and the reference take, each with at least one exercise."""
    assert {exercise.aim for exercise in library()} == set(AIMS)
    assert len(library()) >= 20


def test_every_exercise_can_be_reached() -> None:
    """What an exercise builds on comes before it in the file, so that nobody waits in a circle."""
    seen: set[str] = set()
    for exercise in library():
        assert set(exercise.before) <= seen
        seen.add(exercise.key)


def test_a_rule_asks_for_the_bows_that_an_exercise_plays() -> None:
    """One go is enough to pass."""
    for exercise in library():
        bows = exercise.stroke.count
        assert exercise.pass_rule.of == bows
        assert bows * exercise.stroke.seconds / 60.0 <= exercise.minutes


def test_every_exercise_speaks_to_three_readers() -> None:
    """A child, an adult and a teacher are each told something of their own, and a child briefly."""
    for exercise in library():
        for say in (exercise.say, exercise.listen_for):
            assert len({say.child, say.adult, say.teacher}) == 3, exercise.key
            assert len(say.child) <= 130, exercise.key


@pytest.mark.parametrize("instrument", ["violin", "viola", "cello"])
def test_every_exercise_can_be_done_on_every_size(instrument: str) -> None:
    """By the published limits each exercise finds a stroke on each instrument; a changed one says so."""
    for size in sizes_of(instrument):
        for exercise in library():
            for target in targets_of(exercise, instrument, size):
                points = (target.begin.sounding_point, target.end.sounding_point)
                asked = exercise.stroke.points
                is_changed = target.beats != exercise.stroke.beats or points != pytest.approx(asked)
                assert bool(target.instead) == is_changed


# --- a teacher's own


def test_an_own_exercise_may_be_short() -> None:
    """What a file leaves out takes its usual value; a reader whom it leaves out hears the adult's words."""
    (own,) = read_exercises(OWN, place="own.toml", known=["hold-point-whole"])
    assert own.is_own
    assert own.say == Say("A scale, one note a bow.", "A scale, one note a bow.", "A scale, one note a bow.")
    assert own.stroke == StrokeSpec(beats=8.0, strings=(3,), points=(2.5, 2.5))


def test_all_mistakes_of_a_file_are_named_at_once() -> None:
    """Place, limit and remedy of each, a line each; nothing is used of such a file."""
    broken = (
        OWN.replace("beats = 8", "beats = 99")
        .replace("points = 2.5", "points = [2, 3, 4]")
        .replace('"speed"', '"pace"')
        .replace("at_least = 5", "at_least = 9")
        .replace('title = "Slow scale"', 'tilte = "Slow scale"')
        .replace("hold-point-whole", "hold-point-hole")
    )
    with pytest.raises(MistakesError) as caught:
        read_exercises(broken, place="own.toml", known=["hold-point-whole"])
    lines = {line.split(": ")[1]: line for line in caught.value.lines}
    assert len(lines) == len(caught.value.lines) == 7
    assert "did you mean title" in lines["my-slow-scale.tilte"]
    assert "is missing" in lines["my-slow-scale.title"]
    assert "speed, weight, distance, tilt" in lines["my-slow-scale.trains"]
    assert "0.25 to 32" in lines["my-slow-scale.stroke.beats"]
    assert "two numbers" in lines["my-slow-scale.stroke.points"]
    assert "at most 8" in lines["my-slow-scale.pass.at_least"]
    assert "hold-point-hole" in lines["my-slow-scale.before"]
    assert all(line.startswith("own.toml: ") and "\n" not in line for line in caught.value.lines)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("[[exercise", "no TOML"),
        ("", "[[exercise]]"),
        ("exercise = 3", "[[exercise]]"),
        (OWN + OWN, "taken"),
        (OWN.replace("my-slow-scale", "hold-point-whole"), "taken"),
        (OWN.replace('["hold-point-whole"]', '["my-slow-scale"]'), "circle"),
        (OWN.replace("say.adult", "say.parent"), "did you mean"),
        (OWN.replace("beats = 8", "beats = true"), "out of range"),
        (OWN.replace("beats = 8", "beats = nan"), "out of range"),
        (OWN.replace('title = "Slow scale"', f'title = "{"x" * 500}"'), "at most 400"),
    ],
)
def test_a_file_that_cannot_be_used_is_refused_with_the_reason(text: str, words: str) -> None:
    """Also what is no exercise at all, a key taken twice, and exercises that wait for each other."""
    with pytest.raises(MistakesError, match=r"own\.toml") as caught:
        read_exercises(text, place="own.toml", known=["hold-point-whole"])
    assert words in str(caught.value)


def test_an_unknown_exercise_is_answered_with_the_nearest() -> None:
    """A typing error is answered with what was likely meant."""
    with pytest.raises(InputError, match="hold-point-whole"):
        find_exercise("hold-point-hole", library())


# --- plain values


def test_exercises_and_targets_survive_as_json() -> None:
    """What is kept as JSON comes back equal."""
    for exercise in library():
        assert exercise_from_plain(json.loads(json.dumps(to_plain(exercise)))) == exercise
    (target,) = targets_of(shipped("crescendo-in"), "violin", "1/2")
    assert target_from_plain(json.loads(json.dumps(to_plain(target)))) == target


def test_values_that_are_no_exercise_are_refused_by_place() -> None:
    """The place of the first fault is named."""
    with pytest.raises(InputError, match=r"Exercise\.stroke\.beats"):
        exercise_from_plain(
            to_plain(shipped("tilt-roll")) | {"stroke": to_plain(StrokeSpec()) | {"beats": "four"}}
        )
    with pytest.raises(InputError, match="lacks title"):
        exercise_from_plain(
            {name: v for name, v in to_plain(shipped("tilt-roll")).items() if name != "title"}
        )


# --- targets, by the published limits


def test_the_same_beats_are_a_slower_bow_on_a_small_instrument() -> None:
    """A whole bow in four beats at 60: speed is hair over time, and a half-size bow has less hair."""
    for size in ("4/4", "1/2"):
        (target,) = targets_of(shipped("hold-point-whole"), "violin", size)
        assert target.seconds == 4.0
        assert target.speed_cm_s == pytest.approx(100.0 * find_bow("violin", size).hair_length_m / 4.0)


def test_an_octave_up_every_place_lies_half_as_far_from_the_bridge() -> None:
    """Sounding points stay shares of the sounding length, which an octave halves."""
    (high,) = targets_of(shipped("high-octave"), "violin")
    assert high.begin.distance_mm == pytest.approx(high.begin.distance_open_mm / 2.0)
    assert high.frequency_hz == pytest.approx(880.0)


@pytest.mark.parametrize(
    ("dynamic", "shortest_s", "longest_s", "key"),
    [
        ("p to pp", 6.0, 15.0, "long-slow-ten"),
        ("p", 6.0, 12.0, "long-slow-six"),
        ("mf", 3.0, 6.0, "hold-point-whole"),
        ("f", 1.0, 4.5, "fast-light-whole"),
    ],
)
def test_whole_bows_last_as_published(dynamic: str, shortest_s: float, longest_s: float, key: str) -> None:
    """Durations of whole bows by dynamic: p 6 to 12 s, pp to 15, mf 3 to 6, f 1 to 4.5, in a survey of
    Sevsay, Widor, Forsyth, Askenfelt (1986, p. 1011), Flesch and Schoonderwaldt (2009, p. 2715), which is
    known here from another survey. Ten beats are told to be soft, four to be an ordinary bow.
    """
    (target,) = targets_of(shipped(key), "violin")
    assert target.part == "whole"
    assert shortest_s <= target.seconds <= longest_s


def test_a_stroke_without_room_gives_way_to_the_nearest_with_room() -> None:
    """At the bridge the cello's C string has no range by the published limits at a slow speed."""
    asked = with_stroke("hold-point-nearer", points=(1.0, 1.0), strings=(4,), beats=8.0)
    (target,) = targets_of(asked, "cello")
    assert target.begin.sounding_point > 1.0 or target.beats != 8.0
    assert target.begin.range_db >= LEAST_RANGE_DB
    assert {remark.kind for remark in target.instead} <= {"closed-point", "closed-speed"}
    assert target.instead


def closed_up_to(share: float) -> AskRanges:
    """Maps with the published limits, closed from the bridge to a share of the bowing room."""

    def ask(string: BowedString, frequency_hz: float, tilt_deg: float) -> StringRanges:
        known = published_ranges(string, frequency_hz, tilt_deg)
        edge_m = share * 5.0 * point_width_m(string, frequency_hz=frequency_hz)
        maps = tuple(
            replace(
                one,
                weight_min_n=np.where(one.distance_m <= edge_m, np.nan, one.weight_min_n),
                weight_max_n=np.where(one.distance_m <= edge_m, np.nan, one.weight_max_n),
            )
            for one in known.maps
        )
        return replace(known, maps=maps, is_computed=True)

    return ask


def test_where_this_strings_own_map_is_closed_the_stroke_gives_way_too() -> None:
    """The published limits do not open it (decision 0215); if all is closed they answer, and say so."""
    (target,) = targets_of(shipped("hold-point-whole"), "violin", ask=closed_up_to(0.6))
    assert target.begin.distance_mm > 0.6 * 55.0  # the bowing room of a full-size violin: docs/paper.md
    assert [remark.kind for remark in target.instead] == ["closed-point"]
    assert target.is_computed
    (published,) = targets_of(shipped("hold-point-whole"), "violin", ask=closed_up_to(2.0))
    assert published.begin.sounding_point == pytest.approx(3.0)
    assert not published.is_computed


def test_a_note_beyond_the_string_is_refused() -> None:
    """Two octaves above the open string no violinist's lower string goes (common practice, no source)."""
    with pytest.raises(InputError, match="lies beyond the G string"):
        targets_of(with_stroke("high-octave", semitones=24, strings=(4,)), "violin")


def test_tolerances_stay_inside_the_range() -> None:
    """Weight and place may err by their tolerance and the string still speaks."""
    for exercise in library():
        for target in targets_of(exercise, "viola", "3/4"):
            for place in target.places:
                factor = 10.0 ** (place.weight_tolerance_db / 20.0)
                assert place.weight_span_n[0] <= place.weight_n / factor
                assert place.weight_n * factor <= place.weight_span_n[1] * (1.0 + 1e-9)


# --- targets, as computed for one string


@pytest.fixture(scope="module")
def computed() -> dict[str, Target]:
    """What four exercises ask of a violin's A string, from its own maps."""
    ask = ask_ranges()
    keys = ("fast-light-whole", "hold-point-nearer", "hold-point-whole", "tilt-soft")
    tilted = {"fast-light-whole": (20.0, 20.0), "tilt-soft": (20.0, 20.0)}
    exercises = [with_stroke(key, tilt_deg=tilted.get(key, (0.0, 0.0))) for key in keys]
    return {exercise.key: targets_of(exercise, "violin", ask=ask)[0] for exercise in exercises}


def test_near_the_bridge_is_slow_heavy_and_flat_at_the_fingerboard_fast_light_and_tilted(
    computed: dict[str, Target],
) -> None:
    """Common practice, no source, in all schools of violin playing."""
    near, far, soft = (computed[key] for key in ("hold-point-nearer", "fast-light-whole", "tilt-soft"))
    assert near.begin.distance_mm < far.begin.distance_mm
    assert near.speed_cm_s < far.speed_cm_s
    assert near.tilt_deg == (0.0, 0.0)
    assert far.tilt_deg > near.tilt_deg
    assert near.begin.weight_n > soft.begin.weight_n
    # At one speed the far lane asks for less weight (Schelleng 1973: in proportion to 1 / distance).
    times_faster = far.speed_cm_s / near.speed_cm_s
    assert far.begin.weight_n / times_faster < near.begin.weight_n


def test_computed_weights_are_those_of_players(computed: dict[str, Target]) -> None:
    """Violin bow force in normal playing: 0.5 to 1.5 N (K. Guettler, "Bow notes", Proc. IOA 19(5), 1997).

    Soft, tilted strokes may lie lower: 0.1 N is the least of bow strokes, from memory.
    """
    for key in ("hold-point-nearer", "hold-point-whole", "fast-light-whole"):
        least, greatest = computed[key].begin.weight_span_n
        assert least < 1.5
        assert greatest > 0.5
    assert computed["tilt-soft"].begin.weight_n >= 0.1


def test_computed_targets_know_how_far_the_bow_may_wander(computed: dict[str, Target]) -> None:
    """From the map of the string itself, around the aimed place; narrower nearer to the bridge."""
    for target in computed.values():
        assert target.is_computed
        near_mm, far_mm = target.begin.distance_span_mm or (math.inf, -math.inf)
        assert near_mm < target.begin.distance_mm < far_mm
    tolerances = [
        computed[key].begin.distance_tolerance_mm for key in ("hold-point-nearer", "hold-point-whole")
    ]
    assert tolerances[0] < tolerances[1]


# --- difficulty


def test_difficulty_rises_as_the_range_falls() -> None:
    """The nearer to the bridge, the less room by the published limits, and the harder."""
    spread = Spread(10.0, 1.0, is_estimated=False)
    rooms = []
    for point in (4.0, 3.0, 2.0, 1.5):
        exercise = with_stroke("hold-point-whole", points=(point, point))
        rooms.append(difficulty_of(exercise, targets_of(exercise, "violin"), spread).room)
    assert rooms == sorted(rooms, reverse=True)
    assert rooms[0] > rooms[-1]


def test_a_wider_spread_makes_every_exercise_harder() -> None:
    """Room is range over spread."""
    exercise = shipped("hold-point-whole")
    targets = targets_of(exercise, "violin")
    calm, wild = (difficulty_of(exercise, targets, Spread(db, 1.0, False)) for db in (8.0, 16.0))
    assert calm.room == pytest.approx(2.0 * wild.room)


def test_levels_are_shares_of_time_inside_the_range() -> None:
    """A normal error whose middle nine tenths fit the range so many times: standard tables give the share."""
    nine_tenths = 1.6449  # standard deviations to either side, from tables of the normal distribution
    shares = [math.erf(room * nine_tenths / math.sqrt(2.0)) for room, _ in LEVELS]
    assert shares == pytest.approx([0.997, 0.95, 0.81], abs=0.003)
    assert [level for _, level in LEVELS] == ["wide", "fair", "narrow"]


def test_off_the_middle_of_the_range_counts_the_nearer_edge() -> None:
    """A weight at a quarter of the range has half the room of one in the middle."""
    rooms = []
    for share in (0.5, 0.25):
        exercise = with_stroke("hold-point-whole", weight=(share, share))
        rooms.append(difficulty_of(exercise, targets_of(exercise, "violin"), Spread(10.0, 1.0, False)).room)
    assert rooms[1] == pytest.approx(rooms[0] / 2.0)


def findings_of(clean_share: float, *, level_swing_db: float = 2.0, centroids: float = 0.0) -> Findings:
    """Four clean strokes whose brightness alternates by so many dB."""
    strokes = []
    for k in range(4):
        stroke = make_stroke(3.0 * k + 0.5, 3.0 * k + 2.5)
        hz = 1500.0 * 10.0 ** ((-1) ** k * centroids / 40.0)
        strokes.append(
            replace(
                stroke,
                brightness=replace(stroke.brightness, centroid_hz=hz),
                steadiness=replace(stroke.steadiness, level_swing_db=level_swing_db),
            )
        )
    nothing = Say("", "", "")
    return Findings(make_take(*strokes), ((),) * 4, Summary(clean_share, 4, None, nothing, nothing))


def test_who_is_clean_nine_tenths_of_the_time_just_fits_an_ordinary_range() -> None:
    """The spread holds nine tenths by its definition: at a share of 0.9 it is the range itself."""
    spread = spread_of([findings_of(0.9)], age_group="child", range_db=17.0)
    assert spread.weight_db == pytest.approx(17.0)
    assert not spread.is_estimated


def test_the_spread_grows_with_what_goes_wrong() -> None:
    """Less clean time, a swinging level, a changing colour: each widens its spread."""
    calm = spread_of([findings_of(0.97)], age_group="of-age")
    assert spread_of([findings_of(0.7)], age_group="of-age").weight_db > calm.weight_db
    assert spread_of([findings_of(0.97, centroids=8.0)], age_group="of-age").weight_db > calm.weight_db
    swinging = spread_of([findings_of(0.97, level_swing_db=8.0)], age_group="of-age")
    assert swinging.place_lanes > calm.place_lanes


def test_the_steadiest_take_leaves_a_spread() -> None:
    """A level that hardly swings says nothing finer of the place than a fifth of a lane."""
    spread = spread_of([findings_of(0.99, level_swing_db=0.1)], age_group="of-age")
    assert spread.place_lanes == pytest.approx(0.2)
    exercise = shipped("hold-point-whole")
    assert math.isfinite(difficulty_of(exercise, targets_of(exercise, "violin"), spread).room)


def test_before_anything_is_heard_the_spread_is_assumed_and_says_so() -> None:
    """The younger the wider; an assumption, marked as one in the teacher's words."""
    widths = [
        spread_of([], age_group=group).weight_db for group in ("small-child", "child", "teen", "of-age")
    ]
    assert widths == sorted(widths, reverse=True)
    exercise = shipped("hold-point-whole")
    told = difficulty_of(exercise, targets_of(exercise, "violin"), spread_of([], age_group="child"))
    assert told.is_estimated
    assert "assumed" in difficulty_words(told, "teacher")
    assert set(ASSUMED) == {"small-child", "child", "teen", "of-age"}


# --- words


def test_a_target_is_said_in_the_players_units() -> None:
    """Beats at a tempo, part of the bow, lane or mm, a weight that a hand knows, flat or tilted hair."""
    targets = targets_of(shipped("hold-point-whole"), "violin", "1/2")
    child, adult, teacher = (" ".join(target_words(targets[0], reader)) for reader in READERS)
    assert "the whole bow, 4 beats at 60 a minute" in child
    assert "lane 3" in child
    assert not any(sign in child for sign in ("mm", " N", "dB"))
    assert "24\u00a0mm from the bridge" in adult
    assert "weight of" in adult
    assert "N" in teacher
    assert "cm/s" in teacher
    assert all("Hair flat" in told for told in (child, adult, teacher))
    assert child.startswith("Open A string.")
    (high,) = targets_of(shipped("high-top-string"), "violin")
    assert "F♯6 on the E string" in " ".join(target_words(high, "child"))


def test_a_note_is_called_as_the_readers_language_calls_it() -> None:
    """An octave and a tone over a violin's E: Fis in German (common practice, no source)."""
    (high,) = targets_of(shipped("high-top-string"), "violin")
    with speaking("de"):
        assert "Fis6" in " ".join(target_words(high, "teacher"))


def test_a_bow_that_grows_lighter_is_not_told_to_end_heavy() -> None:
    """From the bridge outwards the weight falls (Schelleng 1973): lightest words at the end."""
    (target,) = targets_of(shipped("wander-far"), "violin")
    assert target.begin.weight_n > target.end.weight_n
    told = " ".join(target_words(target, "child"))
    assert "like a slice of bread at first, like two sheets of paper at the end" in told


def test_every_sentence_can_be_made_in_every_language() -> None:
    """No reader, exercise or remark leaves a placeholder unfilled."""
    for language in LANGUAGES:
        with speaking(language):
            for exercise in library():
                for target in targets_of(exercise, "cello", "1/2"):
                    for reader in READERS:
                        told = " ".join(
                            (*target_words(target, reader), rule_words(exercise.pass_rule, reader))
                        )
                        assert "{" not in told
            values = {"point": 1.0, "chosen": 1.5, "beats": 8.0, "share": 0.5, "asked": 3.0, "swing": 4.2}
            values |= {"rise_db": 1.0, "seconds": 2.0, "asked_s": 4.0, "ms": 90.0, "count": 2.0, "days": 3.0}
            for kind in REMARKS:
                for reader in READERS:
                    told = remark_words(Remark(kind, values | {"title": "Roll the hair"}), reader)
                    assert "{" not in told
                    assert told


def test_published_limits_are_named_as_such() -> None:
    """A target that no map stands behind says so."""
    (target,) = targets_of(shipped("hold-point-whole"), "violin", ask=published_ranges)
    assert not target.is_computed
    assert "published limits" in " ".join(target_words(target, "teacher"))


def test_the_example_of_the_documents_is_an_exercise() -> None:
    """What docs/exercises.md shows can be used as it stands."""
    page = (Path(__file__).parents[2] / "docs/exercises.md").read_text(encoding="utf-8")
    (text,) = re.findall(r"```toml\n(.*?)```", page, re.DOTALL)
    (own,) = read_exercises(text, place="docs", known=[exercise.key for exercise in library()])
    assert own.key == "slow-scale"
    assert targets_of(own, "violin")[0].seconds == 8.0
    for aim in AIMS:
        assert f"`{aim}`" in page


WORDS = st.text(max_size=12) | st.sampled_from(["hold-point", "speed", "clean", "whole", "my-own"])
JUNK = st.recursive(
    WORDS | st.integers(-99, 999) | st.floats() | st.booleans(),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.sampled_from(_NAMES), inner, max_size=4),
    max_leaves=12,
)


@given(st.lists(st.dictionaries(st.sampled_from(_NAMES), JUNK, max_size=8), min_size=1, max_size=3))
@settings(max_examples=150, deadline=None)
def test_no_file_brings_the_reader_down(rows: list[dict[str, Any]]) -> None:
    """Whatever stands under the known names: exercises, or a list of mistakes, and nothing else."""
    with pytest.raises(MistakesError) as caught:  # nothing drawn here has a title, words and a key at once
        read_exercises(exercise_file(rows), place="own.toml")
    assert all(line.startswith("own.toml: ") for line in caught.value.lines)
