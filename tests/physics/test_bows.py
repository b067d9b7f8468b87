"""The hair of the bow, against published figures and the model of a tilted ribbon."""

from __future__ import annotations

import itertools
import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from colophony.errors import InputError
from colophony.physics.bows import BOWS, EDGE_TILT_DEG, STEEPEST_TILT_DEG, find_bow, find_ribbon
from colophony.physics.strings import FULL_SIZE, sizes_of

tilts = st.floats(-STEEPEST_TILT_DEG, STEEPEST_TILT_DEG)
points = st.integers(1, 12)


def test_the_hair_of_a_violin_bow_has_the_published_stiffness_and_mass() -> None:
    """Pitteroff & Woodhouse (1998), as used by van Walstijn et al. (2026): 11e6 N/m^2, 0.62 kg/m and
    1000 kg/(s m) of width; ribbon about 10 mm (Euphonics 9.7).
    """
    ribbon = find_ribbon("violin")
    assert (ribbon.width_m, ribbon.points) == (0.010, 4)
    assert ribbon.stiffness_n_m == pytest.approx(1.1e5)
    assert ribbon.mass_kg == pytest.approx(6.2e-3)
    assert ribbon.damping_kg_s == pytest.approx(10.0)


def test_flat_hair_bears_evenly_on_the_centres_of_equal_cells() -> None:
    offsets, shares = find_ribbon("violin").lay(0.0)
    assert offsets == pytest.approx([-0.00375, -0.00125, 0.00125, 0.00375])
    assert shares == pytest.approx([0.25] * 4)


def test_at_the_edge_the_weight_grows_from_nothing_to_twice_the_mean() -> None:
    """Woodhouse, Euphonics 9.7: linear across the width. Shares of four cells of a triangle: 1, 3, 5, 7
    sixteenths; its centre of force at two thirds of the width.
    """
    ribbon = find_ribbon("violin")
    offsets, shares = ribbon.lay(EDGE_TILT_DEG)
    assert offsets == pytest.approx(ribbon.lay(0.0)[0])
    assert shares == pytest.approx([1 / 16, 3 / 16, 5 / 16, 7 / 16])
    fine = find_ribbon("violin", points=400)
    centre = math.fsum(x * share for x, share in zip(*fine.lay(EDGE_TILT_DEG), strict=True))
    assert centre == pytest.approx((2 / 3 - 1 / 2) * 0.010, rel=1e-4)


@given(tilt_deg=tilts, count=points)
def test_the_shares_are_whole_and_the_points_lie_on_the_ribbon(tilt_deg: float, count: int) -> None:
    ribbon = find_ribbon("cello", points=count)
    offsets, shares = ribbon.lay(tilt_deg)
    assert len(offsets) == len(shares) == count
    assert math.fsum(shares) == pytest.approx(1.0)
    assert min(shares) > 0.0
    assert list(offsets) == sorted(offsets)
    assert max(map(abs, offsets)) <= ribbon.width_m / 2
    cell = ribbon.contact_width_m(tilt_deg) / count
    assert all(b - a == pytest.approx(cell) for a, b in itertools.pairwise(offsets))


@given(first=st.floats(0.0, STEEPEST_TILT_DEG), second=st.floats(0.0, STEEPEST_TILT_DEG), count=points)
def test_more_tilt_brings_the_force_nearer_the_edge_on_less_hair(
    first: float, second: float, count: int
) -> None:
    """Players tilt the bow to play on less hair: common practice, no source."""
    ribbon = find_ribbon("viola", points=count)

    def centre(tilt_deg: float) -> float:
        return math.fsum(x * share for x, share in zip(*ribbon.lay(tilt_deg), strict=True))

    less, more = sorted((first, second))
    assert centre(more) >= centre(less) - 1e-12
    assert ribbon.contact_width_m(more) <= ribbon.contact_width_m(less)


@given(tilt_deg=tilts, count=points)
def test_a_tilt_to_the_other_side_is_the_mirror_image(tilt_deg: float, count: int) -> None:
    offsets, shares = find_ribbon("violin", points=count).lay(tilt_deg)
    mirrored, mirrored_shares = find_ribbon("violin", points=count).lay(-tilt_deg)
    assert mirrored == pytest.approx([-x for x in reversed(offsets)])
    assert mirrored_shares == pytest.approx(shares[::-1])


@pytest.mark.parametrize("tilt_deg", [90.0, -61.0, math.nan])
def test_an_impossible_tilt_is_refused(tilt_deg: float) -> None:
    with pytest.raises(InputError, match="give -60 to 60, 0 is flat hair"):
        find_ribbon("violin").lay(tilt_deg)


def test_a_ribbon_needs_hair() -> None:
    with pytest.raises(InputError, match="0 points touches nothing: give 1 or more"):
        find_ribbon("violin", points=0)


@pytest.mark.parametrize(("instrument", "lightest_kg", "heaviest_kg"), [
    ("violin", 0.055, 0.065), ("viola", 0.065, 0.075), ("cello", 0.075, 0.085),
])  # fmt: skip
def test_full_size_bows_weigh_what_makers_say(
    instrument: str, lightest_kg: float, heaviest_kg: float
) -> None:
    """Violin 55 to 65 g; viola about 70 g, cello about 80 g, 5 g either way: common practice, no source."""
    assert lightest_kg <= find_bow(instrument).mass_kg <= heaviest_kg


@pytest.mark.parametrize("instrument", FULL_SIZE)
def test_every_size_has_a_bow_and_smaller_ones_are_no_longer_or_heavier(instrument: str) -> None:
    """Common practice, no source."""
    assert tuple(BOWS[instrument]) == sizes_of(instrument)  # type: ignore[index]
    bows = [find_bow(instrument, size) for size in sizes_of(instrument)]
    for larger, smaller in itertools.pairwise(bows):
        assert smaller.hair_length_m <= larger.hair_length_m
        assert smaller.mass_kg <= larger.mass_kg


def test_an_unknown_bow_names_the_choices() -> None:
    with pytest.raises(InputError, match="'1/16' is no cello size: choose one of 4/4, 3/4"):
        find_ribbon("cello", "1/16")
    with pytest.raises(InputError, match="'lute' is no instrument: choose one of violin"):
        find_bow("lute")
