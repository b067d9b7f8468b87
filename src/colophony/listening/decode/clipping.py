"""Counts the samples that overload cut flat.

A wave that exceeds what the recorder can hold is cut at the limit: its tops become flat. Straight
after the cut, and after any later change of level, the flat tops are runs of equal samples close to
the recording's peak, with steep sides; they are counted exactly. The smooth top of a low, pure tone
can hold equal samples too, because steps of the sample format hide its curve; beside it the wave
falls as slowly as a parabola, and that tells it apart. So does a constant value, which never falls.

A lossy codec afterwards makes the flat tops ripple. What remains is that the wave spends more time
near its peak than it does where the same recording is quieter. In windows of 20 ms the share of
samples in the upper 15 % is compared between windows near full scale and those that stay well below;
where it has more than doubled, the excess is the estimate. It needs some quieter windows to compare
with, and it is coarse: on bowed notes it came out between half of the true share and twice, and it missed
shares below about 5 %.

What this cannot tell: overload, then a lower level, then a lossy codec; and overload rounded by a
limiter. A share of 0 therefore means "none seen".
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

_BINS = 1024
_SHORTEST_RUN = 3
_EQUAL = 2.0**-16  # half a step of 16 bits: equal samples, in any format
_STEP = {"pcm_u8": 2.0**-7, "pcm_s8": 2.0**-7, "pcm_alaw": 2.0**-5, "pcm_mulaw": 2.0**-5}  # else 16 bits
_LOSSLESS = ("pcm_", "flac", "alac", "wavpack", "tta")
_WINDOW_S = 0.02  # holds a period of any bowed string but the lowest bass notes
_UPPER = 0.85
_QUIET = (0.1, 0.8)  # window peaks that overload cannot have touched
_FULL = 0.93
_FEWEST_WINDOWS = 3
_CLEAR_EXCESS = 2.0, 0.02  # times the usual share, plus this


class ClipMeter:
    """Gathers over a whole recording; give it about a second at a time."""

    def __init__(self, channels: int, *, rate_hz: int, codec: str) -> None:
        self._samples = 0
        self._lossy = not codec.startswith(_LOSSLESS)
        self._step = _STEP.get(codec, 2.0**-15)
        self._window = max(1, round(_WINDOW_S * rate_hz))
        # Flat runs by level, for positive and negative tops of each channel; the level decides at
        # the end, when the recording's own peak is known.
        self._flat = np.zeros((channels, 2, _BINS + 1), dtype=np.int64)
        self._peak = np.zeros((channels, 2), dtype=np.float64)
        # Per channel: how many quiet windows had which upper share (in per cent); sum and number of
        # the upper shares of the windows at full scale.
        self._quiet = np.zeros((channels, 101), dtype=np.int64)
        self._full = np.zeros((channels, 2), dtype=np.float64)

    def add(self, samples: NDArray[np.float32]) -> None:
        """Samples of shape (channels, n). Runs across two calls count as two runs."""
        self._samples += samples.shape[1]
        if samples.shape[1] == 0:
            return
        for channel, wave in enumerate(samples):
            if self._lossy:
                self._add_windows(channel, wave)
            equal = np.abs(np.diff(wave)) < _EQUAL
            for side, peak in enumerate((wave.max(), -wave.min())):
                self._peak[channel, side] = max(self._peak[channel, side], float(peak))
                # Tops far below the recording's peak so far are not its limit.
                lowest = max(0.5 * self._peak[channel, side], 0.05)
                if peak > lowest:
                    self._add_flat(channel, side, wave if side == 0 else -wave, equal, lowest)

    def _add_flat(
        self,
        channel: int,
        side: int,
        wave: NDArray[np.float32],
        equal: NDArray[np.bool_],
        lowest: float,
    ) -> None:
        starts, ends = _runs(equal & (wave[1:] > lowest))
        lengths = ends - starts + 1  # k equal neighbours are k + 1 samples
        keep = (lengths >= _SHORTEST_RUN) & self._steep(wave, starts, ends)
        bins = np.minimum(wave[starts[keep]] * _BINS, _BINS).astype(np.int64)
        np.add.at(self._flat[channel, side], bins, lengths[keep])

    def _steep(
        self, wave: NDArray[np.float32], starts: NDArray[np.int64], ends: NDArray[np.int64]
    ) -> NDArray[np.bool_]:
        """Whether the wave falls away beside each run ``wave[start : end + 1]``.

        A parabola whose steps within the run of L samples stay below d has fallen by at most 2.25 d L
        three half-widths from its top, and by 9 q if steps of the format q hide its curve. Steep is
        three times that, at once or L samples beyond the run.
        """
        lengths = ends - starts + 1
        limit = wave[starts] - 3 * (2.25 * _EQUAL * lengths + 9 * self._step)
        last = len(wave) - 1
        left = np.minimum(wave[np.maximum(starts - 1, 0)], wave[np.maximum(starts - lengths, 0)])
        right = np.minimum(wave[np.minimum(ends + 1, last)], wave[np.minimum(ends + lengths, last)])
        return np.asarray(np.maximum(left, right) < limit)

    def _add_windows(self, channel: int, wave: NDArray[np.float32]) -> None:
        whole = len(wave) // self._window * self._window
        windows = np.abs(wave[:whole].reshape(-1, self._window))
        peaks = windows.max(axis=1, initial=0.0)
        upper = (windows > _UPPER * np.minimum(peaks, 1.0)[:, None]).mean(axis=1)
        quiet = (peaks > _QUIET[0]) & (peaks < _QUIET[1])
        self._quiet[channel] += np.bincount((100 * upper[quiet]).astype(np.int64), minlength=101)
        full = upper[peaks > _FULL]
        self._full[channel] += full.sum(), len(full)

    @property
    def share(self) -> float:
        """Share of the samples that were cut flat, 0 to 1, in the channel that suffered most."""
        if not self._samples:
            return 0.0
        bottom = np.minimum(0.97 * self._peak * _BINS, _BINS).astype(np.int64)
        at_peak = np.arange(_BINS + 1) >= bottom[..., None]
        flat = (self._flat * at_peak).sum(axis=(1, 2)) / self._samples
        rippled = [self._excess(channel) for channel in range(len(self._full))]
        return float(min(1.0, np.maximum(flat, rippled).max(initial=0.0)))

    def _excess(self, channel: int) -> float:
        total, count = self._full[channel]
        quiet = self._quiet[channel]
        if count < _FEWEST_WINDOWS or quiet.sum() < _FEWEST_WINDOWS:
            return 0.0
        usual = (np.searchsorted(np.cumsum(quiet), quiet.sum() / 2) + 0.5) / 100  # the median
        found = total / count
        if found < _CLEAR_EXCESS[0] * usual + _CLEAR_EXCESS[1]:
            return 0.0
        return float((found - usual) * count * self._window / self._samples)


def _runs(mask: NDArray[np.bool_]) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Starts and (exclusive) ends of the runs of true values."""
    edges = np.diff(np.concatenate(([0], mask.astype(np.int8), [0])))
    return np.flatnonzero(edges == 1), np.flatnonzero(edges == -1)
