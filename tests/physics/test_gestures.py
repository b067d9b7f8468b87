"""Curves and gestures: what the bow is told to do, and what is refused."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from colophony.errors import InputError
from colophony.physics.gestures import Curve, Stroke, accelerate, as_curve, bow_change, steady, swell, wander

finite = st.floats(-100.0, 100.0)


def at(course: float | Curve, *times_s: float) -> list[float]:
    return [float(value) for value in as_curve(course).at(np.array(times_s))]


def test_a_curve_is_straight_between_its_knots_and_held_outside_them() -> None:
    curve = Curve((1.0, 2.0, 4.0), (0.0, 10.0, -10.0))
    assert at(curve, -5.0, 1.0, 1.5, 2.0, 3.0, 4.0, 9.0) == [0.0, 0.0, 5.0, 10.0, 0.0, -10.0, -10.0]
    assert curve.at([[1.0, 1.5], [2.0, 3.0]]).shape == (2, 2)


def test_a_number_is_a_curve_that_never_changes() -> None:
    assert at(0.3, -1.0, 0.0, 100.0) == [0.3] * 3


@settings(deadline=None)
@given(knots=st.lists(st.tuples(st.floats(0.001, 5.0), finite), min_size=1, max_size=8), time=finite)
def test_a_curve_stays_between_its_least_and_greatest_value(
    knots: list[tuple[float, float]], time: float
) -> None:
    times = np.cumsum([gap for gap, _ in knots])
    values = tuple(value for _, value in knots)
    assert min(values) - 1e-9 <= at(Curve(tuple(times.tolist()), values), time)[0] <= max(values) + 1e-9


@pytest.mark.parametrize(
    ("times", "values", "complaint"),
    [
        ((), (), "at least one: got 0 times and 0 values"),
        ((0.0, 1.0), (1.0,), "got 2 times and 1 values"),
        ((0.0, 0.0), (1.0, 2.0), "must increase: sort its knots"),
        ((1.0, 0.0), (1.0, 2.0), "must increase: sort its knots"),
        ((0.0, math.nan), (1.0, 2.0), "no finite number: leave that knot out"),
        ((0.0, 1.0), (1.0, math.inf), "no finite number: leave that knot out"),
    ],
)
def test_knots_that_do_not_fit_together_are_refused(
    times: tuple[float, ...], values: tuple[float, ...], complaint: str
) -> None:
    with pytest.raises(InputError, match=complaint):
        Curve(times, values)


@pytest.mark.parametrize(
    ("changed", "complaint"),
    [
        ({"speed_m_s": 5.1}, "a speed of 510 cm/s is out of range: choose -500 to 500 cm/s"),
        ({"speed_m_s": -6.0}, "a speed of -600 cm/s is out of range"),
        ({"weight_n": -0.1}, "a weight of -0.1 N is out of range: choose 0 to 20 N"),
        ({"weight_n": 21.0}, "a weight of 21 N is out of range: choose 0 to 20 N"),
        ({"weight_n": Curve((0.0, 1.0), (1.0, -1.0))}, "a weight of -1 N is out of range"),
        ({"distance_m": 0.0}, "a contact distance of 0 mm is out of range: choose 0.5 to 1000 mm"),
        ({"distance_m": 2.0}, "a contact distance of 2000 mm is out of range"),
        ({"tilt_deg": 61.0}, "a tilt of 61 degrees is out of range: choose -60 to 60 degrees"),
        ({"tilt_deg": math.nan}, "no finite number|out of range"),
        ({"speed_m_s": math.inf}, "no finite number|out of range"),
    ],
)
def test_a_stroke_that_no_arm_makes_is_refused(changed: dict[str, float | Curve], complaint: str) -> None:
    """One line: what, which limit, what to do."""
    values: dict[str, float | Curve] = {"speed_m_s": 0.2, "weight_n": 1.0, "distance_m": 0.03}
    with pytest.raises(InputError, match=complaint) as refused:
        Stroke(**{**values, **changed})
    assert "\n" not in str(refused.value)


def test_a_steady_stroke_reaches_its_speed_in_a_ramp() -> None:
    stroke = steady(0.3, 0.8, 0.03, tilt_deg=10.0, ramp_s=0.05)
    assert at(stroke.speed_m_s, 0.0, 0.025, 0.05, 3.0) == pytest.approx([0.0, 0.15, 0.3, 0.3])
    assert (stroke.weight_n, stroke.distance_m, stroke.tilt_deg) == (0.8, 0.03, 10.0)
    assert steady(0.3, 0.8, 0.03, ramp_s=0.0).speed_m_s == 0.3


def test_an_accelerated_start_has_the_speed_of_free_fall_along_the_bow() -> None:
    """v = a t: the gesture of K. Guettler, Acta Acust. u. Acust. 88 (2002)."""
    stroke = accelerate(2.0, 0.5, 0.03, seconds=0.4)
    assert at(stroke.speed_m_s, 0.0, 0.1, 0.2, 0.4, 1.0) == pytest.approx([0.0, 0.2, 0.4, 0.8, 0.8])


def test_a_bow_change_turns_down_bow_to_up_bow_through_rest() -> None:
    stroke = bow_change(0.3, 0.8, 0.03, at_s=0.5, turn_s=0.1)
    assert at(stroke.speed_m_s, 0.2, 0.45, 0.475, 0.5, 0.525, 0.55, 2.0) == pytest.approx(
        [0.3, 0.3, 0.15, 0.0, -0.15, -0.3, -0.3]
    )


def test_a_bow_change_before_the_bow_has_its_speed_is_refused() -> None:
    with pytest.raises(
        InputError, match=r"turns at 0.02 s, before it has reached its speed: turn later than"
    ):
        bow_change(0.3, 0.8, 0.03, at_s=0.02)


def test_a_swell_takes_speed_weight_and_distance_from_one_value_to_another() -> None:
    stroke = swell((0.1, 0.4), (0.3, 1.2), (0.04, 0.02), seconds=2.0, ramp_s=0.02)
    assert at(stroke.speed_m_s, 0.0, 0.02, 2.0, 5.0) == pytest.approx([0.0, 0.1, 0.4, 0.4])
    assert at(stroke.weight_n, 0.0, 0.02, 1.01, 2.0) == pytest.approx([0.3, 0.3, 0.75, 1.2])
    assert at(stroke.distance_m, 0.0, 0.02, 1.01, 2.0) == pytest.approx([0.04, 0.04, 0.03, 0.02])


def test_a_bow_that_wanders_visits_its_places_at_equal_times() -> None:
    stroke = wander(0.2, 0.6, [0.02, 0.05, 0.03], seconds=1.0)
    assert at(stroke.distance_m, 0.0, 0.25, 0.5, 1.0) == pytest.approx([0.02, 0.035, 0.05, 0.03])
    assert stroke.weight_n == 0.6


@pytest.mark.parametrize(
    "build",
    [
        lambda: accelerate(2.0, 0.5, 0.03, seconds=0.0),
        lambda: swell((0.1, 0.4), (0.3, 1.2), (0.04, 0.02), seconds=0.01),
        lambda: wander(0.2, 0.6, [0.02, 0.05], seconds=0.0),
        lambda: wander(0.2, 0.6, [], seconds=1.0),
        lambda: bow_change(0.3, 0.8, 0.03, at_s=1.0, turn_s=0.0),
        lambda: accelerate(20.0, 0.5, 0.03, seconds=1.0),
        lambda: steady(0.3, 0.8, 0.03, ramp_s=math.nan),
        lambda: steady(0.3, 0.8, 0.03, ramp_s=-1.0),
        lambda: bow_change(0.3, 0.8, 0.03, at_s=math.nan),
    ],
    ids=["no time to accelerate", "swell over before it begins", "no time to wander", "nowhere to wander",
         "a turn in no time", "too fast in the end", "ramp nan",
         "ramp below 0", "turn nan"],
)  # fmt: skip
def test_a_gesture_that_cannot_be_made_is_refused(build: object) -> None:
    with pytest.raises(InputError):
        build()  # type: ignore[operator]
