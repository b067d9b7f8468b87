"""What answers strokes in the tests of maps: planes put together by hand, limits and faults known."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from colophony.physics.bowings import START_KINDS, Answers, Bowings
from colophony.physics.instruments import find_instrument
from colophony.physics.regimes import STATES

STRING = find_instrument("violin").string("D")
LENGTH = STRING.sounding_length_m
HELMHOLTZ, SLIPPING, RAUCOUS = (STATES.index(s) for s in ("helmholtz", "multiple-slip", "raucous"))
#: F_max = c v / beta and F_min = a / beta^2.
C_KG_S, A_N = 0.75, 1.0e-3

Floats = NDArray[np.float64]
#: From speed, weight, beta and seed to the chance of a clean tone.
Chance = Callable[[Floats, Floats, Floats, NDArray[np.int64]], Floats]


def limits(speed: Floats | float, beta: Floats | float) -> tuple[Floats, Floats]:
    """The least and greatest weight of the constructed plane, N."""
    return A_N / np.asarray(beta) ** 2, C_KG_S * np.asarray(speed) / np.asarray(beta)


def wedge(speed: Floats, weight: Floats, beta: Floats, seed: NDArray[np.int64]) -> Floats:
    least, greatest = limits(speed, beta)
    return ((weight > least) & (weight < greatest)).astype(float)


@dataclass
class Constructed:
    """An ``ask`` whose truth is a chance: the same stroke with the same seed is always answered alike."""

    chance: Chance = wedge
    wrong: float = 0.0  #: share of answers turned round
    length_m: float = LENGTH
    interrupt_after: int | None = None  #: strokes
    strokes: int = 0
    calls: list[int] = field(default_factory=list)

    def __call__(self, bowings: Bowings) -> Answers:
        speed, weight, distance = (
            np.asarray(a, dtype=float) for a in (bowings.speed_m_s, bowings.weight_n, bowings.distance_m)
        )
        n = len(weight)
        if self.interrupt_after is not None and self.strokes + n > self.interrupt_after:
            raise KeyboardInterrupt
        self.strokes += n
        self.calls.append(n)
        beta, seed = distance / self.length_m, np.asarray(bowings.seed)
        # A number in 0 to 1 from the stroke itself, by turning its digits over.
        u = np.modf(
            np.abs(np.sin(weight * 12.9898 + distance * 7823.3 + speed * 373.7 + seed * 3.17)) * 43758.5453
        )[0]
        good = u < self.chance(speed, weight, beta, seed)
        v = np.modf(np.abs(np.sin(weight * 91.7 + distance * 1523.1 + seed * 1.33)) * 23421.631)[0]
        good ^= v < self.wrong
        least, greatest = limits(speed, beta)
        state = np.where(good, HELMHOLTZ, np.where(weight > np.sqrt(least * greatest), RAUCOUS, SLIPPING))
        nothing = np.full(n, np.nan, np.float32)
        return Answers(
            state.astype(np.int8), beta.astype(np.float32), *(nothing for _ in range(6)),
            np.full(n, START_KINDS.index("unknown"), np.int8),
        )  # fmt: skip


@dataclass
class Wedge:
    """An ``ask`` for starts: clean between two accelerations in proportion to the weight.

    Below they creak for 5 to 15 periods, above they slip for 12 to 24, the longer the farther from the edge.
    """

    least: float = 2.0  #: m/s^2 per N
    greatest: float = 3.0
    length_m: float = LENGTH
    interrupt_after: int | None = None
    strokes: int = 0

    def __call__(self, bowings: Bowings) -> Answers:
        assert np.all(np.isinf(bowings.speed_m_s))
        n = np.size(bowings.weight_n)
        if self.interrupt_after is not None and self.strokes + n > self.interrupt_after:
            raise KeyboardInterrupt
        self.strokes += n
        per_newton = np.asarray(bowings.acceleration_m_s2) / np.asarray(bowings.weight_n)
        below, above = per_newton <= self.least, per_newton >= self.greatest
        kind = np.where(below, 1, np.where(above, 2, 0)).astype(np.int8)
        creaks = np.minimum(5.0 + 10.0 * np.log(self.least / np.minimum(per_newton, self.least)), 15.0)
        slips = np.minimum(12.0 + 12.0 * np.log(np.maximum(per_newton, self.greatest) / self.greatest), 24.0)
        settling = np.where(below, creaks, np.where(above, slips, 1.0)).astype(np.float32)
        beta = (np.asarray(bowings.distance_m) / self.length_m).astype(np.float32)
        nothing = np.full(n, np.nan, np.float32)
        return Answers(np.full(n, -1, np.int8), beta, *(nothing for _ in range(4)), settling, nothing, kind)
