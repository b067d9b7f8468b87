"""Sounding points: five lanes over the bowable length."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from colophony.errors import InputError
from colophony.physics.strings import find_string
from colophony.teaching.sounding_points import m_to_point, point_to_m, point_width_m

D = find_string("violin", "4/4", "D")


def test_five_points_fill_the_bowing_room() -> None:
    """Five points between bridge and fingerboard, point 1 at the bridge (Flesch 1924)."""
    assert 5 * point_width_m(D) == pytest.approx(D.bowable_length_m)
    assert point_to_m(1, D) < point_to_m(3, D) < point_to_m(5, D) < D.bowable_length_m
    assert point_to_m(3, D) == pytest.approx(D.bowable_length_m / 2)


@settings(deadline=None)
@given(point=st.floats(0.5, 5.5), hz=st.floats(293.0, 2000.0))
def test_points_and_distances_are_each_others_inverse(point: float, hz: float) -> None:
    assert m_to_point(point_to_m(point, D, frequency_hz=hz), D, frequency_hz=hz) == pytest.approx(point)


def test_points_draw_together_as_the_string_is_shortened() -> None:
    """All authors: nearer to the bridge in high positions; a point keeps its share of the length."""
    octave = 2 * D.open_frequency_hz
    assert point_to_m(3, D, frequency_hz=octave) == pytest.approx(point_to_m(3, D) / 2)


@pytest.mark.parametrize("point", [0, 6, -1])
def test_a_point_outside_the_room_is_refused(point: int) -> None:
    with pytest.raises(InputError, match="1 \\(at the bridge\\) to 5"):
        point_to_m(point, D)
