"""Friction of rosin: published tables and constants, and each law's step against an independent solution."""

from __future__ import annotations

import math
from collections.abc import Callable
from types import ModuleType
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import solve_ivp
from scipy.optimize import brentq

from colophony.physics.friction import (
    LAWS,
    FrictionLaw,
    McIntyre1979,
    Smith2000,
    VanWalstijn2026,
    mcintyre_1979,
    smith_2000,
    van_walstijn_2026,
)
from colophony.physics.kernel.body import interpreted


def one_hair(law: ModuleType) -> Callable[..., tuple[float, ...]]:
    """One hair with the load line v = D - Y f, as the loops take it through a step."""
    ready, step = interpreted(law.ready), interpreted(law.step)

    def play(D: float, Y: float, F: float, a: float, b: float, e: float, r: float, c: Any) -> Any:
        q, h, lean = ready(Y, F, a, b, e, r, c)
        return step(D - lean, D / Y, Y, 1 / Y, F, 1 / max(F, 1e-9), a, b, e, r, q, h, lean, c)

    return play


HYPERBOLIC, STEADY, THERMAL = map(one_hair, (mcintyre_1979, smith_2000, van_walstijn_2026))
#: A violin D string with stiff torsion and hair: 1 / (2 Z0), s/kg.
Y = 1.65
#: 1 N over 10 mm of hair, N/m.
PER_WIDTH = 100.0

curve_laws = pytest.mark.parametrize(
    ("law", "step"), [(McIntyre1979(), HYPERBOLIC), (Smith2000(), STEADY)], ids=["hyperbola", "steady"]
)
gaps = st.floats(-3.0, 3.0)
loads = st.floats(0.001, 20.0)


def numbers(law: FrictionLaw, dt: float = 1e-5) -> Any:
    return law.numbers(float, dt)


# --- published figures


def test_steady_sliding_follows_the_published_fit_to_three_decimals() -> None:
    """J. H. Smith & J. Woodhouse, J. Mech. Phys. Solids 48 (2000), as quoted by Woodhouse (2003):
    0.4 exp(-v / 0.01) + 0.45 exp(-v / 0.1) + 0.35, worked out by hand.
    """
    table = {0.0: 1.200, 0.001: 1.157, 0.01: 0.904, 0.02: 0.773, 0.05: 0.626, 0.1: 0.516, 0.2: 0.411,
             0.5: 0.353, 1.0: 0.350}  # fmt: skip
    mu = Smith2000().steady_coefficient(np.array(list(table)))
    assert mu == pytest.approx(list(table.values()), abs=5.001e-4)


def test_the_hyperbola_has_the_published_constants() -> None:
    """E. Schoonderwaldt, K. Guettler & A. Askenfelt, Acta Acust. u. Acust. 94 (2008):
    mu_d + K / (|v| + z0), K = 8 cm/s, mu_d = 0.4, z0 = 20 cm/s.
    """
    v = np.linspace(-2.0, 2.0, 81)
    assert McIntyre1979().steady_coefficient(v) == pytest.approx(0.4 + 0.08 / (np.abs(v) + 0.2))


def test_the_rosin_layer_cools_in_ten_milliseconds_at_rest_and_in_microseconds_under_way() -> None:
    """M. van Walstijn et al., Acta Acustica 10, 47 (2026), constants: a_tau / c_tau = 10 ms for a stuck hair;
    45 us at 1 m/s under 1 N on 10 mm. Read off the step itself, with strength made independent of warmth
    (y = 1) so that heating stays the same.
    """
    law = VanWalstijn2026()
    assert law.a_tau_m_k / law.c_tau == pytest.approx(10e-3)
    dt = 1e-7
    for speed, time_constant in ((0.0, 10e-3), (1.0, 45e-6)):
        c = numbers(law, dt)._replace(y_a=1.0)
        z = root = 0.0
        for _ in range(400):  # the layer deflects and flows
            *_, z, _tau, root = THERMAL(speed, 1e-9, 1.0, z, 20.0, root, PER_WIDTH**-0.5, c)
        taus = [(10.0, 40.0)]
        for _ in range(100):
            taus.append(
                tuple(THERMAL(speed, 1e-9, 1.0, z, tau, root, PER_WIDTH**-0.5, c)[3] for tau in taus[-1])
            )
        differences = np.array([hot - cold for cold, hot in taus])
        rate = -np.polyfit(dt * np.arange(len(taus)), np.log(differences), 1)[0]
        assert 1.0 / rate == pytest.approx(time_constant, rel=0.01)


