"""The ideal motion, against the published series, the wave equation and itself."""

from __future__ import annotations

import numpy as np
import pytest
from constructed import force_on_bridge, slip_train
from hypothesis import given, settings
from hypothesis import strategies as st

from colophony.physics import helmholtz
from colophony.physics.helmholtz import ideal_motion

speeds = st.floats(0.02, 1.0).flatmap(lambda v: st.sampled_from([v, -v]))
places = st.floats(0.02, 0.4)
notes = st.floats(40.0, 3000.0)


@pytest.mark.parametrize(
    ("Z0", "f0", "jump_n", "peak_mm"), [(0.25, 293.7, 0.500, 0.43), (0.35, 196.0, 0.700, 0.64)]
)
def test_worked_values_of_two_violin_strings(Z0: float, f0: float, jump_n: float, peak_mm: float) -> None:
    """Violin D and G at 0.1 m/s and beta 0.1: 2 Z0 vb / beta and vb / (8 beta f0), worked by hand from
    J. Woodhouse, "Euphonics", section 9.4.2, eqs 1-2, and the travelling corner.
    """
    t = np.linspace(0.0, 1.0 / f0, 20_001)
    force = helmholtz.bridge_force_n(t, vb=0.1, beta=0.1, f0=f0, Z0=Z0)
    assert np.ptp(force) == pytest.approx(jump_n, rel=1e-3)
    assert 1000.0 * helmholtz.peak_displacement_m(vb=0.1, beta=0.1, f0=f0) == pytest.approx(
        peak_mm, abs=0.005
    )
    middle = helmholtz.displacement_m(0.5, t, vb=0.1, beta=0.1, f0=f0)
    assert 1000.0 * middle.max() == pytest.approx(peak_mm, abs=0.005)


@given(vb=speeds, beta=places, f0=notes)
@settings(max_examples=50, deadline=None)
def test_the_string_sticks_for_all_but_beta_of_the_period(vb: float, beta: float, f0: float) -> None:
    """Woodhouse, "Euphonics", section 9.3.1: bow speed for 1 - beta, -vb (1 - beta) / beta for beta."""
    t = (np.arange(100_000) + 0.5) / 100_000 / f0
    v = helmholtz.bow_point_velocity_m_s(t, vb=vb, beta=beta, f0=f0)
    stuck = np.isclose(v, vb)
    assert np.mean(stuck) == pytest.approx(1.0 - beta, abs=2e-5)
    assert v[~stuck] == pytest.approx(-vb * (1.0 - beta) / beta)
    assert np.ptp(v) == pytest.approx(abs(helmholtz.velocity_jump_m_s(vb=vb, beta=beta)))
    assert v.mean() == pytest.approx(0.0, abs=abs(vb) / beta * 3e-5)


@given(vb=speeds, beta=places, f0=notes)
@settings(max_examples=50, deadline=None)
def test_velocity_is_the_rate_of_the_displacement(vb: float, beta: float, f0: float) -> None:
    """Two separate formulas: the difference of one over a short time is the other, off the corner."""
    x = np.array([0.03, beta, 0.5, 0.9])[:, None]
    t = np.linspace(0.0, 1.0, 997) / f0
    step = 1e-7 / f0
    place = [helmholtz.displacement_m(x, t + s, vb=vb, beta=beta, f0=f0) for s in (-step, step)]
    rate = (place[1] - place[0]) / (2.0 * step)
    smooth = np.abs(helmholtz.corner(t, f0=f0) - x) > 1e-5
    smooth &= np.abs(np.abs(t * f0 - 0.5) - 0.5) > 1e-5
    v = helmholtz.velocity_m_s(x, t, vb=vb, beta=beta, f0=f0)
    assert rate[smooth] == pytest.approx(v[smooth], rel=1e-4, abs=1e-4 * abs(vb))


