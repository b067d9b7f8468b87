"""What changed over weeks: named where it stands out of the scatter, and held against nobody else."""

from __future__ import annotations

import itertools
import math

import numpy as np
import pytest

from colophony.listening.take import Onset, Steadiness, ToneState
from colophony.teaching.findings import Advice, Findings, Say, Summary
from colophony.teaching.progress import Change, Heard, Progress, by_day, heard, progress
from colophony.teaching.wording.progress import (
    change_sentence,
    fault_sentence,
    headline,
    span,
)
from factories import make_stroke, make_take

SAY = Say("a", "b", "c")
READERS = ("child", "adult", "teacher")


def take(day: int, clean: float | None = 0.5, *, size: str = "1/2", **more: object) -> Heard:
    values: dict[str, object] = {
        "strokes": 20,
        "clean_starts": None,
        "level_swing_db": None,
        "faults": (),
    }
    return Heard(day, "violin", size, clean_share=clean, **(values | more))  # type: ignore[arg-type]


def of(*takes: Heard) -> Progress:
    return progress(takes, instrument="violin", size="1/2")


def change_of(shown: Progress, measure: str) -> Change:
    return next(change for change in shown.changes if change.measure == measure)


def test_the_slope_is_the_median_of_all_slopes() -> None:
    """10, 15, 14, 20 at times 1 to 4: slopes 5, -1, 6, 2, 2.5, 3.33, median 2.92 (Gilbert 1987, chapter 16,
    "Statistical Methods for Environmental Pollution Monitoring"; from memory, recounted here)."""
    values = (10.0, 15.0, 14.0, 20.0)
    slopes = sorted(
        (b - a) / (j - i) for (i, a), (j, b) in itertools.combinations(enumerate(values, start=1), 2)
    )
    shown = of(*(take(i, None, level_swing_db=value) for i, value in enumerate(values, start=1)))
    change = change_of(shown, "level_swing_db")
    assert (change.last - change.first) / 3 == pytest.approx((slopes[2] + slopes[3]) / 2)
    assert not change.is_clear  # four days are too few


@pytest.mark.parametrize(("days", "is_clear"), [(4, False), (5, True), (6, True)])
def test_five_days_in_perfect_order_are_the_fewest_that_can_be_sure(days: int, is_clear: bool) -> None:
    """Of the n! orders of n days two are perfect: 2/24 is above one in twenty, 2/120 below (counting)."""
    assert (2 / math.factorial(days) < 0.05) == is_clear
    shown = of(*(take(7 * k, 0.4 + 0.05 * k) for k in range(days)))
    assert change_of(shown, "clean_share").is_clear == is_clear


def test_one_afternoon_is_one_witness() -> None:
    """Five takes on one good day at the end do not make five days."""
    shown = of(take(0, 0.5), take(7, 0.5), take(14, 0.5), *(take(21, 0.8 + k / 100) for k in range(5)))
    assert by_day(shown.takes, "clean_share")[-1] == (21, pytest.approx(0.82))
    assert change_of(shown, "clean_share").days == 4


def test_days_without_a_trend_are_seldom_told_as_a_change() -> None:
    """Chance alone: at most about one row of days in twenty is called a change (the level of the test)."""
    random = np.random.default_rng(7)
    told = 0
    for _ in range(400):
        values = random.normal(0.6, 0.1, 10).clip(0, 1)
        shown = of(*(take(3 * k, float(value)) for k, value in enumerate(values)))
        told += change_of(shown, "clean_share").is_clear
    assert 0 < told <= 0.07 * 400


def test_a_steady_rise_through_scatter_is_found() -> None:
    """From 50 to 80 % in ten weeks, each day 8 points up or down: found nearly always, and rightly sized."""
    random = np.random.default_rng(11)
    found, ends = 0, []
    for _ in range(100):
        values = np.linspace(0.5, 0.8, 11) + random.normal(0, 0.08, 11)
        change = change_of(of(*(take(7 * k, float(v)) for k, v in enumerate(values))), "clean_share")
        found += change.is_clear and change.is_better
        ends.append(change.last - change.first)
    assert found >= 80
    assert np.median(ends) == pytest.approx(0.3, abs=0.03)


def test_equal_days_and_a_single_day_tell_no_change() -> None:
    """A constant has no rank correlation; nothing is said, and nothing warns."""
    assert not change_of(of(*(take(7 * k, 1.0) for k in range(8))), "clean_share").is_clear
    assert of(take(3)).changes == ()
    assert of().changes == ()


def test_a_new_instrument_begins_anew() -> None:
    """A larger violin is another instrument: earlier takes are shown beside, not compared."""
    shown = of(take(0, 0.9, size="1/4"), take(7, 0.5), take(14, 0.6))
    assert [one.day for one in shown.takes] == [7, 14]
    assert [one.day for one in shown.others] == [0]