def test_sliding_at_a_metre_a_second_warms_the_rosin_to_its_softening() -> None:
    """Van Walstijn et al. (2026), constants: with a coefficient of 0.5 the balance of heat gives
    0.5 / (0.22 x 0.1 + 1e-4) = 22.6 K; softening is at tau_g = 25 K. With the coefficient that the warming
    itself leads to, heat made and heat carried off balance.
    """
    law = VanWalstijn2026()
    carried = law.b_tau * math.sqrt(1.0 / PER_WIDTH) + law.c_tau
    assert 0.5 / carried == pytest.approx(22.6, abs=0.05)
    warming = float(law.steady_warming_k(np.array(1.0), force_per_width_n_m=PER_WIDTH))
    mu = float(law.steady_coefficient(np.array(1.0), force_per_width_n_m=PER_WIDTH))
    assert warming * carried == pytest.approx(mu, rel=1e-9)
    assert warming == pytest.approx(law.tau_g_k, rel=0.1)


@pytest.mark.parametrize("speed", [0.005, 0.05, 0.3, 1.0, 2.0])
def test_steady_sliding_settles_at_the_balance_of_heat(speed: float) -> None:
    """Van Walstijn et al. (2026): mu_ss at the steady tau; what remains is the fit of mu_str, 1.2 %."""
    law = VanWalstijn2026()
    dt = 2e-6
    c = numbers(law, dt)
    z = tau = root = 0.0
    for _ in range(30_000):
        f, v, z, tau, root = THERMAL(speed, 1e-6, 1.0, z, tau, root, PER_WIDTH**-0.5, c)
    mu = float(law.steady_coefficient(np.array(v), force_per_width_n_m=PER_WIDTH))
    assert f == pytest.approx(mu, rel=0.02)
    assert tau == pytest.approx(
        float(law.steady_warming_k(np.array(v), force_per_width_n_m=PER_WIDTH)), rel=0.03
    )


@pytest.mark.parametrize(
    ("law", "limit"),
    [
        (VanWalstijn2026(), 0.012),
        (VanWalstijn2026(mu_s=0.8, mu_d=0.3), 0.012),
        (VanWalstijn2026(mu_s=0.6, mu_d=0.5), 0.012),
        (VanWalstijn2026(mu_s=0.9, mu_d=0.2), 0.03),
        (VanWalstijn2026(mu_s=1.4, mu_d=0.2), 0.03),
        (VanWalstijn2026(mu_s=1.2, mu_d=0.35, y_a=0.2), 0.03),
        pytest.param(
            VanWalstijn2026(y_a=0.1),
            0.03,
            marks=pytest.mark.xfail(
                strict=True, raises=AssertionError, reason="5.3 % off for rosin that keeps y_a = 0.1"
            ),
        ),
    ],
    ids=["source", "0.8/0.3", "0.6/0.5", "0.9/0.2", "1.4/0.2", "y_a 0.2", "y_a 0.1"],
)
def test_strength_at_steady_sliding_is_fitted_to_little_more_than_one_per_cent(
    law: VanWalstijn2026, limit: float
) -> None:
    """Van Walstijn et al. (2026), mu_str = mu_ss / y: solved here by Brent's method. 1.2 % for the source's
    constants; 3 % for stronger or weaker rosin.
    """
    c = numbers(law)
    off = []
    for k in np.logspace(-3.5, 3.5, 141):

        def unbalanced(t: float, k: float = k) -> float:
            return t * (1 + t * t) - k * (law.mu_s + law.mu_d * law.y_a * t * t)

        t = brentq(unbalanced, 0.0, k * law.mu_s + 1.0, xtol=1e-14, rtol=1e-14)
        exact = (law.mu_s + law.mu_d * law.y_a * t * t) / (1 + law.y_a * t * t)
        fitted = (law.mu_s + k * (c.p1 + k * (c.p2 + k * c.p3))) / (1 + k * (c.q1 + k * (c.q2 + k * c.q3)))
        off.append(abs(fitted / exact - 1))
    assert max(off) < limit


# --- the thermal law's step against an integration of its equations