def test_the_corner_runs_on_its_envelope() -> None:
    """The string stands farthest out where the corner is, on the parabola vb x (1 - x) / (2 beta f0)."""
    t = np.linspace(0.0, 0.49, 37) / 200.0
    u = helmholtz.corner(t, f0=200.0)
    at_corner = helmholtz.displacement_m(u, t, vb=0.2, beta=0.08, f0=200.0)
    assert at_corner == pytest.approx(helmholtz.peak_displacement_m(u, vb=0.2, beta=0.08, f0=200.0))
    assert helmholtz.displacement_m(np.array([0.0, 1.0]), 0.0013, vb=0.2, beta=0.08, f0=200.0).tolist() == [
        0,
        0,
    ]


@given(vb=speeds, beta=places, f0=notes, Z0=st.floats(0.15, 1.7))
@settings(max_examples=30, deadline=None)
def test_the_fourier_series_converges_on_the_saw_tooth(vb: float, beta: float, f0: float, Z0: float) -> None:
    """Woodhouse, "Euphonics", section 9.4.2, eq. 2: a_n = (-1)^(n+1) 2 Z0 vb / (n pi beta)."""
    t = np.linspace(-0.45, 0.45, 181) / f0
    exact = helmholtz.bridge_force_n(t, vb=vb, beta=beta, f0=f0, Z0=Z0)
    series = helmholtz.bridge_force_series_n(t, vb=vb, beta=beta, f0=f0, Z0=Z0, harmonics=400)
    assert np.abs(series - exact).max() < 0.006 * 2.0 * Z0 * abs(vb) / beta


def test_the_measured_harmonics_are_those_of_the_series() -> None:
    """The spectrum of the sampled saw-tooth has the published amplitudes, sign included."""
    K = 1000
    motion = ideal_motion(vb=0.1, beta=0.1, f0=196.0, Z0=0.35, samples_per_period=K, periods=1)
    spectrum = -np.fft.rfft(motion.bridge_force_n).imag[1:21] * 2.0 / K
    a = helmholtz.bridge_force_harmonics_n(20, vb=0.1, beta=0.1, Z0=0.35)
    assert spectrum == pytest.approx(a, rel=2e-3)


def test_the_force_under_the_wave_equation_is_the_saw_tooth() -> None:
    """The bow-point velocity, carried to the bridge by the wave equation, gives the same harmonics; those
    with a node at the bow (n = 10, 20) the bow cannot tell.
    """
    K, beta = 1000, 0.1
    v = slip_train([1.0] * 20, [beta] * 20, vb=0.1, samples_per_period=K, f0=196.0)[K : 2 * K]
    force = force_on_bridge(v, beta=beta, samples_per_period=K, Z0=0.35)
    measured = 2.0 / K * np.abs(np.fft.rfft(force))[1:10]
    assert measured == pytest.approx(
        np.abs(helmholtz.bridge_force_harmonics_n(9, vb=0.1, beta=beta, Z0=0.35)), rel=0.01
    )


def test_samples_are_means_over_their_interval() -> None:
    """Summed velocity is displacement to rounding, however the edges fall between samples."""
    motion = ideal_motion(vb=0.13, beta=0.0777, f0=290.0, Z0=0.25, samples_per_period=97, periods=7.3)
    moved = np.cumsum(motion.velocity_m_s) / motion.rate_hz
    y = helmholtz.displacement_m(
        0.0777, motion.times_s + 0.5 / motion.rate_hz, vb=0.13, beta=0.0777, f0=290.0
    )
    assert moved == pytest.approx(y - y[0] + moved[0], abs=1e-15)


def test_shapes_span_the_last_two_periods() -> None:
    """Frames for the slow-motion picture: as many as asked, at rest at both ends of the string."""
    motion = ideal_motion(vb=0.1, beta=0.1, f0=196.0, Z0=0.35, samples_per_period=200, frames=24)
    assert motion.shapes_m.shape == (24, len(motion.shape_positions_m))
    assert np.ptp(motion.shape_times_s) == pytest.approx(2.0 / 196.0 * 23 / 24)
    assert np.abs(motion.shapes_m[:, [0, -1]]).max() < 1e-15
