"""Stretches of a line of trials: clean, ragged, none; the edges between them and the faults within."""

from __future__ import annotations

import itertools
import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from colophony.physics.maps.bands import (
    RAGGED_CHANCE,
    WRONG_SHARE,
    Bands,
    Trials,
    count_wrong,
    find_bands,
    find_cuts,
)


def line(answers: str | list[float]) -> Trials:
    """One line of trials at 0, 1, 2, ...: "#" is clean, "." is not, " " is unanswered."""
    shares = (
        [{"#": 1.0, ".": 0.0, " ": math.nan}[a] for a in answers] if isinstance(answers, str) else answers
    )
    clean = np.array([shares])
    runs = (~np.isnan(clean)).astype(float)
    return Trials.sort(np.arange(len(shares), dtype=float)[None], np.nan_to_num(clean), runs)


def bands(answers: str) -> Bands:
    return find_bands(line(answers))


def edges(answers: str) -> list[float]:
    found = bands(answers)
    return [float(a[0]) for a in (found.outer_low, found.low, found.high, found.outer_high)]


def test_an_edge_lies_midway_between_two_trials() -> None:
    """By construction: the last trial outside is 3, the first inside 4."""
    assert edges("....######.....") == [3.5, 3.5, 9.5, 9.5]


def test_a_band_that_reaches_the_end_of_the_line_is_open_there() -> None:
    """By construction: nothing beyond was tried, so the edge is the last trial and may lie farther."""
    found = bands("#####.....")
    assert (found.low[0], found.high[0]) == (0.0, 4.5)
    assert found.low_is_open[0]
    assert not found.high_is_open[0]


@settings(deadline=None, max_examples=50)
@given(st.integers(2, 20), st.integers(6, 20), st.integers(3, 20), st.data())
def test_a_single_wrong_trial_moves_no_edge(below: int, inside: int, above: int, data: st.DataObject) -> None:
    """By construction: a hole in the band, or a stray outside, that does not touch an edge."""
    answers = list("." * below + "#" * inside + "." * above)
    first, last = below, below + inside - 1
    far = [k for k in range(len(answers)) if min(abs(k - e) for e in (first, last, first - 1, last + 1)) >= 2]
    if far:
        k = data.draw(st.sampled_from(far))
        answers[k] = "." if first < k < last else "#"
    found = bands("".join(answers))
    assert (found.low[0], found.high[0]) == (first - 0.5, last + 0.5)


def test_holes_and_strays_are_counted() -> None:
    """By construction: two of twelve inside are not clean, one outside is."""
    trials = line("....####.###.###....#...")
    cells, wrong, strays = count_wrong(trials, find_bands(trials))
    assert (cells[0], wrong[0], strays[0]) == (12, 2, 1)


def test_a_line_with_single_clean_trials_has_no_band() -> None:
    """By construction: what is clean once here and there is no clean line."""
    assert all(math.isnan(edge) for edge in edges("......#.........#......"))


def test_a_ragged_line_without_a_clean_stretch_says_what_share_is_clean() -> None:
    """By construction: every second trial of ten."""
    found = bands("......#.#.#.#.#.#......")
    assert math.isnan(found.low[0])
    assert (found.outer_low[0], found.outer_high[0]) == (5.5, 16.5)
    assert found.share[0] == pytest.approx(6 / 11)


def test_a_ragged_edge_is_told_from_a_clean_one() -> None:
    """By construction: eight clean, then three of seven, then none."""
    found = bands("....########.#..#.#......")
    assert (found.low[0], found.high[0], found.outer_high[0]) == (3.5, 11.5, 18.5)
    assert found.share_high[0] == pytest.approx(3 / 7)
    assert math.isnan(found.share_low[0])


@pytest.mark.parametrize("chance", [0.3, 0.5, 0.7])
def test_the_share_of_a_ragged_stretch_is_the_chance_it_was_made_with(chance: float) -> None:
    """By construction: 40 lines of 10 outside, 30 clean, 30 at random, 10 outside. The mean share is the
    chance within 0.08: three standard errors of 1200 throws (0.04), and the ends, since a ragged stretch can
    only be seen to begin at a miss and to end at a hit. For the same reason the edges lie within five trials,
    a run or two of hits at 0.7, in the middle line.
    """
    rng = np.random.default_rng(5)
    clean = np.concatenate(
        [np.zeros((40, 10)), np.ones((40, 30)), rng.random((40, 30)) < chance, np.zeros((40, 10))], axis=1
    )
    place = np.broadcast_to(np.arange(80.0), clean.shape)
    found = find_bands(Trials.sort(place, clean, np.ones(clean.shape)))
    assert np.nanmean(found.share_high) == pytest.approx(chance, abs=0.08)
    assert np.median(found.high) == pytest.approx(39.5, abs=5.0)
    assert np.median(found.outer_high) == pytest.approx(69.5, abs=5.0)


def test_of_two_bands_the_wider_is_the_playable_one() -> None:
    """By construction; the other counts as strays."""
    answers = ".....########......................###......"
    trials = line(answers)
    found = find_bands(trials)
    assert (found.low[0], found.high[0]) == (4.5, 12.5)
    assert count_wrong(trials, found)[2][0] == 3


@settings(deadline=None, max_examples=50)
@given(st.lists(st.sampled_from("#. "), min_size=2, max_size=30))
def test_unanswered_trials_have_no_say(answers: list[str]) -> None:
    """A line with its unanswered trials left out has the same stretches (places kept)."""
    whole = line("".join(answers))
    kept = [k for k, a in enumerate(answers) if a != " "]
    if len(kept) < 2:
        return
    some = Trials.sort(
        np.array([kept], dtype=float),
        np.array([[float(answers[k] == "#") for k in kept]]),
        np.ones((1, len(kept))),
        step=np.ones(1),
    )
    of_whole, of_some = find_bands(whole), find_bands(some)
    for name in Bands.__slots__:
        np.testing.assert_equal(getattr(of_whole, name), getattr(of_some, name))


@settings(deadline=None, max_examples=50)
@given(st.lists(st.sampled_from([0.0, 0.0, 0.25, 0.75, 1.0, 1.0]), min_size=4, max_size=9))
def test_the_stretches_found_are_the_likeliest(shares: list[float]) -> None:
    """Against a search through every possible division of the line, one number at a time."""
    costs = {"beside": 4.0, "alone": 3.0}  # the module's; all else is reckoned anew here

    def of_one(share: float, chance: float) -> float:
        return share * math.log(chance) + (1 - share) * math.log(1 - chance)

    def likelihood(cuts: tuple[int, int, int, int]) -> float:
        a, b, c, d = cuts
        if b == c and a < b and c < d:
            return -math.inf  # two ragged stretches in a row are one
        ragged = costs["alone"] if b == c else costs["beside"]
        total = -ragged * ((a < b) + (c < d))
        for k, share in enumerate(shares):
            stretch = WRONG_SHARE if k < a or k >= d else 1 - WRONG_SHARE if b <= k < c else RAGGED_CHANCE
            total += of_one(share, stretch)
        return total

    n = len(shares)
    every = list(itertools.combinations_with_replacement(range(n + 1), 4))
    best = max(likelihood(c) for c in every)  # type: ignore[arg-type]
    a, b, c, d = (int(k) for k in find_cuts(line(shares), lenient=True)[0])
    if b < c or best == max(likelihood(c) for c in every if c[1] == c[2]):
        assert likelihood((a, b, c, d)) == pytest.approx(best, abs=1e-9)
