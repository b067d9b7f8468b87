"""The memory of runs side by side, the segments they play, and the one place that calls the loops."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from colophony.physics.kernel.body import interpreted
from colophony.physics.kernel.lanes import LANES, ROWS, play_lanes
from colophony.physics.kernel.loops import ENDS, play_lane
from colophony.physics.kernel.string import End, StringNumbers

Array = NDArray[Any]


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
    body: NDArray[np.float64]  #: [5, modes] A, B, C, w of `mode_step`, and the mode's part in the sound


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
            np.zeros((count, lanes), real) for count in (points, points, torsion_points, torsion_points)
        )
        self.ends = np.zeros((ROWS if lanes == LANES else ENDS + numbers.sections, lanes), real)
        self.modes = np.zeros((numbers.body.shape[1], 2, lanes), real, order="F" if lanes == 1 else "C")
        self.hairs = np.zeros((hairs, 6, lanes), real)
        self.step = 0

    def play(self, segments: Segments, *, keep: int | None = None) -> Played:
        """Play segments and return the last ``keep`` steps of them, all where it is left out."""
        total = int(segments.lengths.sum())
        keep = total if keep is None else min(keep, total)
        real, lanes, hairs = self.real, self.lanes, self.hairs.shape[0]
        out = Played(
            np.empty((keep, lanes), real),
            np.empty((keep, lanes), real),
            np.empty((keep, lanes), real),
            np.empty((keep, hairs, lanes), real),
        )
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
            *self._memory(flat=self.target == "cpu" and lanes == LANES),
            self.numbers,
            self.laws,
            out.velocity,
            out.force,
            out.sound,
            out.sliding,
        )
        if self.target == "cpu" and lanes == LANES:
            play_lanes(*common)
        elif self.target == "cuda":
            from colophony.physics.kernel.cuda import play_threads

            changed = (*self.waves, self.ends, self.modes, self.hairs)
            play_threads(lanes, common, (*changed, out.velocity, out.force, out.sound, out.sliding))
        else:
            play = play_lane if self.target == "cpu" else interpreted(play_lane)
            for lane in range(lanes):
                play(lane, *common)
        self.step += total
        return out

    def _memory(self, *, flat: bool) -> tuple[Any, ...]:
        """Return waves, ends, modes, body and hairs as the loops take them."""
        if not flat:
            return self.waves, self.ends, self.modes, self.body, self.hairs
        waves = tuple(line.reshape(-1) for line in self.waves)
        return waves, self.ends.reshape(-1), self.modes.reshape(-1), self.body, self.hairs.reshape(-1)

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


def _cast(numbers: Any, real: Any) -> Any:
    """Return a named tuple of numbers, nested or not, in another precision."""
    return type(numbers)(
        *(_cast(value, real) if isinstance(value, End) else real(value) for value in numbers)
    )
