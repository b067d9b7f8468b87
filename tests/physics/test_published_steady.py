"""Steady bowing held against the bowing machine: limits of weight, slopes, pitch, colour, classifiers.

The string is the machine's steel D on a bridge that stands still: Z0 = 0.25 kg/s, 1.29 g/m, 330 mm; what
was not published of it (losses, stiffness, torsion) is the catalogue's violin D. Judged are the maps as
they are shipped (200 samples a period) and, where the samples matter, ranges at the machine's own distances
with 800. A figure outside the published one is a strict expected failure that says by how much.
"""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np
import published as p
import pytest

from colophony.physics.limits.schoonderwaldt_2008 import MEASURED_LOWER_N, MEASURED_UPPER_KG_S
from colophony.physics.maps import PlayableRanges
from colophony.physics.regimes import STATES

Ranges = tuple[PlayableRanges, ...]


@pytest.fixture(params=["as shipped", "800 samples"])
def ranges(request: pytest.FixtureRequest) -> Ranges:
    """The playable ranges at four speeds."""
    return p.shipped_ranges() if request.param == "as shipped" else p.machine_ranges(samples=p.FINE)


@pytest.fixture
def patient() -> Ranges:
    """The same after 400 periods."""
    return p.machine_ranges(periods=p.PATIENT)


# --- the greatest weight


@pytest.mark.parametrize(
    ("speed", "published", "uncertainty"),
    [(0.05, 1.0, 0.24), (0.10, 0.75, 0.15), (0.15, 0.75, 0.15), (0.20, 0.75, 0.15)],
)  # fmt: skip
def test_the_greatest_weight_is_the_bowing_machines(
    ranges: Ranges, speed: float, published: float, uncertainty: float
) -> None:
    """F_max = c vb / beta with c of 1.0 +- 0.24 kg/s at 5 cm/s, 0.73 to 0.75 kg/s from 10 cm/s on:
    Schoonderwaldt, Guettler & Askenfelt, Acta Acust. u. Acust. 94, 604-622 (2008), steel D. The tolerance
    from 10 cm/s on is our own, 0.15: their scatter between speeds and one step of their grid (18 %).
    """
    assert published == pytest.approx(MEASURED_UPPER_KG_S[speed][0], abs=0.03)
    law = p.upper_law(ranges, speed)
    assert law.points >= 9  # of 14: near the bridge some have no edge, which ones hangs on the last digit
    assert law.constant == pytest.approx(published, abs=uncertainty)


def test_the_greatest_weight_grows_in_proportion_to_speed(ranges: Ranges) -> None:
    """The published c at 10, 15 and 20 cm/s are equal within their errors (same source); here within 15 % of
    their mean.
    """
    c = np.array([p.upper_law(ranges, speed).constant for speed in (0.10, 0.15, 0.20)])
    assert np.abs(c / c.mean() - 1).max() <= 0.15


@pytest.mark.parametrize("speed", [0.10, 0.15, 0.20])
def test_the_greatest_weight_falls_as_one_over_distance(ranges: Ranges, speed: float) -> None:
    """F_max in proportion to 1 / beta: Schelleng, J. Acoust. Soc. Am. 53, 26-41 (1973). Free log-log slope
    within 0.25 of -1.
    """
    assert p.upper_law(ranges, speed).slope == pytest.approx(-1.0, abs=0.25)


def test_at_5_cm_per_s_the_shipped_maps_greatest_weight_falls_less_steeply() -> None:
    """Slope of about -0.5 at 5 cm/s: Schoonderwaldt, Guettler & Askenfelt (2008). It is -0.69 as shipped, but
    for a reason of its own: see the next test.
    """
    assert p.upper_law(p.shipped_ranges(), 0.05).slope == pytest.approx(-0.5, abs=0.25)


@pytest.mark.xfail(
    reason="-0.85: with 200 samples the ribbon is played 13 mm wide, which flattens the slope at every speed",
    strict=True,
    raises=AssertionError,
)
def test_at_5_cm_per_s_the_greatest_weight_falls_less_steeply() -> None:
    """The same with the ribbon as wide as it is, 800 samples a period."""
    assert p.upper_law(p.machine_ranges(samples=p.FINE), 0.05).slope == pytest.approx(-0.5, abs=0.25)


