"""Does a force repeat, and after how long: normalised autocorrelation of a few periods."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

#: Where the next period is looked for, in periods of the free string.
NEXT_PERIOD = (0.94, 1.06)
#: A motion that repeats less often than the string is looked for up to so many periods ...
LONGEST_PERIOD, SHORTEST_LONG_PERIOD = 4.2, 1.3
#: ... and must correlate so well there, and so much better than after one period.
LONG_CORRELATION, LONG_GAIN = 0.90, 0.10
#: So many points a period tell whether a force repeats; further detail only costs time.
_POINTS = 200


class Repetition(NamedTuple):
    """``correlation`` of the best lag near one period, that ``period``, and ``long_period`` if any.

    Lags in periods of the free string.
    """

    correlation: float
    period: float
    long_period: float | None


def find_repetition(force: Array, *, samples_per_period: int, least: float) -> Repetition:
    """Return how well a force repeats, a trend that is a straight line left out.

    A force whose standard deviation stays below ``least`` (in its own unit) repeats nothing.
    """
    thin = max(1, samples_per_period // _POINTS)
    points = samples_per_period / thin
    x = force[: len(force) // thin * thin].reshape(-1, thin).mean(axis=1)
    n = len(x)
    ramp = np.arange(n) - 0.5 * (n - 1)
    x = x - x.mean() - ramp * (ramp @ x) / max(ramp @ ramp, 1.0)
    longest = min(int(LONGEST_PERIOD * points) + 2, n - int(2 * points))
    if longest < NEXT_PERIOD[1] * points or x.std() <= least:
        return Repetition(0.0, 1.0, None)
    spectrum = np.fft.rfft(x, 1 << (n + longest - 1).bit_length())
    product = np.fft.irfft(spectrum.real**2 + spectrum.imag**2)[:longest]
    energy = np.concatenate(([0.0], np.cumsum(x * x)))
    lags = np.arange(longest)
    both = (energy[n] - energy[lags]) * energy[n - lags]
    correlation = product / np.sqrt(np.maximum(both, 1e-300))
    best, period = _peak(correlation, *(round(edge * points) for edge in NEXT_PERIOD))
    return Repetition(best, period / points, _long_period(correlation, points, best))


def _long_period(correlation: Array, points: float, near: float) -> float | None:
    """Return the first lag beyond one period at which the motion repeats clearly better, in periods."""
    inner = correlation[1:-1]
    crest = (inner > correlation[:-2]) & (inner >= correlation[2:])
    good = crest & (inner >= max(LONG_CORRELATION, near + LONG_GAIN))
    lags = np.flatnonzero(good) + 1
    lags = lags[lags >= SHORTEST_LONG_PERIOD * points]
    return float(_peak(correlation, lags[0] - 1, lags[0] + 1)[1] / points) if len(lags) else None


def _peak(correlation: Array, first: int, last: int) -> tuple[float, float]:
    """Return the greatest value from first to last and its place, by a parabola through three points."""
    at = first + int(np.argmax(correlation[first : last + 1]))
    if at in (first - 1, len(correlation) - 1):
        return float(correlation[at]), float(at)
    left, middle, right = correlation[at - 1 : at + 2]
    bend = left - 2.0 * middle + right
    shift = 0.5 * (left - right) / bend if bend < 0.0 else 0.0
    shift = min(max(shift, -0.5), 0.5)
    return float(min(1.0, middle - 0.25 * (left - right) * shift)), at + float(shift)
