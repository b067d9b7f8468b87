"""Maps against planes put together by hand, whose limits, chances and faults are known.

The plane is Schelleng's in shape: F_max = c v / beta and F_min = a / beta^2 (Schelleng, J. Acoust. Soc.
Am. 53, 26-41 (1973); without speed in the least weight, as Schoonderwaldt, Guettler & Askenfelt measured it,
Acta Acust. u. Acust. 94, 604-622 (2008)). Nothing here is computed by the string.
"""

from __future__ import annotations

import math
import time
from collections.abc import Callable
from types import FunctionType

import numpy as np
import pytest
from answering import A_N, C_KG_S, LENGTH, STRING, Constructed, Floats, limits, wedge
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from colophony.errors import InputError
from colophony.physics import maps
from colophony.physics.bowings import Answers, Bowings
from colophony.physics.maps import (
    PlayableRanges,
    ask_wander_room,
    closed_form_ranges,
    contact_distances_m,
    playable_ranges,
    speaking_strokes,
    steady_map,
    steady_maps,
    wander_room,
    wander_rooms,
    weights_n,
)
from colophony.physics.maps.steady import disagree

SPEED = 0.1
#: Half a bracket of the default tolerance, and what float32 does to beta.
FINE = 0.0101


def off(ranges: PlayableRanges) -> Floats:
    """How far the edges lie from the constructed ones, in ratio, [2, n]."""
    least, greatest = limits(ranges.speed_m_s, ranges.beta)
    return np.abs(np.log(np.array([ranges.weight_min_n / least, ranges.weight_max_n / greatest])))


# --- edges


def test_the_edges_of_a_map_are_those_of_the_plane() -> None:
    """Both limits within half the tolerance of 2 % at all 40 distances, though the weights are 18 % apart."""
    found = steady_map(STRING, Constructed(), speed_m_s=SPEED)
    assert found.state.shape == (40, 50)
    assert off(found.ranges).max() <= FINE
    least, greatest = limits(SPEED, found.ranges.beta)
    np.testing.assert_allclose(found.ranges.range_db, 20 * np.log10(greatest / least), atol=0.2)
    assert found.ranges.all_ragged_share == 0.0
    assert np.isnan(found.ranges.share_below).all()
    assert not (found.ranges.min_is_open | found.ranges.max_is_open).any()


@settings(deadline=None, max_examples=25)
@given(
    st.floats(0.3, 1.2), st.floats(0.3e-3, 1.2e-3), st.floats(0.04, 0.3), st.sampled_from([0.01, 0.02, 0.05])
)
def test_ranges_are_found_with_few_strokes_whatever_the_plane(
    upper: float, lower: float, speed: float, tolerance: float
) -> None:
    """Any pair of limits is found within half the tolerance wherever the band is wider than a coarse step,
    with fewer than 100 strokes a distance; weights as fine from end to end would take hundreds.
    """

    def chance(speed: Floats, weight: Floats, beta: Floats, seed: NDArray[np.int64]) -> Floats:
        return ((weight > lower / beta**2) & (weight < upper * speed / beta)).astype(float)

    ask = Constructed(chance)
    (found,) = playable_ranges(STRING, ask, speeds_m_s=speed, tolerance=tolerance)
    wide = upper * speed / found.beta > 1.6 * lower / found.beta**2
    for edge, truth in (
        (found.weight_min_n, lower / found.beta**2),
        (found.weight_max_n, upper * speed / found.beta),
    ):
        tried = np.isfinite(edge) & ~found.max_is_open
        assert np.isfinite(edge[wide]).all()
        assert np.abs(np.log(edge / truth))[tried].max(initial=0.0) <= 0.5 * tolerance + 1e-3
    assert ask.strokes == found.strokes < 100 * len(found.beta)
    assert np.isnan(found.weight_min_n[upper * speed / found.beta <= lower / found.beta**2]).all()


