"""A pitch that glides all the time, as speech and sirens do: no finger holds a string so."""

from __future__ import annotations

import numpy as np

from colophony.listening.pitch import HOP_S
from colophony.listening.warp import Periods

_WINDOW_ROWS = 17  # a cycle of the slowest usual vibrato, so that vibrato has no slope
_GLIDING_CENTS_S = 350.0
_STRAIGHT_CENTS = 12.0


def gliding_share(periods: Periods) -> float:
    """Return the share of a note (0 to 1) in which the pitch glides evenly by more than 350 cents a second.

    A straight line is fitted over 0.17 s around each row of 10 ms; where the pitch scatters about it, as in
    a rough tone, that is no glide.
    """
    times = periods.times_s
    if len(times) < 12:
        return 0.0
    grid = np.arange(times[0], times[-1], HOP_S)
    cents = 1200 * np.log2(np.interp(grid, times, periods.frequency_hz) / periods.centre_hz)
    size = min(_WINDOW_ROWS, len(cents))
    if size < 6:
        return 0.0
    windows = np.lib.stride_tricks.sliding_window_view(cents, size)
    t = np.arange(size) - 0.5 * (size - 1)
    slope = windows @ t / (t @ t)
    rest = windows - windows.mean(axis=1, keepdims=True) - slope[:, None] * t
    straight = np.sqrt((rest**2).mean(axis=1)) < np.maximum(_STRAIGHT_CENTS, 0.12 * np.abs(slope) * size)
    return float(((np.abs(slope) / HOP_S > _GLIDING_CENTS_S) & straight).mean())
