"""What the readers look at: a motion's velocity and bridge force in units of the ideal motion."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from colophony.physics.motion import Motion
from colophony.physics.regimes.rules import rules
from colophony.physics.regimes.slips import top_of

Array = NDArray[np.float64]

#: A flyback is measured as the fall of the force within this share of a period.
FLYBACK_PERIODS = 0.04


def ideal_jump_m_s(motion: Motion) -> Array:
    """Return vb / beta at every sample in m/s, always positive; zeros where the bow never moves."""
    speed = np.abs(motion.bow_speed_m_s).astype(float)
    return np.maximum(speed, rules().slowest * float(speed.max(initial=0.0))) / motion.beta


def relative_velocity(motion: Motion, jump: Array) -> Array:
    """Return how fast the bow slides over the string in units of the ideal jump: 0 stuck, 1 slipping."""
    relative = (motion.bow_speed_m_s - motion.velocity_m_s) * np.sign(motion.bow_speed_m_s)
    return np.asarray(relative / np.maximum(jump, 1e-12), dtype=float)


def bridge_drop(motion: Motion, jump: Array) -> Array:
    """Return how far the bridge force falls within a short while, in units of the ideal flyback.

    The slow rise of the saw-tooth in that while is added: 0 as it rises, 1 as it flies back. Which
    direction is a fall is told by the force itself: the steeper side of the saw-tooth.
    """
    lag = max(1, round(FLYBACK_PERIODS * motion.samples_per_period))
    force = motion.bridge_force_n
    drop = np.zeros(len(force))
    drop[:-lag] = force[:-lag] - force[lag:]
    drop *= np.sign(motion.bow_speed_m_s) / (2.0 * motion.impedance_kg_s * np.maximum(jump, 1e-12))
    period, tops = motion.samples_per_period, tops_for(motion)
    falls, rises = (top_of(0, column(side), len(drop), period, tops, rules()) for side in (drop, -drop))
    return (drop if falls >= rises else -drop) + lag / period


def column(signal: ArrayLike) -> Array:
    """Return a signal as the one lane of an array for the loops: a copy, [n, 1]."""
    return np.array(signal, dtype=float)[:, None]


def tops_for(motion: Motion) -> Array:
    """Return the space in which the loops order the heights of a motion's periods, [periods, 1]."""
    return np.empty((max(1, len(motion.bow_speed_m_s) // motion.samples_per_period), 1))