def thermal_rates(law: VanWalstijn2026, pull: Any, force: float) -> Any:
    """Van Walstijn et al. (2026) as printed: half-sine alpha, mu_str from the balance of heat."""

    def rates(t: float, state: Any) -> list[float]:
        z, tau = state
        v = pull(t) - Y * force * law.sigma0_per_m * z
        x = (tau / law.tau_g_k) ** 2
        y = (1 + law.y_a * x) / (1 + x)
        k = abs(v) / (law.b_tau * math.sqrt(abs(v) / PER_WIDTH) + law.c_tau) / law.tau_g_k

        def unbalanced(warm: float) -> float:
            return warm * (1 + warm * warm) - k * (law.mu_s + law.mu_d * law.y_a * warm * warm)

        warm = brentq(unbalanced, 0.0, k * law.mu_s + 1.0)
        strength = (law.mu_s + law.mu_d * law.y_a * warm**2) / (1 + law.y_a * warm**2)
        z_ss = y * strength / law.sigma0_per_m
        z_ba = law.break_away * z_ss
        if z * v <= 0.0 or abs(z) <= z_ba:
            alpha = 0.0
        elif abs(z) < z_ss:
            alpha = 0.5 + 0.5 * math.sin(math.pi * (abs(z) - 0.5 * (z_ss + z_ba)) / (z_ss - z_ba))
        else:
            alpha = 1.0
        dz = v * (1 - alpha * z / z_ss)
        carried = (law.b_tau * math.sqrt(abs(v) / PER_WIDTH) + law.c_tau) * tau
        return [dz, (law.sigma0_per_m * z * (v - dz) - carried) / law.a_tau_m_k]

    return rates


def test_the_thermal_step_follows_its_equations() -> None:
    """One hair at 1 N, pulled along a load line that sticks, slips and turns back in 5 ms: scipy's Radau on
    the equations as printed. Force within 2 % of the static friction (rms) at the 5 us of the source's own
    simulations, warmth within 5 % of its peak, and nearer with a finer step.
    """
    law, force, seconds = VanWalstijn2026(), 1.0, 5e-3

    def pull(t: float) -> float:
        return 2.2 * math.sin(2 * math.pi * 300.0 * t) + 0.6

    solution = solve_ivp(
        thermal_rates(law, pull, force), (0.0, seconds), [0.0, 0.0], "Radau", rtol=1e-6, atol=[1e-11, 1e-4],
        dense_output=True,
    )  # fmt: skip
    assert solution.success
    off = []
    for dt in (5e-6, 1.25e-6):
        c, times = numbers(law, dt), np.arange(1, round(seconds / dt)) * dt
        z = tau = root = 0.0
        path = []
        for t in times:
            f, _, z, tau, root = THERMAL(pull(t), Y, force, z, tau, root, PER_WIDTH**-0.5, c)
            path.append((f, tau))
        forces, taus = np.array(path).T
        exact_z, exact_tau = solution.sol(times)
        assert np.abs(exact_z).max() * law.sigma0_per_m > 0.9  # near the static limit
        off.append(
            (
                np.sqrt(np.mean((forces - law.sigma0_per_m * exact_z * force) ** 2)) / law.mu_s,
                np.abs(taus - exact_tau).max() / exact_tau.max(),
            )
        )
    assert off[0][0] < 0.02
    assert off[0][1] < 0.05
    assert off[1][0] < 0.55 * off[0][0]


@settings(deadline=None)
@given(
    pulls=st.lists(st.floats(-5.0, 5.0), min_size=1, max_size=30),
    force=st.floats(0.0, 20.0),
    dt=st.floats(1e-6, 3e-5),
)
def test_rosin_is_never_colder_than_the_room_nor_stronger_than_cold(
    pulls: list[float], force: float, dt: float
) -> None:
    """Heat is what friction makes (second law): tau >= 0. The layer bears at most mu_s F. (Of a hair
    without weight the deflection says nothing.)
    """
    law = VanWalstijn2026()
    c = numbers(law, dt)
    r = max(force / 0.01, 1e-2) ** -0.5
    z = tau = root = 0.0
    for D in pulls:
        for _ in range(5):
            f, v, z, tau, root = THERMAL(D, Y, force, z, tau, root, r, c)
            assert all(map(math.isfinite, (f, v, z, tau, root)))
            assert tau >= 0.0
            assert f == pytest.approx(force * law.sigma0_per_m * z, rel=1e-6, abs=1e-9)
            assert v == pytest.approx(D - Y * f, rel=1e-6, abs=1e-9)
            if force > 1e-6:
                assert abs(law.sigma0_per_m * z) <= law.mu_s * (1 + 1e-9)


def test_a_lifted_hair_pulls_nothing() -> None:
    for law, step in zip(LAWS.values(), (THERMAL, HYPERBOLIC, STEADY), strict=True):
        f, v, *_ = step(0.3, Y, 0.0, 0.0, 0.0, 0.0, 1.0, numbers(law()))
        assert (f, v) == (pytest.approx(0.0, abs=1e-12), pytest.approx(0.3))


# --- the curves with the rule of hysteresis