# --- the least weight, after 400 periods


@pytest.mark.parametrize("speed", p.SPEEDS)
def test_the_least_weight_is_of_the_published_size(patient: Ranges, speed: float) -> None:
    """F_min beta^2 = 0.37 mN on the mean of four speeds (same source). Within a factor of 3: it hangs on the
    bridge and on how long one waits.
    """
    assert abs(math.log(p.lower_law(patient, speed).constant / MEASURED_LOWER_N)) <= math.log(3)


@pytest.mark.parametrize("speed", p.SPEEDS)
def test_the_least_weight_grows_towards_the_bridge(patient: Ranges, speed: float) -> None:
    """Exponent -2 in Schelleng (1973), -0.9 to -1.3 in measurements on a cello by Lampis, Mayer &
    Chatziioannou (Zenodo 17749110 and following; the fit at second hand, not seen). Our own figure of both:
    -0.8 to -2.2.
    """
    assert -2.2 <= p.lower_law(patient, speed).slope <= -0.8


@pytest.mark.xfail(
    reason="grows about as the root of speed: 1.7 times from 5 to 20 cm/s", strict=True, raises=AssertionError
)
def test_the_least_weight_does_not_depend_on_speed(patient: Ranges) -> None:
    """0.35, 0.42, 0.35 and 0.36 mN / beta^2 at 5 to 20 cm/s, with errors of 0.03 to 0.06 (same source):
    20 cm/s over 5 cm/s is 1.03, at most 1.3.
    """
    slow, fast = (p.lower_law(patient, speed).constant for speed in (0.05, 0.20))
    assert 1 / 1.3 <= fast / slow <= 1.3


# --- pitch


@pytest.mark.parametrize(("beta", "speed"), p.PITCHED)
def test_weight_flattens_the_pitch_all_the_way(beta: float, speed: float) -> None:
    """Pitch falls with weight towards the upper limit: hysteresis, McIntyre & Woodhouse, Acustica 43, 93-108
    (1979). On the flexible string; by at most 80 cents (77 in Schoonderwaldt, J. Acoust. Soc. Am. 126,
    2709-2720 (2009)). Repeatable to 0.3 cent.
    """
    cents = [c for _, c in p.flattening(beta, speed, stiffness=False)]
    assert len(cents) >= 8
    assert all(later <= before + 0.3 for before, later in pairwise(cents))
    assert -80 <= cents[-1] < cents[0] - 10


def _missed(reason: str) -> pytest.MarkDecorator:
    return pytest.mark.xfail(reason=reason, strict=True, raises=AssertionError)


@pytest.mark.parametrize(
    ("beta", "speed"),
    [
        pytest.param(0.1, 0.05, marks=_missed("2.6 cents")),
        pytest.param(0.1, 0.1, marks=_missed("4.4 cents")),
        (0.1, 0.2), (0.05, 0.1), (0.05, 0.2),
    ],
)  # fmt: skip
def test_at_two_fifths_of_the_greatest_weight_the_pitch_is_5_to_10_cents_flat(
    beta: float, speed: float
) -> None:
    """The contours of 5 to 10 cents run parallel to F_max at a weight 2 to 3 times less: Schoonderwaldt
    (2009), in the middle of that range. F_max is that of the same runs; flexible string.
    """
    assert 5.0 <= -p.flat_at(beta, speed, 2.5, stiffness=False) <= 10.0