def test_less_swing_is_better_and_more_is_not() -> None:
    less = Change("level_swing_db", 9, 4.0, 2.0, 3.0, True)
    more = Change("clean_share", 9, 0.5, 0.8, 0.6, True)
    assert less.is_better
    assert more.is_better
    assert not Change("clean_starts", 9, 0.8, 0.5, 0.6, True).is_better


def test_no_typical_value_lies_where_none_can_be() -> None:
    """The line through 2, 2, 0, 0, 0 and 0 dB ends below nothing; loudness swings by nothing at the least."""
    swings = (2.0, 1.9, 0.0, 0.0, 0.0, 0.0)
    shown = of(*(take(7 * week, level_swing_db=swing) for week, swing in enumerate(swings)))
    assert change_of(shown, "level_swing_db").last == 0.0


def test_a_take_is_seen_by_its_bowed_strokes() -> None:
    """Plucked notes have no bowed start; a stroke without a grade is left out; two cures are one fault."""
    strokes = (
        make_stroke(0.5, 2.5),
        make_stroke(3.0, 5.0, onset=Onset("slow", 120.0, 40.0, "creaking", False)),
        make_stroke(5.5, 7.5, onset=Onset(None, None, None, "unknown", None)),
        make_stroke(8.0, 9.0, state=ToneState.PLUCKED, onset=Onset("clean", 5.0, 1.0, "clean", True)),
    )
    twice = (Advice("weight", "less", "", SAY, "pressed"), Advice("speed", "more", "", SAY, "pressed"))
    findings = Findings(make_take(*strokes), ((), twice, (), ()), Summary(0.7, 4, None, SAY, SAY))
    seen = heard(findings, day=5, instrument="violin", size="1/2")
    assert (seen.strokes, seen.clean_share, seen.clean_starts) == (3, 0.7, 0.5)
    assert seen.level_swing_db == 2.0
    assert seen.faults == (("pressed", 1),)


def test_a_take_that_tells_nothing_leaves_nothing_but_its_day() -> None:
    stroke = make_stroke(
        steadiness=Steadiness(None, None, None, None), onset=Onset(None, None, None, "unknown", None)
    )
    findings = Findings(make_take(stroke), ((),), Summary(None, 1, None, SAY, SAY))
    seen = heard(findings, day=5, instrument="violin", size="1/2")
    assert (seen.clean_share, seen.clean_starts, seen.level_swing_db) == (None, None, None)


def test_the_most_frequent_early_fault_is_followed() -> None:
    days = [take(7 * k, faults=(("pressed", 10 if k < 3 else 1), ("duller", 2))) for k in range(6)]
    fault = of(*days).fault
    assert fault is not None
    assert (fault.fault, fault.before, fault.after) == ("pressed", 0.5, 0.05)
    for reader in READERS:
        assert "50\u00a0%" in fault_sentence(fault, reader=reader)
    same = of(*(take(7 * k, faults=(("pressed", 10),)) for k in range(6))).fault
    assert same is not None
    assert fault_sentence(same, reader="adult") == ""


@pytest.mark.parametrize("reader", READERS)
def test_the_headline_is_the_first_good_news_that_is_sure(reader: str) -> None:
    better = [take(7 * k, 0.4 + 0.05 * k, clean_starts=0.9 - 0.05 * k) for k in range(8)]
    shown = of(*better)
    assert change_of(shown, "clean_starts").is_clear
    assert headline(shown, reader=reader) == change_sentence(  # type: ignore[arg-type]
        change_of(shown, "clean_share"),
        reader=reader,  # type: ignore[arg-type]
    )
    assert "75" in headline(shown, reader=reader)  # type: ignore[arg-type]


def test_an_adult_hears_of_evenness_in_plain_words_and_a_teacher_in_decibels() -> None:
    change = Change("level_swing_db", 9, 4.0, 2.5, 3.0, True)
    assert change_sentence(change, reader="adult") == (
        "The bow has become more even: within a stroke loudness swings 38\u00a0% less than before."
    )
    assert "2.5\u00a0dB" in change_sentence(change, reader="teacher")
    unsure = Change("clean_share", 9, 0.5, 0.7, 0.64, False)
    assert "64\u00a0%" in change_sentence(unsure, reader="adult")


def test_too_few_days_say_how_many_are_needed() -> None:
    assert "5 days" in headline(of(take(0), take(7)), reader="adult")
    assert headline(of(), reader="teacher") == "No takes on this instrument yet."
    assert "nothing changed" in headline(of(*(take(7 * k, 0.5) for k in range(8))), reader="adult").lower()


def test_spans_are_told_in_days_and_then_in_weeks() -> None:
    assert [span(1), span(13), span(14), span(40)] == ["1 day", "13 days", "2 weeks", "6 weeks"]
