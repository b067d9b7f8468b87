"""The ideal motion of a bowed string in closed formulas: one sharp corner that runs round an envelope.

H. von Helmholtz, "Die Lehre von den Tonempfindungen" (1863); in the form of J. Woodhouse, "Euphonics",
sections 9.3.1 and 9.4.2 (euphonics.org). A flexible string without loss, rigid ends, a bow of one hair.
The corner runs from the nut (or finger) to the bridge and back once a period; while it is between bow
and bridge the string slips. Symbols as in `colophony.physics.limits`, and:

====  ==============================================================  ======
x     place on the string, distance from the bridge / sounding length  0 to 1
t     time since the corner was at the nut                             s
u     place of the corner, measured as x                               0 to 1
====  ==============================================================  ======

``x`` and ``t`` may be arrays of any shapes that broadcast. All that is signed follows the sign of vb.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from colophony.physics.limits.schelleng_1973 import bridge_force_harmonic_n, bridge_force_peak_to_peak_n
from colophony.physics.motion import Motion

Array = NDArray[np.float64]


def slip_fraction(*, beta: float) -> float:
    """Return the share of the period that the string slips under the bow: beta."""
    return beta


def velocity_jump_m_s(*, vb: float, beta: float) -> float:
    """Return the step of the string's velocity from sticking to slipping, vb / beta, in m/s."""
    return vb / beta


def peak_displacement_m(x: ArrayLike = 0.5, *, vb: float, beta: float, f0: float) -> Array:
    """Return the envelope vb x (1 - x) / (2 beta f0) in m; vb / (8 beta f0) in the middle of the string."""
    x = np.asarray(x, dtype=float)
    return np.asarray(vb * x * (1.0 - x) / (2.0 * beta * f0))


def corner(t: ArrayLike, *, f0: float) -> Array:
    """Return the place u of the corner: 1 at the nut (t = 0), 0 at the bridge (half a period later)."""
    return np.asarray(np.abs(1.0 - 2.0 * _phase(t, f0)))


def displacement_m(x: ArrayLike, t: ArrayLike, *, vb: float, beta: float, f0: float) -> Array:
    """Return the string's displacement in m: two straight pieces that meet in the corner.

    y = +-(vb / (2 beta f0)) min(x, u) (1 - max(x, u)); plus on the corner's way to the bridge, on the
    side towards which the bow moves, minus on its way back.
    """
    x = np.asarray(x, dtype=float)
    phase = _phase(t, f0)
    u = np.abs(1.0 - 2.0 * phase)
    side = np.where(phase < 0.5, 1.0, -1.0)
    return np.asarray(side * vb / (2.0 * beta * f0) * np.minimum(x, u) * (1.0 - np.maximum(x, u)))


def velocity_m_s(x: ArrayLike, t: ArrayLike, *, vb: float, beta: float, f0: float) -> Array:
    """Return the string's velocity in m/s: vb x / beta, or -vb (1 - x) / beta while u < x."""
    x = np.asarray(x, dtype=float)
    slips = corner(t, f0=f0) < x
    return np.asarray(np.where(slips, -vb * (1.0 - x) / beta, vb * x / beta))


def bow_point_velocity_m_s(t: ArrayLike, *, vb: float, beta: float, f0: float) -> Array:
    """Return the string's velocity under the bow in m/s: vb, or -vb (1 - beta) / beta in the slip.

    The slip lasts beta of the period and has its middle half a period after t = 0.
    """
    return velocity_m_s(beta, t, vb=vb, beta=beta, f0=f0)


def bridge_force_n(t: ArrayLike, *, vb: float, beta: float, f0: float, Z0: float) -> Array:
    """Return the transverse force on the bridge in N, a saw-tooth from -Z0 vb / beta to Z0 vb / beta.

    It is 0 at t = 0 and flies back half a period later, as the corner meets the bridge.
    """
    return np.asarray(bridge_force_peak_to_peak_n(Z0=Z0, vb=vb, beta=beta) * _centred_phase(t, f0))