def test_ranges_alone_need_a_quarter_of_the_maps_strokes() -> None:
    """Same edges, no plane: at twelve distances against forty."""
    quick, full = Constructed(), Constructed()
    (found,) = playable_ranges(STRING, quick, speeds_m_s=SPEED)
    steady_map(STRING, full, speed_m_s=SPEED)
    assert quick.strokes <= full.strokes / 4
    assert off(found).max() <= FINE


def test_wrong_answers_strewn_over_the_plane_move_few_edges() -> None:
    """3 % of all answers turned round. Nine edges of ten stay within 2 %, all within a step of the grid
    (18 %); the share of holes is 3 % of some 400 cells, give or take three standard errors (2.6 %).
    """
    found = steady_map(STRING, Constructed(wrong=0.03), speed_m_s=SPEED)
    assert (off(found.ranges) <= 0.02).mean() >= 0.9
    assert off(found.ranges).max() <= 0.18
    assert found.ranges.all_ragged_share == pytest.approx(0.03, abs=0.026)
    assert found.ranges.strays.sum() > 0


def test_a_wrong_cell_beside_an_edge_is_found_out() -> None:
    """The one weight just below every greatest weight reads as not clean: edges move by 5 % at most, a third
    of a step, and where the weight lies farther inside, it is counted as a hole.
    """
    weights = np.geomspace(0.01, 10.0, 50)

    def chance(speed: Floats, weight: Floats, beta: Floats, seed: NDArray[np.int64]) -> Floats:
        good = wedge(speed, weight, beta, seed)
        last = np.searchsorted(weights, C_KG_S * speed / beta) - 1
        return np.where(np.isclose(weight, weights[last], rtol=1e-3), 0.0, good)

    found = steady_map(STRING, Constructed(chance), speed_m_s=SPEED, weights_n=weights)
    assert off(found.ranges).max() <= 0.05
    assert (found.ranges.wrong == 1).mean() >= 0.6


def test_a_ragged_boundary_is_told_with_its_share() -> None:
    """From the greatest weight to twice that 60 % of the strokes speak, 10 weights: told at eight distances
    of ten (elsewhere the throws fell so that an edge with a hole or a stray is as likely); there the clean
    edge lies within two steps (15 %) of the true one in the middle, the ragged end within three of twice
    that, the mean share within 0.1.
    """

    def chance(speed: Floats, weight: Floats, beta: Floats, seed: NDArray[np.int64]) -> Floats:
        least, greatest = limits(speed, beta)
        return np.where(weight <= least, 0.0, np.where(weight < greatest, 1.0, 0.6 * (weight < 2 * greatest)))

    found = steady_map(
        STRING, Constructed(chance), speed_m_s=SPEED, weights_n=np.geomspace(0.01, 10, 100)
    ).ranges
    _, greatest = limits(SPEED, found.beta)
    ragged = ~np.isnan(found.share_above)
    assert ragged.mean() >= 0.8
    assert np.isnan(found.share_below).all()
    assert np.mean(found.share_above[ragged]) == pytest.approx(0.6, abs=0.1)
    assert np.median(found.weight_max_n / greatest) == pytest.approx(1.0, abs=0.15)
    assert np.median((found.ragged_max_n / greatest)[ragged]) == pytest.approx(2.0, abs=0.4)


def test_a_distance_without_a_clean_band_says_none() -> None:
    """Nothing speaks nearer than 15 mm: no edges, no range in dB, no share there; elsewhere there are."""

    def chance(speed: Floats, weight: Floats, beta: Floats, seed: NDArray[np.int64]) -> Floats:
        return wedge(speed, weight, beta, seed) * (beta * LENGTH > 0.015)

    found = steady_map(STRING, Constructed(chance), speed_m_s=SPEED).ranges
    near = found.distance_m < 0.015
    for column in (found.weight_min_n, found.weight_max_n, found.range_db, found.share, found.ragged_share):
        assert np.isnan(column[near]).all()
        assert np.isfinite(column[~near]).all()


