"""From the rate of the string's steps to that of the sound card, block by block."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from colophony.physics.kernel.body import loop

#: Half the length of the filter, samples of the output; its delay is as long: 0.3 ms at 48 kHz.
_HALF_TAPS = 16
#: Places between two samples at which the filter is kept; straight lines between them err by 1e-5.
_PHASES = 256


class Resampler:
    """Takes a sound in blocks of any length and gives it back in blocks of any length at another rate."""

    def __init__(self, ratio: float) -> None:
        """Begin after silence; ``ratio`` is the rate of what comes in over that of what goes out."""
        self._ratio = ratio
        self._half = math.ceil(_HALF_TAPS * max(ratio, 1.0))
        self._taps = _filter_taps(self._half, max(ratio, 1.0))
        # What is still needed of the sound that came in.
        self._raw = np.zeros(2 * self._half)
        self._next = float(self._half)  # where in it the next output sample lies

    def missing(self, count: int) -> int:
        """Return how many more samples must come in before ``count`` can go out; 0 or less: none."""
        return math.floor(self._last(count)) + self._half + 1 - len(self._raw)

    def give(self, samples: NDArray[np.float64]) -> None:
        """Take in what follows."""
        self._raw = np.concatenate([self._raw, samples])

    def take(self, count: int) -> NDArray[np.float64]:
        """Return the next ``count`` samples, none of which may be `missing`."""
        out = np.empty(count)
        _resample(self._raw, self._taps, self._next, self._ratio, out)
        self._next = self._last(count) + self._ratio
        spent = max(0, math.floor(self._next) - self._half)
        self._raw, self._next = self._raw[spent:], self._next - spent
        return out

    def _last(self, count: int) -> float:
        return self._next + (count - 1) * self._ratio


@loop(sums=True)
def _resample(raw, taps, first, ratio, out):  # type: ignore[no-untyped-def]
    """Fill ``out`` with the sound ``raw`` at the places ``first`` + i ``ratio``; taps of `_filter_taps`."""
    phases, length = taps.shape[0] - 1, taps.shape[1]
    for i in range(out.shape[0]):
        place = first + i * ratio
        whole = int(place)
        phase = (place - whole) * phases
        row = int(phase)
        share = phase - row
        begin = whole + 1 - length // 2
        near, far = 0.0, 0.0
        for k in range(length):
            near += raw[begin + k] * taps[row, k]
            far += raw[begin + k] * taps[row + 1, k]
        out[i] = near + (far - near) * share


def _filter_taps(half: int, ratio: float) -> NDArray[np.float64]:
    """Return the filter [phases + 1, 2 half]: a sinc that closes at 0.9 of the lower Nyquist frequency, under
    a raised cosine, for a sample that lies 0 to 1 behind the tap before its middle."""
    reach = np.arange(1 - half, half + 1)
    distance = (reach - np.arange(_PHASES + 1)[:, None] / _PHASES) / ratio
    window = 0.5 + 0.5 * np.cos(np.pi * np.clip(distance / _HALF_TAPS, -1, 1))
    return np.asarray(np.sinc(0.9 * distance) * window * 0.9 / ratio)
