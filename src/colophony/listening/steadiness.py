"""Vibrato apart from the centre, and how steady level and pitch were."""

from __future__ import annotations

import numpy as np
import scipy.fft
from numpy.typing import NDArray

from colophony.listening.pitch import HOP_S
from colophony.listening.take import Steadiness
from colophony.listening.warp import Periods

_VIBRATO_HZ = (3.5, 9.5)
_LEAST_VIBRATO_CENTS = 4.0
_LEAST_S = 0.45


def steadiness(
    periods: Periods, level_db: NDArray[np.floating], *, from_s: float, to_s: float
) -> tuple[float, Steadiness]:
    """Return the centre pitch (Hz) and the steadiness between two times.

    ``level_db`` has one value each 10 ms over the same stretch. The centre is the median after vibrato has
    been averaged out, so a cut through half a cycle does not move it.
    """
    inside = (periods.times_s >= from_s) & (periods.times_s <= to_s)
    if inside.sum() < 5:
        inside = np.ones(len(periods.times_s), bool)
    times, hz = periods.times_s[inside], periods.frequency_hz[inside]
    grid = np.arange(times[0], times[-1] + 1e-9, HOP_S)
    rough_centre = float(np.median(hz))
    cents = 1200 * np.log2(np.interp(grid, times, hz) / rough_centre)
    rate, extent = _vibrato(cents)
    smoothing_s = 1 / rate if rate else 0.1
    centre = _moving_mean(cents, smoothing_s)
    centre_hz = rough_centre * 2 ** (float(np.median(centre)) / 1200)
    if len(grid) * HOP_S < _LEAST_S:
        return centre_hz, Steadiness(None, None, None, None)
    level = _moving_mean(np.asarray(level_db, np.float64), max(smoothing_s, 0.1))
    return centre_hz, Steadiness(
        round(_swing(level), 1) if len(level) >= 10 else None,
        round(_swing(centre), 1),
        round(rate, 2) if rate else None,
        round(extent, 1) if rate else None,
    )


def _swing(values: NDArray[np.float64]) -> float:
    low, high = np.percentile(values, (5, 95))
    return float(high - low)


def _moving_mean(values: NDArray[np.float64], seconds: float) -> NDArray[np.float64]:
    """Moving mean over ``seconds``; the ends, where it would reach outside, are left out where possible."""
    width = max(1, round(seconds / HOP_S))
    if width <= 1 or len(values) < 2 * width:
        return values if width <= 1 else np.array([values.mean()])
    return np.convolve(values, np.ones(width) / width, "valid")


def _vibrato(cents: NDArray[np.float64]) -> tuple[float | None, float]:
    """Return the rate (Hz) and the extent to either side (cents) of a vibrato, or (None, 0)."""
    count = len(cents)
    if count * HOP_S < _LEAST_S:
        return None, 0.0
    t = np.linspace(-1, 1, count)
    flat = cents - np.polynomial.polynomial.polyval(t, np.polynomial.polynomial.polyfit(t, cents, 3))
    size = 1 << (4 * count).bit_length()
    power = np.abs(scipy.fft.rfft(flat * np.hanning(count), size)) ** 2
    hz = np.arange(len(power)) / (size * HOP_S)
    band = (hz >= _VIBRATO_HZ[0]) & (hz <= _VIBRATO_HZ[1])
    at = int(np.flatnonzero(band)[np.argmax(power[band])])
    if not 0 < at < len(power) - 1 or power[at] < power[at - 1] or power[at] < power[at + 1]:
        return None, 0.0
    width = 2.0 / (count * HOP_S)
    near = np.abs(hz - hz[at]) <= width
    rest = (hz > 1.0) & (hz < 20.0)
    if power[near].sum() < 0.5 * power[rest].sum():
        return None, 0.0
    # A sine of amplitude a has mean square a^2 / 2; count only what lies near the rate.
    share = float(power[near].sum() / power[hz < 50.0].sum())
    window = np.hanning(count) ** 2
    extent = float(np.sqrt(2 * share * (flat**2 * window).sum() / window.sum()))
    return (float(hz[at]), extent) if extent >= _LEAST_VIBRATO_CENTS else (None, 0.0)