def test_of_two_bands_the_wider_is_the_range() -> None:
    """A second, narrower band far above the greatest weight leaves the edges alone and shows as strays."""

    def chance(speed: Floats, weight: Floats, beta: Floats, seed: NDArray[np.int64]) -> Floats:
        _, greatest = limits(speed, beta)
        above = (weight > 4 * greatest) & (weight < 5.5 * greatest)
        return np.maximum(wedge(speed, weight, beta, seed), above)

    found = steady_map(
        STRING, Constructed(chance), speed_m_s=SPEED, weights_n=np.geomspace(0.01, 18, 60)
    ).ranges
    wide = found.range_db > 8.0
    assert off(found)[:, wide].max() <= FINE
    assert (found.strays[wide] >= 2).mean() >= 0.8


def test_a_grid_that_stops_short_of_the_greatest_weight_says_so() -> None:
    """Weights to 0.5 N hide the greatest weight near the bridge: the edge is open there, and only there."""
    found = steady_map(STRING, Constructed(), speed_m_s=SPEED, weights_n=np.geomspace(0.01, 0.5, 30)).ranges
    _, greatest = limits(SPEED, found.beta)
    played = np.isfinite(found.weight_max_n)
    assert (found.max_is_open[played] == (greatest > 0.5)[played]).all()
    assert np.all(found.weight_max_n[found.max_is_open] <= 0.5 * (0.5 / 0.01) ** (0.5 / 29) + 1e-9)


def test_no_closer_look_is_heavier_than_a_bow() -> None:
    """Clean from 17 N on, in weights to 20 N, the most a survey bows: the edge is found, open above."""
    heaviest = []

    def chance(speed: Floats, weight: Floats, beta: Floats, seed: NDArray[np.int64]) -> Floats:
        heaviest.append(weight.max())
        return (weight > 17.0).astype(float)

    found = steady_map(
        STRING, Constructed(chance), speed_m_s=SPEED, weights_n=np.geomspace(0.1, 20.0, 30)
    ).ranges
    assert max(heaviest) <= 20.0
    np.testing.assert_allclose(found.weight_min_n, 17.0, rtol=FINE)
    assert found.max_is_open.all()


def test_edges_left_on_the_grid_lie_within_half_a_step() -> None:
    """Without a tolerance there is one stroke a cell and no other."""
    ask = Constructed()
    found = steady_map(STRING, ask, speed_m_s=SPEED, tolerance=None)
    step = math.log(found.weight_n[1] / found.weight_n[0])
    assert off(found.ranges).max() <= 0.5 * step + 1e-6
    assert ask.strokes == found.ranges.strokes == 40 * 50


# --- probability


def test_the_probability_of_a_cell_is_the_chance_it_was_made_with() -> None:
    """A boundary that fades over a decade of weight, 24 further runs of each cell at odds with a neighbour:
    the mean error over those cells is what 25 throws have, at most 0.1, and no bias beyond 0.03.
    """

    def chance(speed: Floats, weight: Floats, beta: Floats, seed: NDArray[np.int64]) -> Floats:
        _, greatest = limits(speed, beta)
        return 1.0 / (1.0 + (weight / greatest) ** 4)

    found = steady_map(STRING, Constructed(chance), speed_m_s=SPEED, repeats=24, tolerance=None)
    truth = chance(
        np.float64(SPEED),
        found.weight_n[None],
        found.ranges.beta[:, None],
        np.int64(0),  # type: ignore[arg-type]
    )
    again = found.runs == 25
    assert set(np.unique(found.runs)) == {1, 25}
    assert again.sum() > 200
    error = (found.probability - truth)[again]
    assert np.abs(error).mean() <= 0.1
    assert abs(error.mean()) <= 0.03


