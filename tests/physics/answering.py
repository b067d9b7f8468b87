"""What answers strokes in the tests of maps: a plane put together by hand, and the real string.

The plane's limits are known, and faults of known size are strewn in.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from colophony.physics.bowings import START_KINDS, Answers, Bowings
from colophony.physics.gestures import accelerate, steady
from colophony.physics.instruments import Instrument, find_instrument
from colophony.physics.regimes import STATES, read_motion, read_start
from colophony.physics.simulation import Model, simulate_many
from colophony.physics.strings import BowedString

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
            state.astype(np.int8), beta.astype(np.float32), *(nothing for _ in range(7)),
            np.full(n, START_KINDS.index("unknown"), np.int8),
        )  # fmt: skip


@dataclass
class Engine:
    """An ``ask`` over the real string: strokes of one distance side by side, then read one by one."""

    instrument: Instrument
    string: BowedString
    frequency_hz: float | None = None
    periods: int = 100
    samples_per_period: int = 200
    model: Model | None = None
    strokes: int = 0

    def __call__(self, bowings: Bowings) -> Answers:
        frequency = self.frequency_hz or self.string.open_frequency_hz
        seconds = self.periods / frequency
        speed, weight, distance, acceleration = np.broadcast_arrays(
            bowings.speed_m_s, bowings.weight_n, bowings.distance_m, bowings.acceleration_m_s2
        )
        assert not np.any(bowings.seed), "the string begins at rest"
        n = len(weight)
        self.strokes += n
        state, kind = np.full(n, -1, np.int8), np.full(n, -1, np.int8)
        beta, settling = np.full(n, np.nan, np.float32), np.full(n, np.nan, np.float32)
        starting = bool(np.isinf(speed).all())
        for place in np.unique(distance):
            here = np.flatnonzero(distance == place)
            strokes = [
                accelerate(a, w, place, seconds=min(seconds, 4.9 / a))
                if starting
                else steady(v, w, place, ramp_s=v / a)
                for v, w, a in zip(*(x[here].tolist() for x in (speed, weight, acceleration)), strict=True)
            ]
            motions = simulate_many(
                self.instrument, self.string, strokes, frequency_hz=self.frequency_hz, seconds=seconds,
                model=self.model, samples_per_period=self.samples_per_period,
                keep_periods=None if starting else 18,
            )  # fmt: skip
            beta[here] = motions[0].beta
            for i, motion in zip(here, motions, strict=True):
                if starting:
                    start = read_start(motion)
                    kind[i] = START_KINDS.index(start.kind)
                    settling[i] = np.nan if start.settling_periods is None else start.settling_periods
                else:
                    state[i] = STATES.index(read_motion(motion).state)
        nothing = np.full(n, np.nan, np.float32)
        return Answers(state, beta, *(nothing for _ in range(5)), settling, nothing, kind)


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
        return Answers(np.full(n, -1, np.int8), beta, *(nothing for _ in range(5)), settling, nothing, kind)
