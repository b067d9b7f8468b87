"""Where the string lets go of the bow: onsets of slips, between samples.

A slip begins where a signal in units of the ideal one (0 while sticking, 1 while slipping) rises above
one level after it had been below a lower one; ripples between the two levels do not count. Counting
such onsets in the bow-point velocity follows J. Woodhouse, "On the playability of violins. Part II",
Acustica 78, 137-153 (1993); counting flybacks in the bridge force follows P. M. Galluzzo, PhD thesis,
University of Cambridge (2004), and P. M. Galluzzo and J. Woodhouse, Acta Acust. u. Acust. 100, 139-153
(2014). Both are read in secondary texts; levels and gates are our own.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from colophony.physics.motion import Motion

Array = NDArray[np.float64]


class Levels(NamedTuple):
    """A slip begins above ``onset``, is over below ``release``; nearer ones than ``merge`` are one.

    In units of the ideal jump; ``merge`` in periods: the hairs of a ribbon let go one after another.
    """

    onset: float
    release: float
    merge: float


VELOCITY = Levels(onset=0.25, release=0.10, merge=0.03)
FLYBACK = Levels(onset=0.35, release=0.15, merge=0.06)
#: A flyback is measured as the fall of the force within this share of a period.
FLYBACK_PERIODS = 0.04
#: Weaker slips than the ideal one shift both levels down to this share of their own height.
WEAK_SHARE = 0.45
#: Slower than this share of its top speed the bow counts as this fast: around a bow change every
#: velocity would be great beside its own.
SLOWEST_SHARE = 0.05
#: Of four periods in a row, at least one holds a slip: the height that one in five exceeds tells of it.
UPPER = 0.8


@dataclass(frozen=True, slots=True, eq=False)
class Slips:
    """The slips in a window: ``onsets`` in samples with a fraction, ``peaks`` in units of the ideal jump.

    ``top`` is the greatest value of the signal in a period, its median over periods.
    """

    onsets: Array
    peaks: Array
    top: float
    samples_per_period: int


def ideal_jump_m_s(motion: Motion) -> Array:
    """Return vb / beta at every sample in m/s, always positive; zeros where the bow never moves."""
    speed = np.abs(motion.bow_speed_m_s).astype(float)
    return np.maximum(speed, SLOWEST_SHARE * float(speed.max(initial=0.0))) / motion.beta


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
    period = motion.samples_per_period
    fall = drop if top_of(drop, period) >= top_of(-drop, period) else -drop
    return fall + lag / period


def top_of(signal: Array, samples_per_period: int) -> float:
    """Return the greatest value in a period, the median over whole periods.

    Where most periods hold no slip, because the string slips every second to fourth time, it is that of
    the periods that do.
    """
    periods = len(signal) // samples_per_period
    if periods == 0:
        return float(signal.max(initial=0.0))
    greatest = signal[: periods * samples_per_period].reshape(periods, -1).max(axis=1)
    middle, upper = np.quantile(greatest, (0.5, UPPER))
    return float(middle if middle >= 0.5 * upper else upper)


def find_slips(signal: Array, *, samples_per_period: int, levels: Levels) -> Slips:
    """Return the slips in a signal that is 0 while the string sticks and 1 in the ideal slip.

    A slip that is under way as the window begins is not counted.
    """
    top = top_of(signal, samples_per_period)
    onset = min(levels.onset, WEAK_SHARE * max(top, 1e-3))
    release = min(levels.release, 0.4 * onset)
    side = (signal > onset).astype(np.int8) - (signal < release).astype(np.int8)
    decided = np.flatnonzero(side)
    rising = np.flatnonzero(np.diff(side[decided]) > 0)
    first = decided[rising + 1]
    if len(first) > 1:
        apart = np.diff(first) >= levels.merge * samples_per_period
        first = first[np.concatenate(([True], apart))]
    if len(first) == 0:
        return Slips(np.empty(0), np.empty(0), top, samples_per_period)
    below, above = signal[first - 1], signal[first]
    onsets = first - 1 + (onset - below) / (above - below)
    return Slips(onsets, np.maximum.reduceat(signal, first), top, samples_per_period)