def test_only_cells_at_odds_with_a_neighbour_are_asked_again() -> None:
    """On a clean plane these lie along the edges; all other cells are asked once and are 0 or 1."""
    found = steady_map(STRING, Constructed(), speed_m_s=SPEED, repeats=3, tolerance=None)
    assert ((found.runs > 1) == disagree(found.state)).all()
    assert 0.05 <= (found.runs > 1).mean() <= 0.25
    assert set(np.unique(found.probability)) == {0.0, 1.0}


def test_neighbours_of_another_speed_are_no_neighbours() -> None:
    """Two speeds, one all clean and one all not: lines are ordered by distance, and nothing is at odds."""
    state = np.tile(np.array([[0], [2]], dtype=np.int8), (5, 8))
    assert not disagree(state, speeds=2).any()
    assert disagree(state, speeds=1).all()


# --- families, distances as simulated


def test_a_family_of_speeds_is_the_maps_of_each() -> None:
    """Same cells as one by one, and all speeds of a distance are asked in one block."""
    distances, weights = contact_distances_m(STRING, count=6), np.geomspace(0.01, 8.0, 20)
    ask = Constructed()
    family = steady_maps(
        STRING,
        ask,
        speeds_m_s=(0.05, 0.1, 0.2),
        distances_m=distances,
        weights_n=weights,
        strokes_at_once=10**6,
    )
    assert ask.calls[0] == 6 * 20 * 3
    for found in family:
        alone = steady_map(
            STRING, Constructed(), speed_m_s=found.ranges.speed_m_s, distances_m=distances, weights_n=weights
        )
        np.testing.assert_array_equal(found.state, alone.state)
        least, greatest = limits(found.ranges.speed_m_s, found.ranges.beta)
        there = greatest > 1.5 * least
        assert off(found.ranges)[:, there].max() <= FINE
        assert np.isnan(off(found.ranges)[:, greatest < least]).all()
    assert [found.ranges.speed_m_s for found in family] == [0.05, 0.1, 0.2]


def test_strokes_of_one_distance_stand_side_by_side() -> None:
    """A block holds whole distances, so that strokes that share one can be played together."""
    seen: list[Floats] = []
    ask = Constructed()

    def noting(bowings: Bowings) -> Answers:
        seen.append(np.asarray(bowings.distance_m))
        return ask(bowings)

    steady_maps(STRING, noting, speeds_m_s=(0.05, 0.1), strokes_at_once=300)
    for distances in seen:
        assert np.all(np.diff(distances) >= 0.0)


def test_the_distance_that_counts_is_the_one_played() -> None:
    """An engine that plays places in steps of 3 mm: limits belong to where it played, and wander room too."""
    step = 0.003

    def in_steps(bowings: Bowings) -> Answers:
        place = np.round(np.asarray(bowings.distance_m) / step) * step
        return Constructed()(
            Bowings(
                bowings.speed_m_s,
                bowings.weight_n,
                place,
                bowings.tilt_deg,
                bowings.acceleration_m_s2,
                bowings.seed,
            )
        )

    found = steady_map(STRING, in_steps, speed_m_s=SPEED).ranges
    assert np.abs(found.played_distance_m - found.distance_m).max() > 0.001
    assert off(found).max() <= FINE
    read = wander_room(found, distance_m=0.021, weight_n=0.8)
    asked = ask_wander_room(STRING, in_steps, distance_m=0.021, weight_n=0.8, speed_m_s=SPEED)
    assert read is not None
    assert asked is not None
    for room in (read, asked):
        assert room.nearest_m == pytest.approx(LENGTH * math.sqrt(A_N / 0.8), abs=step)
        assert room.farthest_m == pytest.approx(C_KG_S * SPEED * LENGTH / 0.8, abs=step)


# --- wander room