@pytest.mark.parametrize(
    ("beta", "speed"),
    [
        pytest.param(0.1, 0.05, marks=_missed("3.8 cents at most")),
        (0.1, 0.1), (0.1, 0.2), (0.05, 0.1), (0.05, 0.2),
    ],
)  # fmt: skip
def test_at_a_half_to_a_third_of_the_greatest_weight_the_pitch_is_5_to_10_cents_flat(
    beta: float, speed: float
) -> None:
    """The contours of 5 to 10 cents run parallel to F_max at a weight 2 to 3 times less: Schoonderwaldt
    (2009). Our own reading of the range: what happens between the two overlaps 5 to 10 cents. F_max is that
    of the same runs; flexible string.
    """
    at_a_half, at_a_third = (-p.flat_at(beta, speed, n, stiffness=False) for n in (2, 3))
    assert at_a_half >= 5.0
    assert at_a_third <= 10.0


def test_a_stiff_string_sounds_sharper_bowed_than_ringing() -> None:
    """About 6 cents above the plucked string's decay at light weights: Schoonderwaldt (2009). Bending
    stiffness does it; without it there is none.
    """
    stiff = max(c for _, c in p.flattening(0.1, 0.1, stiffness=True))
    flexible = max(c for _, c in p.flattening(0.1, 0.1, stiffness=False))
    assert stiff == pytest.approx(6.0, abs=3.0)
    assert flexible < 0.5


# --- colour


@pytest.mark.parametrize("speed", [0.05, 0.1, 0.2])
def test_weight_brightens_the_tone(speed: float) -> None:
    """Bow force is "by far the most dominant parameter" of the spectral centroid, which spans 0.8 to 3 kHz:
    Schoonderwaldt, Acta Acust. u. Acust. 95, 901-914 (2009). By 1.5 times at least over the playable range
    (our own figure), at the bridge.
    """
    played = [r.centroid_hz for _, r in p.playable(0.1, speed)]
    assert played[-1] >= 1.5 * played[0]


@pytest.mark.parametrize("weight", [0.24, pytest.param(0.3, marks=_missed("moves by 25 % instead of 17 %"))])
def test_distance_alone_changes_the_colour_little(weight: float) -> None:
    """Distance and speed "act indirectly" (same source): over 0.06 to 0.15 of the length (0.08 to 0.15 at the
    lesser weight, which is too light for 0.06) at one weight the centroid moves by less than a sixth of what
    weight does at one place.
    """
    readings = p.over_distance(weight)
    if any(reading.state != "helmholtz" for reading in readings):
        raise ValueError(f"other motion at {weight} N: the colours of one state are compared")
    places = [reading.centroid_hz for reading in readings]
    played = [r.centroid_hz for _, r in p.playable(0.1, 0.1)]
    assert max(places) / min(places) - 1 < (played[-1] / played[0] - 1) / 6


def test_speed_at_one_weight_dulls_a_little() -> None:
    """Higher speed at the same force rounds the corner (same source): the centroid falls, by less than a
    quarter from 5 to 20 cm/s.
    """
    readings = p.over_speed()
    assert all(reading.state == "helmholtz" for reading in readings)
    slow, middle, fast = (reading.centroid_hz for reading in readings)
    assert slow > middle > fast > 0.75 * slow


# --- the classifiers


def test_velocity_and_bridge_force_tell_the_same() -> None:
    """Two published ways, counting slips under the bow (Woodhouse, Acustica 78, 137-153 (1993)) and flybacks
    at the bridge (Galluzzo & Woodhouse, Acta Acust. u. Acust. 100, 139-153 (2014)), agree on Helmholtz motion
    or not in 90 % of the cells at each speed (our own figure).
    """
    by_velocity, by_force = p.judged_both_ways()
    assert np.all(by_velocity.any(axis=1))
    assert np.all((by_velocity == by_force).mean(axis=1) >= 0.9)


def test_the_band_of_good_tone_has_few_holes() -> None:
    """Schelleng's plane is one region between two edges (Schelleng 1973): cells on the wrong side of their
    column's edges are at most 4 % of the band (our own figure).
    """
    assert p.ragged_share(p.shipped_maps()) <= 0.04


