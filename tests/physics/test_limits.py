"""The closed-form limits, against the published worked values and fitted tables."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from colophony.physics.limits import (
    guettler_1997,
    guettler_2002,
    schelleng_1973,
    schoonderwaldt_2008,
    woodhouse_1993,
)

speeds = st.floats(0.02, 1.0)
places = st.floats(0.02, 0.3)
impedances = st.floats(0.15, 1.7)


@pytest.mark.parametrize(
    ("Z0", "newton"),
    [(0.35, 1.40), (0.25, 1.00), (0.20, 0.81), (0.17, 0.69), (0.48, 1.9), (0.55, 2.2), (1.05, 4.2)],
)
def test_schellengs_greatest_weight_at_10_cm_per_s(Z0: float, newton: float) -> None:
    """Worked values for violin G, D, A, E, viola C, cello D and G at vb 0.1 m/s, beta 0.1, dmu 0.5:
    Schelleng's formula with impedances of Pickering (1985) and Rossing (2010), worked by hand.
    """
    assert schelleng_1973.weight_max_n(Z0=Z0, vb=0.1, beta=0.1, dmu=0.5) == pytest.approx(newton, rel=0.02)


@pytest.mark.parametrize(("vb", "dmu"), [(0.05, 0.51), (0.10, 0.69), (0.15, 0.67), (0.20, 0.67)])
def test_schellengs_greatest_weight_meets_the_bowing_machine(vb: float, dmu: float) -> None:
    """Schoonderwaldt, Guettler and Askenfelt (2008): slope c of F_max = c vb / beta on a string of
    Z0 = 0.25 kg/s, with the friction they inferred, inside their uncertainty.
    """
    c, uncertainty = schoonderwaldt_2008.MEASURED_UPPER_KG_S[vb]
    computed = schelleng_1973.weight_max_n(Z0=0.25, vb=vb, beta=0.1, dmu=dmu) * 0.1 / vb
    assert computed == pytest.approx(c, abs=max(uncertainty, 0.02))


def test_the_measured_limits_give_the_published_worked_example() -> None:
    """Schoonderwaldt, Guettler and Askenfelt (2008): D string, 10 cm/s, beta 0.1: 0.73 N and 0.04 N."""
    assert schoonderwaldt_2008.measured_weight_max_n(Z0=0.25, vb=0.1, beta=0.1) == pytest.approx(
        0.73, abs=0.03
    )
    assert schoonderwaldt_2008.measured_weight_min_n(Z0=0.25, beta=0.1) == pytest.approx(0.04, abs=0.005)


@pytest.mark.parametrize("vb", [0.05, 0.10, 0.15, 0.20])
def test_the_measured_least_weight_does_not_depend_on_speed(vb: float) -> None:
    """Same source: c_lower vb is 0.35, 0.42, 0.35, 0.36 mN; one constant lies within 1.3 times
    the published uncertainty of each.
    """
    c, uncertainty = schoonderwaldt_2008.MEASURED_LOWER_KG_S[vb]
    assert abs(schoonderwaldt_2008.MEASURED_LOWER_N / vb - c) <= 1.3 * uncertainty


@settings(deadline=None)
@given(Z0=impedances, vb=speeds, beta=places, scale=st.floats(0.5, 2.0))
def test_schellengs_limits_scale_as_published(Z0: float, vb: float, beta: float, scale: float) -> None:
    """F_max ~ vb / beta, F_min ~ vb / beta^2, ratio 4 beta R / Z0 (Schelleng 1973)."""

    def high(vb: float, beta: float) -> float:
        return schelleng_1973.weight_max_n(Z0=Z0, vb=vb, beta=beta, dmu=0.4)

    def low(vb: float, beta: float) -> float:
        return schelleng_1973.weight_min_n(Z0=Z0, vb=vb, beta=beta, dmu=0.4, R=15.0)

    assert high(scale * vb, beta) == pytest.approx(scale * high(vb, beta))
    assert high(vb, scale * beta) == pytest.approx(high(vb, beta) / scale)
    assert low(scale * vb, beta) == pytest.approx(scale * low(vb, beta))
    assert low(vb, scale * beta) == pytest.approx(low(vb, beta) / scale**2)
    assert high(vb, beta) / low(vb, beta) == pytest.approx(
        schelleng_1973.weight_ratio(Z0=Z0, beta=beta, R=15.0)
    )


@settings(deadline=None)
@given(Z0=impedances, vb=speeds, beta=places)
def test_the_refined_limits_contain_the_plain_ones(Z0: float, vb: float, beta: float) -> None:
    """Equations 4 and 5 of Schoonderwaldt et al. (2008) become Schelleng's when v0 is zero and stay
    finite as the bow stops.
    """
    plain = schelleng_1973.weight_max_n(Z0=Z0, vb=vb, beta=beta, dmu=0.4)
    assert schoonderwaldt_2008.weight_max_n(Z0=Z0, vb=vb, beta=beta, dmu=0.4, v0=0.0) == pytest.approx(plain)
    resting = schoonderwaldt_2008.weight_max_n(Z0=Z0, vb=0.0, beta=beta, dmu=0.4, v0=0.2)
    assert resting == pytest.approx(2 * Z0 * 0.2 / 0.4)
    low = schelleng_1973.weight_min_n(Z0=Z0, vb=vb, beta=beta, dmu=0.4, R=15.0)
    refined = schoonderwaldt_2008.weight_min_n(Z0=Z0, vb=vb, beta=beta, dmu=0.4, R=15.0, v0=0.0)
    assert refined == pytest.approx(low)


def test_the_bridge_force_series_sums_to_the_sawtooth() -> None:
    """Woodhouse, Euphonics 9.4.2: violin D (0.25 kg/s) at 0.1 m/s and beta 0.1 jumps by 0.500 N."""
    jump = schelleng_1973.bridge_force_peak_to_peak_n(Z0=0.25, vb=0.1, beta=0.1)
    assert jump == pytest.approx(0.500)
    t = np.linspace(0.05, 0.45, 9)  # in periods, away from the jump
    series = sum(
        schelleng_1973.bridge_force_harmonic_n(n, Z0=0.25, vb=0.1, beta=0.1) * np.sin(2 * math.pi * n * t)
        for n in range(1, 4000)
    )
    assert series == pytest.approx(jump * t, abs=1e-3)


def test_the_string_slips_backwards_faster_than_the_bow_runs() -> None:
    """Ideal motion: jump of velocity vb / beta between sticking and slipping (Euphonics 9.3.1)."""
    assert schelleng_1973.slip_speed_m_s(vb=0.1, beta=0.1) + 0.1 == pytest.approx(0.1 / 0.1)


@settings(deadline=None)
@given(Z0=impedances, vb=speeds, beta=places)
def test_a_resistive_bridge_makes_the_general_limit_schellengs(Z0: float, vb: float, beta: float) -> None:
    """Woodhouse (1993) with Y = 1/R at every harmonic is Schelleng (1973); 400 harmonics fall 0.2
    percent short of the infinite sum.
    """
    general = woodhouse_1993.weight_min_n(
        Z0=Z0, vb=vb, beta=beta, dmu=0.4, admittance_s_kg=[1 / 15.0] * 400, points=64
    )
    plain = schelleng_1973.weight_min_n(Z0=Z0, vb=vb, beta=beta, dmu=0.4, R=15.0)
    assert general == pytest.approx(plain, rel=0.003)


@pytest.mark.parametrize(
    ("Z0", "f0", "one_over_beta", "least", "greatest"),
    [
        (0.35, 196.0, 15, 2.10, 2.71),
        (0.35, 196.0, 11, 2.80, 3.99),
        (0.35, 196.0, 8, 3.70, 6.14),
        (0.35, 196.0, 6, 4.70, 9.56),
        (0.25, 293.7, 11, 5.86, 8.36),
        (0.203, 440.0, 8, 14.3, 23.8),
        (0.173, 659.0, 15, 14.3, 18.5),
        (0.55, 146.8, 6, 2.24, 4.56),
    ],
)
def test_guettlers_window_of_acceleration(
    Z0: float, f0: float, one_over_beta: int, least: float, greatest: float
) -> None:
    """Guettler (2002): a/F in m/s^2 per newton for mu_s/mu_d = 0.8/0.3, worked by hand from his limits
    for violin G, D, A, E and cello D.
    """
    window = guettler_2002.acceleration_window_m_s2(
        F=1.0, Z0=Z0, f0=f0, beta=1 / one_over_beta, mu_s=0.8, mu_d=0.3
    )
    assert window == pytest.approx((least, greatest), rel=0.01)


@settings(deadline=None)
@given(F=st.floats(0.1, 3.0), beta=st.floats(0.03, 0.3), scale=st.floats(0.5, 2.0))
def test_guettlers_window_is_a_wedge_through_the_origin(F: float, beta: float, scale: float) -> None:
    """Guettler (2002): both edges grow with weight and pitch and shrink with impedance."""

    def window(F: float, f0: float, Z0: float) -> tuple[float, float]:
        return guettler_2002.acceleration_window_m_s2(F=F, Z0=Z0, f0=f0, beta=beta, mu_s=0.8, mu_d=0.3)

    least, greatest = window(F, 196.0, 0.35)
    assert 0 < least < greatest
    scaled = (scale * least, scale * greatest)
    assert window(scale * F, 196.0, 0.35) == pytest.approx(scaled)
    assert window(F, scale * 196.0, 0.35) == pytest.approx(scaled)
    assert window(F, 196.0, 0.35 / scale) == pytest.approx(scaled)


@settings(deadline=None)
@given(F=st.floats(0.1, 3.0), Z0=impedances, beta=st.floats(0.03, 0.3))
def test_guettlers_window_of_speed_opens_away_from_the_bridge(F: float, Z0: float, beta: float) -> None:
    """Guettler (2002), constant speed: greatest over least is 1 / (1 - 2 beta)."""
    least, greatest = guettler_2002.speed_window_m_s(F=F, Z0=Z0, beta=beta, dmu=0.4)
    assert greatest / least == pytest.approx(1 / (1 - 2 * beta))
    assert least == pytest.approx(beta * (1 - beta) * F * 0.4 / (2 * Z0))


def test_the_first_slip_comes_when_friction_is_spent() -> None:
    """Quasi-static balance solved another way: step time until T y / (L beta (1 - beta)) = mu_s F with
    T = 2 L f0 Z0, violin G, beta 1/11, 1 N, 3 m/s^2.
    """
    F, Z0, f0, beta, mu_s, a, L = 1.0, 0.35, 196.0, 1 / 11, 0.8, 3.0, 0.325
    t = np.arange(0, 0.1, 1e-6)
    pull_n = 2 * L * f0 * Z0 * (a * t**2 / 2) / (L * beta * (1 - beta))
    stepped_s = float(t[np.argmax(pull_n > mu_s * F)])
    computed_s = guettler_2002.first_slip_s(F=F, Z0=Z0, f0=f0, beta=beta, mu_s=mu_s, a=a)
    assert computed_s == pytest.approx(stepped_s, abs=2e-6)


def test_the_acceptance_limits_on_the_open_g_are_those_of_the_listening_test() -> None:
    """Guettler and Askenfelt (1997): 50 ms or about 10 periods creaking, 90 ms or about 18 slipping."""
    assert guettler_1997.acceptance_limit_s("creaking", 196.0) == pytest.approx(0.050, abs=0.002)
    assert guettler_1997.acceptance_limit_s("slipping", 196.0) == pytest.approx(0.090, abs=0.003)
    assert guettler_1997.is_accepted("slipping", settling_s=0.07, f0=196.0)
    assert not guettler_1997.is_accepted("creaking", settling_s=0.07, f0=196.0)