@settings(deadline=None, max_examples=25)
@given(st.floats(0.008, 0.05), st.floats(0.1, 0.9))
def test_wander_room_read_and_asked_agree(distance: float, share: float) -> None:
    """At any playable point both give the span between d = L sqrt(a / F) and d = c v L / F, within 3 %:
    straight lines in logarithms are exact for power laws.
    """
    least, greatest = (float(x) for x in limits(SPEED, distance / LENGTH))
    weight = least ** (1 - share) * greatest**share
    (ranges,) = playable_ranges(STRING, Constructed(), speeds_m_s=SPEED)
    read = wander_room(ranges, distance_m=distance, weight_n=weight)
    asked = ask_wander_room(STRING, Constructed(), distance_m=distance, weight_n=weight, speed_m_s=SPEED)
    assert read is not None
    assert asked is not None
    near, far = LENGTH * math.sqrt(A_N / weight), C_KG_S * SPEED * LENGTH / weight
    first, last = ranges.distance_m[0], ranges.distance_m[-1]
    for room in (read, asked):
        assert room.nearest_m == pytest.approx(max(near, first), rel=0.03)
        assert room.farthest_m == pytest.approx(min(far, last), rel=0.03)
        # An edge that lies at the map's own end, within the tolerance, may be seen or not.
        if abs(near / first - 1) > 0.03:
            assert room.nearest_is_open == (near < first)
        if abs(far / last - 1) > 0.03:
            assert room.farthest_is_open == (far > last)
    assert read.width_m == read.farthest_m - read.nearest_m


def test_every_distance_of_a_map_has_its_room() -> None:
    """Around the middle of each range, sqrt(a c v / beta^3): from L sqrt(a / F) to c v L / F within 3 %;
    none where nothing speaks.
    """

    def chance(speed: Floats, weight: Floats, beta: Floats, seed: NDArray[np.int64]) -> Floats:
        return wedge(speed, weight, beta, seed) * (beta * LENGTH > 0.01)

    found = steady_map(STRING, Constructed(chance), speed_m_s=SPEED).ranges
    rooms = wander_rooms(found)
    assert [room is None for room in rooms] == (found.distance_m < 0.01).tolist()
    for beta, room in zip(found.beta, rooms, strict=True):
        if room is not None:
            weight = math.sqrt(A_N * C_KG_S * SPEED / beta**3)
            near, far = LENGTH * math.sqrt(A_N / weight), C_KG_S * SPEED * LENGTH / weight
            assert room.nearest_m == pytest.approx(max(near, 0.01), rel=0.03)
            assert room.farthest_m == pytest.approx(min(far, 0.055), rel=0.03)


def test_limits_between_two_distances_lie_on_the_power_law() -> None:
    """Twelve distances; at any other the limits are the plane's within 2 %, and none beyond the ends."""
    (found,) = playable_ranges(STRING, Constructed(), speeds_m_s=SPEED)
    for distance in (0.007, 0.0123, 0.031, 0.054):
        assert found.limits_at(distance) == pytest.approx(limits(SPEED, distance / LENGTH), rel=0.02)
    assert np.isnan(found.limits_at(0.06)).all()


def test_a_point_that_does_not_speak_has_no_room() -> None:
    """Above the greatest weight there is no span to wander in, read or asked."""
    (ranges,) = playable_ranges(STRING, Constructed(), speeds_m_s=SPEED)
    assert wander_room(ranges, distance_m=0.03, weight_n=3.0) is None
    assert ask_wander_room(STRING, Constructed(), distance_m=0.03, weight_n=3.0, speed_m_s=SPEED) is None


def test_a_distance_without_a_band_bounds_the_room() -> None:
    """Nothing speaks nearer than 20 mm: room ends between the last distance that does and the next."""

    def chance(speed: Floats, weight: Floats, beta: Floats, seed: NDArray[np.int64]) -> Floats:
        return wedge(speed, weight, beta, seed) * (beta * LENGTH > 0.02)

    found = steady_map(STRING, Constructed(chance), speed_m_s=SPEED).ranges
    room = wander_room(found, distance_m=0.03, weight_n=0.6)
    assert room is not None
    assert room.nearest_m == pytest.approx(0.02, rel=0.03)


