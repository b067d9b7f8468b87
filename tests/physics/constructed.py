"""Motions put together by hand, each in a state known beforehand, and the force they put on a bridge.

None uses the formulas of `colophony.physics.helmholtz`: the velocity follows from when slips begin and
how long they last, the bridge force from the wave equation between bow and bridge.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from colophony.physics.motion import Motion

Array = NDArray[np.float64]


def slip_train(
    intervals: Sequence[float], lengths: Sequence[float], *, vb: float, samples_per_period: int, f0: float
) -> Array:
    """Return the string's velocity under a bow of constant speed, sticking but for slips, m/s.

    The first slip comes half a period after the beginning, slip i + 1 ``intervals[i]`` periods after
    slip i; each lasts ``lengths[i]`` periods and takes the string back to where the one before left it.
    """
    begin = 0.5 + np.concatenate(([0.0], np.cumsum(intervals)))[:-1]
    knots, places, back = [0.0], [0.0], 0.0
    for at, interval, length in zip(begin, intervals, lengths, strict=True):
        back_after = back + interval
        knots += [float(at), float(at + length)]
        places += [float(at) - back, float(at + length) - back_after]
        back = back_after
    end = float(begin[-1] + intervals[-1])
    knots.append(end)
    places.append(end - back)
    edges = np.arange(int(end * samples_per_period) + 1) / samples_per_period
    return np.diff(np.interp(edges, knots, places)) * vb * samples_per_period


def force_on_bridge(velocity: Array, *, beta: float, samples_per_period: int, Z0: float) -> Array:
    """Return the force on a rigid bridge when the string moves so under the bow, in N.

    Between a rigid bridge and a point x with velocity v(w) the wave equation has the one solution
    F(w) = Z0 v(w) / (i sin(w x / c)); a little loss keeps it finite where the sine is zero. The signal
    counts as one period.
    """
    n = len(velocity)
    v = np.fft.rfft(velocity - velocity.mean())
    cycles = np.arange(len(v)) * samples_per_period / n  # in units of the free string's frequency
    angle = np.pi * cycles * beta * (1.0 - 0.01j)
    sine = np.sin(angle)
    sine[0] = 1.0
    return np.fft.irfft(Z0 * v / (1j * sine), n)


def make_motion(
    velocity: Array,
    *,
    vb: float | Array,
    beta: float,
    samples_per_period: int,
    f0: float = 196.0,
    Z0: float = 0.35,
    force: Array | None = None,
    weight_n: float = 0.5,
) -> Motion:
    """Return a motion with this velocity, and the force that follows from it unless one is given."""
    n = len(velocity)
    K = samples_per_period
    if force is None:
        force = force_on_bridge(velocity, beta=beta, samples_per_period=K, Z0=Z0)
    return Motion(
        rate_hz=f0 * K,
        frequency_hz=f0,
        samples_per_period=K,
        beta=beta,
        impedance_kg_s=Z0,
        start_s=0.0,
        bow_speed_m_s=np.broadcast_to(np.asarray(vb, dtype=float), (n,)),
        weight_n=np.full(n, weight_n),
        velocity_m_s=velocity,
        slipping=np.zeros((n, 1), dtype=bool),
        bridge_force_n=force,
        sound=np.zeros(n),
        shapes_m=np.zeros((0, 0)),
        shape_times_s=np.zeros(0),
        shape_positions_m=np.zeros(0),
    )


def train(
    intervals: Sequence[float], lengths: Sequence[float], *, vb: float = 0.1, beta: float = 0.1, K: int = 200
) -> Motion:
    """Return a motion whose slips have these intervals and lengths, in periods."""
    velocity = slip_train(intervals, lengths, vb=vb, samples_per_period=K, f0=196.0)
    return make_motion(velocity, vb=vb, beta=beta, samples_per_period=K)
