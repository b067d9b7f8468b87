"""Counts the samples that overload cut flat.

A wave that exceeds what the recorder can hold is cut at the limit: its tops become flat. Straight
after the cut the flat tops are runs of equal samples. A lossy codec afterwards makes them ripple and
overshoot, yet they stay *too broad for their height*: a smooth top that spends w samples within 6 %
of its peak has fallen much further (a parabola: by 9 times as much) at 3 times that width, while
beside a flat top the wave falls at once. Both are counted here, the second only where the recording
reaches full scale, and only if the fall is several times the parabola's.

What this cannot tell: overload before a later change of level *and* a lossy codec together, and
overload rounded by a limiter. A share of 0 therefore means "none seen".
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

_BINS = 1024
_SHORTEST_RUN = 3
_EQUAL = 2.0**-16  # half a step of 16 bits: equal samples, in any format
_NEAR_FULL_SCALE = 0.94
_REACHES_FULL_SCALE = 0.985
_STEEPER_THAN_PARABOLA = 3.0


class ClipMeter:
    """Gathers over a whole recording; give it about a second at a time."""

    def __init__(self, channels: int) -> None:
        self._samples = 0
        # Flat runs by level, for positive and negative tops of each channel; the level decides at
        # the end, when the recording's own peak is known.
        self._flat = np.zeros((channels, 2, _BINS + 1), dtype=np.int64)
        self._peak = np.zeros((channels, 2), dtype=np.float64)
        self._broad = np.zeros((channels, 2), dtype=np.int64)

    def add(self, samples: NDArray[np.float32]) -> None:
        """Samples of shape (channels, n). Runs across two calls count as two runs."""
        self._samples += samples.shape[1]
        for channel, wave in enumerate(samples):
            for side, signed in enumerate((wave, -wave)):
                if not len(signed):
                    continue
                self._peak[channel, side] = max(self._peak[channel, side], float(signed.max()))
                self._add_flat(channel, side, signed)
                self._broad[channel, side] += _broad_top_samples(signed)

    def _add_flat(self, channel: int, side: int, wave: NDArray[np.float32]) -> None:
        level = 0.5 * self._peak[channel, side]
        equal = (np.abs(np.diff(wave)) < _EQUAL) & (wave[1:] > max(level, 0.05))
        starts, ends = _runs(equal)
        lengths = ends - starts + 1  # k equal neighbours are k + 1 samples
        keep = lengths >= _SHORTEST_RUN
        bins = np.minimum(wave[starts[keep]] * _BINS, _BINS).astype(np.int64)
        np.add.at(self._flat[channel, side], bins, lengths[keep])

    @property
    def share(self) -> float:
        """Share of the samples that were cut flat, 0 to 1, in the channel that suffered most."""
        if not self._samples:
            return 0.0
        bottom = np.minimum(0.97 * self._peak * _BINS, _BINS).astype(np.int64)
        at_peak = np.arange(_BINS + 1) >= bottom[..., None]
        flat = (self._flat * at_peak).sum(axis=2)
        worst = np.maximum(flat, self._broad).sum(axis=1).max(initial=0)
        return float(min(1.0, worst / self._samples))


def _broad_top_samples(wave: NDArray[np.float32]) -> int:
    """Samples in tops near full scale that are too broad for a smooth wave."""
    starts, ends = _runs(wave > _NEAR_FULL_SCALE)
    lengths = ends - starts
    keep = lengths >= _SHORTEST_RUN
    starts, ends, lengths = starts[keep], ends[keep], lengths[keep]
    if not len(starts):
        return 0
    tops = np.maximum.reduceat(wave, np.stack([starts, np.minimum(ends, len(wave) - 1)], axis=1).ravel())[::2]
    left = wave[np.maximum(starts - lengths, 0)]
    right = wave[np.minimum(ends - 1 + lengths, len(wave) - 1)]
    # A parabola falls from its top by h within the run and by 9 h at three times the width.
    parabola = 9 * np.maximum(tops - _NEAR_FULL_SCALE, 0.02)
    steep = tops - np.maximum(left, right) > _STEEPER_THAN_PARABOLA * parabola
    return int(lengths[steep & (tops > _REACHES_FULL_SCALE)].sum())


def _runs(mask: NDArray[np.bool_]) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Starts and (exclusive) ends of the runs of true values."""
    edges = np.diff(np.concatenate(([0], mask.astype(np.int8), [0])))
    return np.flatnonzero(edges == 1), np.flatnonzero(edges == -1)