def test_a_point_outside_the_map_is_refused() -> None:
    """No guess where nothing was asked."""
    (ranges,) = playable_ranges(STRING, Constructed(), speeds_m_s=SPEED)
    with pytest.raises(InputError, match=r"outside the map: choose 6\.5 to 55\.0 mm"):
        wander_room(ranges, distance_m=0.08, weight_n=0.5)


# --- closed forms


def test_the_published_limits_stand_beside_the_map_in_its_own_form() -> None:
    """D string of the bowing machine (Z0 = 0.25 kg/s) at 10 cm/s and beta = 0.1: greatest weight about 0.73
    N, least about 0.04 N: worked example after Schoonderwaldt, Guettler & Askenfelt (2008), table of c.
    """
    from dataclasses import replace

    machine = replace(
        STRING,
        mass_per_length_kg_m=1.29e-3,
        sounding_length_m=0.25 / (2 * 1.29e-3 * STRING.open_frequency_hz),
    )
    at = [0.1 * machine.sounding_length_m]
    for law in ("schoonderwaldt_2008", "schelleng_1973"):
        found = closed_form_ranges(machine, speed_m_s=0.1, distances_m=at, law=law)
        assert found.weight_max_n[0] == pytest.approx(0.73, abs=0.03)
        assert found.weight_min_n[0] == pytest.approx(0.04, abs=0.005)
    with pytest.raises(InputError, match="choose schoonderwaldt_2008 or schelleng_1973"):
        closed_form_ranges(machine, speed_m_s=0.1, distances_m=at, law="raman_1918")


def test_schellengs_range_grows_in_proportion_to_distance() -> None:
    """F_max / F_min = 4 beta R / Z0: Schelleng (1973). No range where that falls below one."""
    distances = np.array([0.002, 0.01, 0.02, 0.04])
    found = closed_form_ranges(STRING, speed_m_s=0.1, distances_m=distances, law="schelleng_1973")
    ratio = found.weight_max_n / found.weight_min_n
    np.testing.assert_allclose(ratio[2:] / ratio[1:-1], 2.0, rtol=1e-9)
    assert np.isnan(ratio[0])
    assert wander_room(found, distance_m=0.03, weight_n=0.5) is not None


@pytest.mark.parametrize("speed", [0.02, 0.1, 0.5, 1.0])
def test_the_default_weights_reach_above_every_published_limit(speed: float) -> None:
    """Above the greatest measured weight anywhere on the map, up to the 20 N no bow goes beyond, and 4 N at
    least: a grid to 1.47 N hides it at 15 to 20 cm/s (0.75 vb / beta, Schoonderwaldt et al. 2008).
    """
    distances = contact_distances_m(STRING)
    weights = weights_n(STRING, speed_m_s=speed, distance_m=distances)
    published = closed_form_ranges(STRING, speed_m_s=speed, distances_m=distances)
    beta = distances / LENGTH
    greatest = 0.75 * (STRING.impedance_kg_s / 0.25) * speed / beta
    assert weights[-1] >= min(greatest.max(), 20.0)
    assert weights[-1] >= 4.0
    assert weights[0] <= np.nanmin(published.weight_min_n)
    assert weights[-1] <= 20.0 + 1e-9


# --- tables


