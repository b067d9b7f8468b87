"""The memory of runs side by side, the segments they play, and the one place that calls the loops."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from colophony.physics.kernel.body import interpreted
from colophony.physics.kernel.loops import ENDS, HAIR, play_lane
from colophony.physics.kernel.string import End, StringNumbers
from colophony.physics.kernel.vector import Lanes

Array = NDArray[Any]

#: Runs that share their instructions. Of 16 each waits for its own square roots; more than 32 do not fit
#: the registers.
LANES = 32


@dataclass(frozen=True, slots=True, eq=False)
class Segments:
    """Stretches of a run in order; in each, speed and weight run linearly and the rest stands still."""

    lengths: NDArray[np.int64]  #: [s] steps
    nut: NDArray[np.int64]  #: [s] points from bridge to nut or finger
    tuning: Array  #: [s] coefficient of the tuning allpass
    at: NDArray[np.int64]  #: [s, hairs] place of each hair, points from the bridge
    torsion_at: NDArray[np.int64]  #: [s] place of the ribbon's centre, torsional points
    torsion_part: Array  #: [s] how far on to the next of them, 0 to 1
    shares: Array  #: [s, hairs] share of the weight
    roots: Array  #: [s, hairs] 1 / sqrt(weight per width of this hair over the whole weight), m^(1/2)
    speed: Array  #: [s + 1, lanes] m/s at the segments' bounds
    weight: Array  #: [s + 1, lanes] N


@dataclass(frozen=True, slots=True, eq=False)
class Numbers:
    """What does not change while a string is played, in double precision."""

    string: StringNumbers
    laws: tuple[Any, ...]  #: every friction law's constants, in the order of `LAWS`
    law: int
    sections: int
    body: NDArray[np.float64]  #: [5, modes] A, B, C, w of `mode_step`, C times the part in the sound


@dataclass(frozen=True, slots=True, eq=False)
class Played:
    """What the loops write, from the first kept step on."""

    velocity: Array  #: [n, lanes] string at the bow, m/s
    force: Array  #: [n, lanes] on the bridge, N
    sound: Array  #: [n, lanes]
    sliding: Array  #: [n, hairs, lanes] bow less string at each hair, m/s


class Strings:
    """Strings played side by side, one a lane: their waves, filters, hairs and bodies. Changed by `play`."""

    def __init__(
        self,
        numbers: Numbers,
        *,
        lanes: int,
        points: int,
        torsion_points: int,
        hairs: int,
        real: Any = np.float64,
        target: str = "cpu",
    ) -> None:
        """Hold strings at rest; ``real`` is the type that everything is computed in."""
        self.real, self.target, self.lanes = real, target, lanes
        self.law, self.sections = numbers.law, numbers.sections
        self.numbers = _cast(numbers.string, real)
        self.laws = tuple(_cast(law, real) for law in numbers.laws)
        self.body = np.ascontiguousarray(numbers.body, real)
        self.waves = tuple(
            _zeros((count, lanes), real) for count in (points, points, torsion_points, torsion_points)
        )
        self.ends = _zeros((ENDS + numbers.sections, lanes), real)
        modes = numbers.body.shape[1]
        self.modes = (
            _zeros((modes, 2, lanes), real) if lanes > 1 else np.zeros((modes, 2, 1), real, order="F")
        )
        self.hairs = _zeros((hairs, HAIR, lanes), real)
        self.step = 0

    def play(self, segments: Segments, *, keep: int | None = None) -> Played:
        """Play segments and return the last ``keep`` steps of them, all where it is left out."""
        total = int(segments.lengths.sum())
        keep = total if keep is None else min(keep, total)
        real, lanes, hairs = self.real, self.lanes, self.hairs.shape[0]
        velocity, force, sound = (_aligned((keep, lanes), real) for _ in range(3))
        out = Played(velocity, force, sound, _aligned((keep, hairs, lanes), real))
        common = (
            self.step,
            total - keep,
            self.law,
            self.sections,
            segments.lengths,
            np.asarray(1.0 / segments.lengths, real),
            segments.nut,
            np.asarray(segments.tuning, real),
            segments.at,
            segments.torsion_at,
            np.asarray(segments.torsion_part, real),
            np.asarray(segments.shares, real),
            np.asarray(segments.roots, real),
            np.ascontiguousarray(segments.speed, real),
            np.ascontiguousarray(segments.weight, real),
            self.waves,
            self.ends,
            self.modes,
            self.body,
            self.hairs,
            self.numbers,
            self.laws,
            out.velocity,
            out.force,
            out.sound,
            out.sliding,
        )
        if self.target == "cuda":
            from colophony.physics.kernel.cuda import play_threads

            changed = (*self.waves, self.ends, self.modes, self.hairs)
            play_threads(lanes, common, (*changed, out.velocity, out.force, out.sound, out.sliding))
        else:
            play = play_lane if self.target == "cpu" else interpreted(play_lane)
            together = lanes - lanes % LANES if self.target == "cpu" else 0
            for first in range(0, together, LANES):
                play(Lanes(first, LANES), *common)
            for lane in range(together, lanes):
                play(lane, *common)
        self.step += total
        return out

    def shape(self, lane: int, points: int) -> tuple[Array, Array]:
        """Return the waves (towards nut, towards bridge) at the first points of one string, as copies."""
        lines = self.waves[0].shape[0]
        order = np.arange(points)
        # After step n - 1 the point x lies where that step left it.
        n = self.step - 1
        return (
            self.waves[0][(order - n) % lines, lane].copy(),
            self.waves[1][(order + n) % lines, lane].copy(),
        )


def _aligned(shape: tuple[int, ...], real: Any) -> Array:
    """Return memory that begins on a cache line, so that no row of lanes lies across two."""
    size = math.prod(shape) * np.dtype(real).itemsize
    memory = np.empty(size + 64, np.uint8)
    begin = -memory.ctypes.data % 64
    return memory[begin : begin + size].view(real).reshape(shape)


def _zeros(shape: tuple[int, ...], real: Any) -> Array:
    zeros = _aligned(shape, real)
    zeros.fill(0)
    return zeros


def _cast(numbers: Any, real: Any) -> Any:
    """Return a named tuple of numbers, nested or not, in another precision."""
    return type(numbers)(
        *(_cast(value, real) if isinstance(value, End) else real(value) for value in numbers)
    )