@curve_laws
@settings(deadline=None)
@given(D=gaps, force=loads, slid=st.sampled_from([-1.0, 0.0, 1.0]))
def test_a_curve_and_its_load_line_meet(
    law: FrictionLaw, step: Any, D: float, force: float, slid: float
) -> None:
    """McIntyre & Woodhouse (1979): force and velocity lie on the load line; sliding lies on the curve,
    sticking below its top; and friction never drives.
    """
    f, v, memory, *_ = step(D, Y, force, slid, 0.0, 0.0, 1.0, numbers(law))
    assert v == pytest.approx(D - Y * f, abs=1e-9)
    assert memory == v
    assert f * v >= -1e-12
    if v == 0.0:
        assert abs(f) <= force * float(law.steady_coefficient(np.array(0.0))) * (1 + 1e-9)
    else:
        assert abs(f) == pytest.approx(force * float(law.steady_coefficient(np.array(v))), rel=1e-3)


@curve_laws
@settings(deadline=None)
@given(D=st.floats(0.0, 3.0), force=loads)
def test_a_slipping_hair_is_at_the_outermost_crossing(
    law: FrictionLaw, step: Any, D: float, force: float
) -> None:
    """McIntyre & Woodhouse (1979): of several crossings of load line and curve the fastest is the
    stable slip. Found here on a fine grid and by Brent's method.
    """

    def miss(u: float) -> float:
        return u + Y * force * float(law.steady_coefficient(np.array(u))) - D

    grid = np.linspace(0.0, 3.0, 20_001)
    values = grid + Y * force * law.steady_coefficient(grid) - D
    crossings = np.flatnonzero(np.diff(np.sign(values)) != 0)
    _, v, *_ = step(D, Y, force, 1.0, 0.0, 0.0, 1.0, numbers(law))
    if len(crossings) == 0:
        assert v == pytest.approx(0.0, abs=3e-3)  # two crossings closer than the grid may be missed
    else:
        last = crossings[-1]
        assert v == pytest.approx(brentq(miss, grid[last], grid[last + 1]), abs=2e-4)


@curve_laws
def test_release_and_capture_differ_by_the_width_of_the_hysteresis(law: FrictionLaw, step: Any) -> None:
    """McIntyre & Woodhouse (1979), hysteresis rule: a sticking hair lets go at Y F mu_s; a slipping one is
    caught where its crossing ends, at the least of u + Y F mu(u). For the hyperbola that is at
    u = sqrt(Y F (mu_s - mu_d) v0) - v0.
    """
    force, c = 1.0, numbers(law)
    static = float(law.steady_coefficient(np.array(0.0)))
    up = np.arange(0.0, 3.0, 1e-3)
    slid, path = 0.0, []
    for D in [*up, *up[::-1]]:
        _, v, slid, *_ = step(D, Y, force, slid, 0.0, 0.0, 1.0, c)
        path.append(v != 0.0)
    release = up[np.argmax(path[: len(up)])]
    capture = up[::-1][np.argmin(path[len(up) :])]
    assert release == pytest.approx(Y * force * static, abs=2e-3)
    if isinstance(law, McIntyre1979):
        u = math.sqrt(Y * force * (law.mu_s - law.mu_d) * law.v0_m_s) - law.v0_m_s
    else:
        grid = np.linspace(0.0, 3.0, 300_001)
        u = float(grid[np.argmin(grid + Y * force * law.steady_coefficient(grid))])
    ends = u + Y * force * float(law.steady_coefficient(np.array(u)))
    assert capture == pytest.approx(ends, abs=4e-3)
    assert capture < release - 0.05


def test_under_little_weight_there_is_no_hysteresis() -> None:
    """McIntyre & Woodhouse (1979): where the load line is steeper than the curve, Y F (mu_s - mu_d) < v0, it
    crosses once, and release and capture fall together.
    """
    law = McIntyre1979()
    force = 0.5 * law.v0_m_s / (Y * (law.mu_s - law.mu_d))
    for D in np.linspace(0.0, 1.0, 101):
        stuck, slipping = (HYPERBOLIC(D, Y, force, s, 0.0, 0.0, 1.0, numbers(law))[1] for s in (0.0, 1.0))
        assert stuck == pytest.approx(slipping, abs=1e-9)


@curve_laws
def test_a_slipping_hair_whose_bow_turns_sticks_first(law: FrictionLaw, step: Any) -> None:
    """Slip one way does not go over into slip the other way while static friction can hold."""
    force = 1.0
    held = 0.9 * Y * force * float(law.steady_coefficient(np.array(0.0)))
    assert step(-held, Y, force, 1.0, 0.0, 0.0, 1.0, numbers(law))[1] == 0.0
    assert step(held, Y, force, 1.0, 0.0, 0.0, 1.0, numbers(law))[1] > 0.0