def test_a_table_says_what_speaks_and_how_far_each_variable_may_wander() -> None:
    """Five places, 20 cm/s: weight in the middle of the range, speed from F beta / c upwards, distance
    between the two limits, each within 4 %.
    """
    distances = [0.0085, 0.0165, 0.0275, 0.0385, 0.0495]
    ask = Constructed()
    rows = speaking_strokes(STRING, ask, distances_m=distances, speeds_m_s=0.2)
    assert ask.strokes < 200 * len(rows)
    for row, distance in zip(rows, distances, strict=True):
        least, greatest = (float(x) for x in limits(0.2, distance / LENGTH))
        assert row.speaks
        assert row.weight_n == pytest.approx(math.sqrt(least * greatest), rel=0.04)
        assert row.range_db == pytest.approx(20 * math.log10(greatest / least), abs=0.5)
        assert row.speed_min_m_s == pytest.approx(row.weight_n * distance / LENGTH / C_KG_S, rel=0.04)
        assert row.speed_is_open == (False, True)
        assert row.wander is not None
        near = LENGTH * math.sqrt(A_N / row.weight_n)
        assert row.wander.nearest_m == pytest.approx(max(near, 0.0065), rel=0.04)
        far = C_KG_S * 0.2 * LENGTH / row.weight_n
        assert row.wander.farthest_m == pytest.approx(min(far, 0.055), rel=0.04)


def test_a_speed_that_speaks_is_found_where_none_is_given() -> None:
    """Slower near the bridge, where the plane speaks below v = d / 0.1 s only: the speed is the
    family's nearest to the middle, in ratio, between 3 cm/s and that.
    """

    def chance(speed: Floats, weight: Floats, beta: Floats, seed: NDArray[np.int64]) -> Floats:
        slow = speed < beta * LENGTH / 0.1
        return slow * (weight > 0.2 * C_KG_S * speed / beta) * (weight < C_KG_S * speed / beta)

    distances = [0.008, 0.02, 0.05]
    rows = speaking_strokes(STRING, Constructed(chance), distances_m=distances)
    for row, distance in zip(rows, distances, strict=True):
        assert row.speaks
        assert row.speed_m_s == pytest.approx(math.sqrt(0.03 * distance / 0.1), rel=0.4)
        quickest = min(distance / 0.1, row.weight_n * distance / LENGTH / (0.2 * C_KG_S))
        assert row.speed_max_m_s == pytest.approx(quickest, rel=0.05)
    assert rows[0].speed_m_s <= rows[1].speed_m_s < rows[2].speed_m_s


def test_up_the_string_the_table_draws_together() -> None:
    """An octave up half the string sounds: the same shares of the length, half the distances, the same
    weights; wander room in mm is half as wide. (Sounding points are relative; C. Flesch 1924.)
    """
    distances = np.array([0.0165, 0.0275])
    f = STRING.open_frequency_hz
    low = speaking_strokes(STRING, Constructed(), distances_m=distances, speeds_m_s=0.2)
    high = speaking_strokes(
        STRING,
        Constructed(length_m=LENGTH / 2),
        distances_m=distances / 2,
        speeds_m_s=[0.2, 0.2],
        frequency_hz=2 * f,
    )
    for a, b in zip(low, high, strict=True):
        assert b.beta == pytest.approx(a.beta, rel=1e-5)
        assert b.weight_n == pytest.approx(a.weight_n, rel=0.02)
        assert a.wander is not None
        assert b.wander is not None
        assert b.wander.nearest_m == pytest.approx(a.wander.nearest_m / 2, rel=0.04)


def test_a_place_where_nothing_speaks_is_a_row_that_says_so() -> None:
    """No weight, no room, and no error."""

    def chance(speed: Floats, weight: Floats, beta: Floats, seed: NDArray[np.int64]) -> Floats:
        return wedge(speed, weight, beta, seed) * (beta * LENGTH > 0.012)

    near, far = speaking_strokes(
        STRING, Constructed(chance), distances_m=[0.008, 0.03], speeds_m_s=[0.1, 0.2]
    )
    assert not near.speaks
    assert near.wander is None
    assert math.isnan(near.speed_min_m_s)
    assert far.speaks


# --- progress, interruption, cost


def test_progress_rises_to_the_end() -> None:
    """Told after every block; never more than expected, and done at the end."""
    told: list[tuple[int, int]] = []
    ask = Constructed(wrong=0.02)
    steady_map(STRING, ask, speed_m_s=SPEED, repeats=1, progress=lambda *now: told.append(now))
    done = [d for d, _ in told]
    assert done == sorted(done)
    assert all(d <= total for d, total in told)
    assert told[-1] == (ask.strokes, ask.strokes)
    assert len(told) >= len(ask.calls)


