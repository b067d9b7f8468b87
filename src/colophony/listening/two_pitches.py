"""Two notes at once: a double stop must be recognised before it can be called rough.

Two strings bowed together give two series of harmonics. A tracker of one pitch then settles on one of
them, or on their common sub-multiple (two thirds of a fifth), and every measure of regularity fails.
"""

from __future__ import annotations

import numpy as np
import scipy.fft
from numpy.typing import NDArray

from colophony.listening.pitch import LOWEST_HZ, RATE_HZ, Floats

_WINDOW = 8192
_HOP = 4096
_HIGHEST_HZ = 5000.0
_DEEPEST_DB = -38.0
_PROMINENT_DB = 14.0
_TOLERANCE = 0.006
_PEAKS = 24
_MISSING = 10**-2.8
_PRESENT = 10**-1.7


def find_two_pitches(sound: Floats, *, lowest_hz: float = LOWEST_HZ) -> tuple[float, float] | None:
    """Return the two pitches in Hz (lower first) of a stretch at 24 kHz, or None where one explains it.

    Both must explain the peaks of most windows of a third of a second, and hold their pitch across them.
    """
    starts = range(0, max(len(sound) - _WINDOW, 0) + 1, _HOP)
    if len(sound) < _WINDOW:
        return None
    found = [_pair(sound[s : s + _WINDOW], lowest_hz) for s in list(starts)[:24]]
    pairs = np.array([pair for pair in found if pair is not None])
    if len(pairs) < max(2, 0.6 * len(found)):
        return None
    middle = np.median(pairs, axis=0)
    same = (np.abs(1200 * np.log2(pairs / middle)) < 40).all(axis=1)
    if same.sum() < max(2, 0.6 * len(found)):
        return None
    return float(middle[0]), float(middle[1])


def common_multiple(harmonics: NDArray[np.complex64], centre_hz: float) -> tuple[float, float] | None:
    """Return the two pitches when a note's harmonics are those of two notes in a pure interval.

    A pure fifth sounds the second, third, fourth, sixth, eighth, ninth ... harmonic of the tone an octave
    below its lower note, and not the first, fifth or seventh; no single string leaves those out.
    """
    power = (np.abs(harmonics[:, :16]) ** 2).mean(axis=0)
    if len(power) < 8:
        return None
    order = np.arange(1, len(power) + 1)
    for low, high in ((2, 3), (3, 4), (3, 5), (4, 5), (5, 6), (5, 8)):
        of_low, of_high = order % low == 0, order % high == 0
        other = ~(of_low | of_high)
        both = power[of_low | of_high].sum()
        if both <= 0 or power[other].max() > _MISSING * both or other[:7].sum() < 2:
            continue
        if min(power[of_low & ~of_high].max(), power[of_high & ~of_low].max()) > _PRESENT * both:
            return low * centre_hz, high * centre_hz
    return None


def _pair(window: Floats, lowest_hz: float) -> tuple[float, float] | None:
    hz, level = _peaks(window)
    if len(hz) < 4:
        return None
    power = 10 ** (level / 20)  # magnitudes: a few strong partials must not decide alone
    candidates = np.unique(np.round(np.concatenate([hz[:12] / d for d in (1, 2, 3, 4)]), 1))
    candidates = candidates[(candidates >= max(lowest_hz, LOWEST_HZ)) & (candidates < 1500.0)]
    fits = [_fit(hz, power, f0) for f0 in candidates]
    candidates = np.array([f0 for f0, fit in zip(candidates, fits, strict=True) if fit is not None])
    explained = np.array([fit for fit in fits if fit is not None])
    if len(candidates) < 2:
        return None
    total = power.sum()
    alone = explained @ power / total
    if alone.max() > 0.93:
        return None
    best, chosen = 0.0, None
    for i in range(len(candidates)):
        both = explained | explained[i]
        shares = both @ power / total
        for j in np.argsort(-shares)[:6]:
            ratio = candidates[j] / candidates[i]
            if ratio <= 1.04 or abs(ratio - round(ratio)) < 0.02:
                continue
            own_i = power[explained[i] & ~explained[j]].sum() / total
            own_j = power[explained[j] & ~explained[i]].sum() / total
            if min(own_i, own_j) > 0.12 and shares[j] > best:
                best, chosen = float(shares[j]), (float(candidates[i]), float(candidates[j]))
    return chosen if best > max(0.85, float(alone.max()) + 0.12) else None


def _peaks(window: Floats) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return frequency and level (dB re the highest) of the prominent peaks, strongest first."""
    size = np.abs(scipy.fft.rfft(window * np.hanning(len(window)).astype(np.float32)))
    level = 20 * np.log10(np.maximum(size, 1e-9))
    top = int(_HIGHEST_HZ * len(window) / RATE_HZ)
    first = int(50.0 * len(window) / RATE_HZ)
    level = level[:top].astype(np.float64)
    level -= level[first:].max()
    at = np.flatnonzero((level[1:-1] > level[:-2]) & (level[1:-1] >= level[2:])) + 1
    at = at[(at > first) & (level[at] > _DEEPEST_DB)]
    around = np.array([np.median(level[max(a - 40, 0) : a + 41]) for a in at])
    at = at[level[at] - around > _PROMINENT_DB] if len(at) else at
    at = at[np.argsort(-level[at])][:_PEAKS]
    a, b, c = level[at - 1], level[at], level[at + 1]
    shift = 0.5 * (a - c) / np.minimum(a - 2 * b + c, -1e-9)
    return (at + np.clip(shift, -0.5, 0.5)) * (RATE_HZ / len(window)), b


def _fit(hz: NDArray[np.float64], power: NDArray[np.float64], f0: float) -> NDArray[np.bool_] | None:
    """Return which peaks are harmonics of ``f0``, or None when too few of its own lowest are there."""
    order = np.rint(hz / f0)
    # A bin of a third of a second is 3 Hz wide; strings are stiff, so allow a little more higher up.
    near = np.abs(hz - order * f0) < np.maximum(4.0, _TOLERANCE * hz)
    near &= order >= 1
    lowest = {int(n) for n in order[near] if n <= 5}
    if len(lowest) < 3 or not lowest & {1, 2} or power[near].sum() == 0:
        return None
    return near
