"""Several channels become one, without letting opposite phases cancel.

The mean of the channels is right for nearly every take. It fails when one channel is the other's
opposite (a cable or a plug-in with swapped poles, some stereo modes of phones): the sum is then
nearly silent. While the mean keeps less than a fifth of the loudest channel's power, the loudest
channel alone is used. A fifth (-7 dB) lies below the -6 dB of a take whose second channel is
merely dead, and the -3 dB of two unrelated channels, so both of these stay with the mean.

The choice is made afresh ten times a second from the power of about the last second, so it needs
no second pass and gives the same result for the same file.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

_KEEP_MEAN_ABOVE = 0.2  # of the loudest channel's power
_BACK_TO_MEAN_ABOVE = 0.4  # wider, so that the choice does not flicker
_FORGET = float(np.exp(-0.1))  # a slice of 0.1 s, remembered for about a second
_FADE_S = 0.005
SLICE_S = 0.1


class Mixdown:
    """Turns slices of shape (channels, n) into mono, keeping the choice of channel between slices."""

    def __init__(self, channels: int, *, rate_hz: int) -> None:
        self._mean = np.full(channels, 1.0 / channels, dtype=np.float32)
        self._weights = self._mean
        self._fade = max(1, round(_FADE_S * rate_hz))
        self._channel_power = np.zeros(channels)
        self._mean_power = 0.0

    def mix(self, samples: NDArray[np.float32]) -> NDArray[np.float32]:
        """One slice of about `SLICE_S` to mono: shape (channels, n) to (n,)."""
        if len(samples) == 1 or samples.shape[1] == 0:
            mono: NDArray[np.float32] = samples.sum(axis=0, dtype=np.float32)
            return mono
        before, self._weights = self._weights, self._choose(samples)
        mono = self._weights @ samples
        if before is not self._weights:
            n = min(self._fade, len(mono))
            ramp = np.linspace(0.0, 1.0, n, endpoint=False, dtype=np.float32)
            mono[:n] = ramp * mono[:n] + (1 - ramp) * (before @ samples[:, :n])
        return mono

    def _choose(self, samples: NDArray[np.float32]) -> NDArray[np.float32]:
        # Variance, not square: a constant offset of one channel is no sound. All powers follow from
        # the channels' covariance; the mean's power is the mean of all its entries.
        n = samples.shape[1]
        sums = samples.sum(axis=1, dtype=np.float64)
        covariance = (samples @ samples.T).astype(np.float64) - np.outer(sums, sums) / n
        self._channel_power = _FORGET * self._channel_power + np.maximum(covariance.diagonal(), 0.0)
        self._mean_power = _FORGET * self._mean_power + max(0.0, float(covariance.mean()))
        loudest = int(np.argmax(self._channel_power))
        on_mean = self._weights is self._mean
        limit = _KEEP_MEAN_ABOVE if on_mean else _BACK_TO_MEAN_ABOVE
        if self._mean_power >= limit * self._channel_power[loudest]:
            return self._mean
        if not on_mean:
            current = int(np.argmax(self._weights))
            if self._channel_power[loudest] < 2 * self._channel_power[current]:
                return self._weights
        weights = np.zeros_like(self._mean)
        weights[loudest] = 1.0
        return weights