@pytest.mark.parametrize("after", [0, 700, 1100, 2300])
def test_an_interruption_keeps_what_was_answered(after: int) -> None:
    """Stopped in the grid or among the edges: answered cells are the full map's, the rest is -1 and nan."""
    full = steady_map(STRING, Constructed(), speed_m_s=SPEED)
    ask = Constructed(interrupt_after=after)
    found = steady_map(STRING, ask, speed_m_s=SPEED, strokes_at_once=500)
    assert not found.ranges.is_finished
    assert full.ranges.is_finished
    known = found.state >= 0
    assert known.sum() == min(ask.strokes, 2000)
    np.testing.assert_array_equal(found.state[known], full.state[known])
    assert np.isnan(found.probability[~known]).all()
    whole = known.all(axis=1)
    assert np.all(off(found.ranges)[:, whole] <= 0.1)
    assert np.isnan(found.ranges.weight_max_n[~known.any(axis=1)]).all()


def test_an_interrupted_table_says_that_it_is_not_finished() -> None:
    """And half a line of distances, which tells nothing, is no room but an interruption."""
    rows = speaking_strokes(
        STRING, Constructed(interrupt_after=150), distances_m=[0.02, 0.03], speeds_m_s=0.1
    )
    assert not any(row.is_finished for row in rows)
    with pytest.raises(KeyboardInterrupt):
        ask_wander_room(STRING, Constructed(interrupt_after=10), distance_m=0.02, weight_n=0.5, speed_m_s=0.1)


def test_all_but_the_string_costs_little() -> None:
    """Under 20 ms of this process outside ``ask`` for 2,000 strokes, wrong answers, edges and all."""
    inside = 0.0
    ask = Constructed(wrong=0.03)

    def timed(bowings: Bowings) -> Answers:
        nonlocal inside
        begun = time.process_time()
        answers = ask(bowings)
        inside += time.process_time() - begun
        return answers

    costs = []
    for _ in range(8):
        inside, begun = 0.0, time.process_time()
        steady_map(STRING, timed, speed_m_s=SPEED)
        costs.append(time.process_time() - begun - inside)
    assert min(costs) / (ask.strokes / len(costs)) * 2000 < 0.020


# --- refusals and names


@pytest.mark.parametrize(
    ("wanted", "says"),
    [
        (lambda: steady_map(STRING, Constructed(), speed_m_s=-0.1), "above 0 m/s"),
        (lambda: steady_map(STRING, Constructed(), speed_m_s=0.1, distances_m=[0.03, 0.02]), "must ascend"),
        (lambda: steady_map(STRING, Constructed(), speed_m_s=0.1, weights_n=[0.0, 1.0]), "above 0 N"),
        (lambda: steady_map(STRING, Constructed(), speed_m_s=0.1, repeats=1000), "choose 0 to 100"),
        (lambda: steady_map(STRING, Constructed(), speed_m_s=0.1, tolerance=0.0), "choose 0.2 to 50 %"),
        (
            lambda: speaking_strokes(
                STRING, Constructed(), distances_m=[0.02, 0.03, 0.04], speeds_m_s=[0.1, 0.2]
            ),
            "2 speeds for 3 distances",
        ),
    ],
)
def test_what_no_map_can_be_made_of_is_refused(wanted: Callable[[], object], says: str) -> None:
    """One line that names the limit."""
    with pytest.raises(InputError, match=says):
        wanted()


def test_the_public_names_are_all_there() -> None:
    """Listed by hand, once each, and what is called or made says what it is."""
    assert len(set(maps.__all__)) == len(maps.__all__)
    for name in maps.__all__:
        thing = getattr(maps, name)
        if isinstance(thing, type | FunctionType):
            assert thing.__doc__