def test_the_bowed_region_has_the_published_shape_at_every_speed() -> None:
    """Below the band several slips, above it no rhythm: Schelleng (1973), Woodhouse (1993). At every speed
    nine of ten contact distances have a band; of the three cells below it most read as several slips
    or none, and at over twice its greatest weight (single cells stray above an edge) none is Helmholtz.
    The counts are our own.
    """
    helmholtz, low = STATES.index("helmholtz"), STATES.index("low-anomalous")
    faint = [STATES.index("multiple-slip"), STATES.index("noise")]
    for chart in p.shipped_maps():
        rows = p.played(chart.ranges)
        least, greatest = chart.ranges.weight_min_n[rows], chart.ranges.weight_max_n[rows]
        assert np.isfinite(least).mean() >= 0.9
        for states, low_edge, high_edge in zip(chart.state[rows], least, greatest, strict=True):
            below = states[chart.weight_n < low_edge]
            assert np.isin(below[-3:], faint).sum() >= len(below[-3:]) / 2
            assert low not in below
            assert helmholtz not in states[chart.weight_n > 2 * high_edge]


# --- width


def test_width_does_away_with_s_motion() -> None:
    """Finite width suppresses S-motion: Woodhouse, Euphonics, section 9.7. Looked for where it is at home,
    farther from the bridge than the machine's plane reaches: a third of the cells at most (our own figure).
    On the machine's plane it is 10 cells of 3200 with four hairs and 13 with one, too few to tell.
    """
    one, four = p.count(p.far_maps(p.ONE_HAIR), "s-motion"), p.count(p.far_maps(p.STIFF_BRIDGE), "s-motion")
    assert one > 0
    assert four <= one / 3


def test_s_motion_is_at_home_far_from_the_bridge() -> None:
    """Farther than 5 cm on a 33 cm string: B. Lawergren, J. Acoust. Soc. Am. 73 (1983), of measurements in
    Acustica 44, 194-206 (1980); read in the later abstract. One hair: ten times rarer on the machine's plane,
    nearer than a sixth, than from 0.15 to 0.25 of the length.
    """
    near, far = p.shipped_maps(p.ONE_HAIR, (0.1, 0.2)), p.far_maps(p.ONE_HAIR)
    assert p.share(near, "s-motion") <= 0.1 * p.share(far, "s-motion")


def test_width_enlarges_the_region_of_good_tone() -> None:
    """Going from one contact point to several enlarges the good region (Woodhouse, Euphonics, section 9.7, of
    starts): here of steady tone on the maps as shipped, by a tenth at least (our own figure).
    """
    one = p.share(p.shipped_maps(p.ONE_HAIR, (0.1, 0.2)), "helmholtz")
    four = p.share([chart for chart in p.shipped_maps() if chart.ranges.speed_m_s in (0.1, 0.2)], "helmholtz")
    assert four >= 1.1 * one


# --- what players know


def test_an_a_string_slips_440_times_a_second() -> None:
    """Common practice, no source: the note's number is the count of slips. Counted in one second of the full
    model where the string under the bow turns against it; within the 12 cents by which a bowed string may
    differ from a ringing one.
    """
    assert p.slips_in_a_second("A") == pytest.approx((440, 440), abs=3)


@pytest.mark.parametrize(
    ("distance_m", "speed", "weights", "state"),
    [
        (0.050, 0.40, (0.20, 0.25, 0.30, 0.35), "helmholtz"),
        (0.050, 0.08, (0.80, 1.00, 1.30, 1.60), "raucous"),
        (0.010, 0.05, (0.80, 0.90, 1.00, 1.20), "helmholtz"),
        (0.010, 0.40, (0.60, 0.70, 0.80, 0.90), "multiple-slip"),
    ],
    ids=["far-light-fast", "far-heavy-slow", "near-heavy-slow", "near-light-fast"],
)
def test_near_and_far_want_opposite_strokes(
    distance_m: float, speed: float, weights: tuple[float, ...], state: str
) -> None:
    """Near the fingerboard light and fast speaks, slow and heavy is raucous; near the bridge slow and heavy
    speaks, fast and light slips more than once. Common practice, no source. Violin D, full model; three of
    four neighbouring weights at least, since single cells are near chaos.
    """
    states = [reading.state for reading in p.played_on_violin("D", distance_m, speed, weights)]
    assert states.count(state) >= 3