def bridge_force_harmonics_n(count: int, *, vb: float, beta: float, Z0: float) -> Array:
    """Return the signed amplitudes of the saw-tooth's first sines in N, shape (count,)."""
    return np.array([bridge_force_harmonic_n(n, Z0=Z0, vb=vb, beta=beta) for n in range(1, count + 1)])


def bridge_force_series_n(
    t: ArrayLike, *, vb: float, beta: float, f0: float, Z0: float, harmonics: int
) -> Array:
    """Return the bridge force in N from its Fourier series cut off after so many harmonics."""
    a = bridge_force_harmonics_n(harmonics, vb=vb, beta=beta, Z0=Z0)
    n = np.arange(1, harmonics + 1)
    return np.asarray(np.sin(2.0 * np.pi * f0 * np.multiply.outer(np.asarray(t, dtype=float), n)) @ a)


def ideal_motion(
    *,
    vb: float,
    beta: float,
    f0: float,
    Z0: float,
    samples_per_period: int,
    periods: float = 24.0,
    start_s: float = 0.0,
    weight_n: float = 0.5,
    free_frequency_hz: float | None = None,
    frames: int = 0,
    sounding_length_m: float = 0.325,
) -> Motion:
    """Return the ideal motion as if it had been simulated.

    Every sample is the mean over its own interval, so that edges between samples keep their place.

    Parameters
    ----------
    vb : bow speed in m/s, not 0; negative for an up bow
    beta : bow-bridge distance / sounding length, 0 to 1
    f0 : slips a second, Hz
    Z0 : wave impedance in kg/s
    samples_per_period : samples in a period of the free string
    periods : length of the motion in periods of the free string
    start_s : time of the first sample; the corner is at the nut at time 0
    weight_n : put down as the bow's weight; the ideal motion does not depend on it
    free_frequency_hz : the note of the free string, if the bowed one differs from it
    frames : shapes of the string kept over the last two periods
    sounding_length_m : scales the positions of these shapes and nothing else
    """
    note = f0 if free_frequency_hz is None else free_frequency_hz
    rate = note * samples_per_period
    count = round(periods * samples_per_period)
    t = start_s + np.arange(count) / rate
    before, after = t - 0.5 / rate, t + 0.5 / rate
    y = [displacement_m(beta, edge, vb=vb, beta=beta, f0=f0) for edge in (before, after)]
    jump = bridge_force_peak_to_peak_n(Z0=Z0, vb=vb, beta=beta)
    impulse = [0.5 * jump / f0 * _centred_phase(edge, f0) ** 2 for edge in (before, after)]
    end_s = start_s + count / rate
    shape_times = end_s - 2.0 / f0 + np.arange(frames) * (2.0 / f0 / max(frames, 1))
    positions = np.linspace(0.0, 1.0, 65)
    return Motion(
        rate_hz=rate,
        frequency_hz=note,
        samples_per_period=samples_per_period,
        beta=beta,
        impedance_kg_s=Z0,
        start_s=start_s,
        bow_speed_m_s=np.full(count, vb),
        weight_n=np.full(count, weight_n),
        velocity_m_s=(y[1] - y[0]) * rate,
        slipping=(corner(t, f0=f0) < beta)[:, None],
        bridge_force_n=(impulse[1] - impulse[0]) * rate,
        sound=np.zeros(count),  # a rigid bridge radiates nothing
        shapes_m=displacement_m(positions, shape_times[:, None], vb=vb, beta=beta, f0=f0),
        shape_times_s=shape_times,
        shape_positions_m=positions * sounding_length_m,
    )


def _phase(t: ArrayLike, f0: float) -> Array:
    """Return the time since the corner was last at the nut, in periods, 0 to 1."""
    return np.asarray(np.asarray(t, dtype=float) * f0 % 1.0)


def _centred_phase(t: ArrayLike, f0: float) -> Array:
    """Return the time from the nearest moment at the nut, in periods, -1/2 to 1/2."""
    return (_phase(t, f0) + 0.5) % 1.0 - 0.5
