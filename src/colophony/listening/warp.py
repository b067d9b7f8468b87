"""A stretch of one note, resampled so that every period has the same number of points.

Once the pitch is constant, harmonic ``h`` of period ``n`` is one complex number, and vibrato no longer
smears the spectrum between the harmonics: noise, sub-periods and jitter can be measured as if the
player had held the finger still.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import scipy.fft
from numpy.typing import NDArray

from colophony.listening.pitch import HOP_S, RATE_HZ, Floats

Complexes = NDArray[np.complex64]

#: Harmonics up to here are heard, a limit that phones and codecs leave alone.
BAND_HZ = 7000.0
#: High notes have few harmonics below that; for them we listen higher.
HIGH_NOTE_BAND_HZ = 10_000.0
_HIGH_NOTE_HZ = 1000.0
_FINE_RATE_HZ = 2 * RATE_HZ


@dataclass(frozen=True, slots=True, eq=False)
class Periods:
    """One note as a row of periods.

    ``harmonics`` has shape (periods, highest harmonic); column 0 is the first harmonic.
    ``times_s`` is the middle of each period, ``frequency_hz`` the pitch there.
    """

    times_s: NDArray[np.float64]
    frequency_hz: NDArray[np.float64]
    harmonics: Complexes

    @property
    def centre_hz(self) -> float:
        """Median pitch in Hz, 0 when there is no period."""
        return float(np.median(self.frequency_hz)) if len(self.frequency_hz) else 0.0

    def per(self, seconds: float, *, least: int) -> int:
        """Return the number of periods in ``seconds``, but at least ``least``."""
        return max(least, round(seconds * self.centre_hz))


def refine_rate(sound: Floats) -> Floats:
    """Return ``sound`` at twice its rate, free of rumble below 35 Hz and of all above 10.5 kHz."""
    count = len(sound)
    size = scipy.fft.next_fast_len(count + RATE_HZ // 10, real=True)
    size += size % 2
    spectrum = scipy.fft.rfft(sound, size, workers=2)
    hz = np.arange(len(spectrum)) * (RATE_HZ / size)
    gain = np.clip((hz - 25.0) / 20.0, 0, 1) * np.clip((11_500.0 - hz) / 1000.0, 0, 1)
    spectrum *= gain.astype(np.float32)
    fine = scipy.fft.irfft(spectrum, 2 * size, workers=2)
    return (2 * fine[: 2 * count]).astype(np.float32, copy=False)


def to_periods(
    fine: Floats, *, frequency_hz: Floats, start_s: float, highest_hz: float | None = None
) -> Periods:
    """Warp the stretch of ``fine`` (48 kHz) that the pitch rows ``frequency_hz`` (10 ms each) cover.

    ``start_s`` is the middle of the first row, in seconds from the start of ``fine``. The rows must all
    be voiced. The pitch is corrected once by the common drift of the harmonics' phases, which follows
    vibrato more closely than any windowed tracker and counts most above 1 kHz.
    """
    row_s = np.asarray(start_s + HOP_S * np.arange(len(frequency_hz)), np.float64)
    row_hz: NDArray[np.float64] = frequency_hz.astype(np.float64)
    if len(row_hz) >= 5:
        row_hz[:] = np.convolve(np.pad(row_hz, 1, mode="edge"), (0.25, 0.5, 0.25), "valid")
    first = _warp(fine, row_s, row_hz, highest_hz)
    if len(first.times_s) < 8:
        return first
    corrected = _corrected_pitch(first, row_s, row_hz)
    return _warp(fine, row_s, corrected, highest_hz)


def _warp(
    fine: Floats, row_s: NDArray[np.float64], row_hz: NDArray[np.float64], highest_hz: float | None
) -> Periods:
    phase = np.concatenate([[0.0], np.cumsum(0.5 * (row_hz[1:] + row_hz[:-1]) * HOP_S)])
    centre = float(np.median(row_hz))
    band = highest_hz or (HIGH_NOTE_BAND_HZ if centre > _HIGH_NOTE_HZ else BAND_HZ)
    points = scipy.fft.next_fast_len(math.ceil(RATE_HZ / centre), real=True)
    count = int(phase[-1])
    highest = max(1, min(int(band / centre), (points - 1) // 2))
    if count == 0:
        return Periods(np.empty(0), np.empty(0), np.empty((0, highest), np.complex64))
    grid = np.arange(count * points) / points
    at = np.interp(grid, phase, row_s) * _FINE_RATE_HZ
    wave = _interpolate(fine, at).reshape(count, points)
    spectrum = scipy.fft.rfft(wave, axis=1)[:, 1 : highest + 1] * (2 / points)
    middle = np.arange(count) + 0.5
    times = np.interp(middle, phase, row_s)
    return Periods(times, np.interp(times, row_s, row_hz), spectrum.astype(np.complex64, copy=False))


def _interpolate(fine: Floats, at: NDArray[np.float64]) -> Floats:
    """Cubic (third-order Lagrange) interpolation; the signal is oversampled four times and more."""
    at = np.clip(at, 1.0, len(fine) - 3.001)
    base = at.astype(np.int32)
    t = (at - base).astype(np.float32)
    p, q, r = t + 1, t - 1, t - 2
    value = fine[base - 1] * (-t * q * r / 6)
    value += fine[base] * (p * q * r / 2)
    value += fine[base + 1] * (-p * t * r / 2)
    value += fine[base + 2] * (p * t * q / 6)
    return np.asarray(value, np.float32)


def _corrected_pitch(
    periods: Periods, row_s: NDArray[np.float64], row_hz: NDArray[np.float64]
) -> NDArray[np.float64]:
    block = periods.per(0.012, least=4)
    count = len(periods.times_s) // block
    if count < 2:
        return row_hz
    used = periods.harmonics[: count * block, : 6 if periods.centre_hz < 1200 else 2]
    mean = used.reshape(count, block, -1).mean(axis=1)
    turn = mean[1:] * mean[:-1].conj()
    order = np.arange(1, used.shape[1] + 1)
    weight = np.abs(turn)
    drift = (weight * order * np.angle(turn)).sum(axis=1) / np.maximum((weight * order**2).sum(axis=1), 1e-20)
    times = periods.times_s[: count * block].reshape(count, block).mean(axis=1)
    middle = 0.5 * (times[1:] + times[:-1])
    error = np.clip(drift / (2 * np.pi * block), -0.02, 0.02)  # share of the frequency
    if len(error) >= 3:
        error = np.convolve(np.pad(error, 1, mode="edge"), (0.25, 0.5, 0.25), "valid")
    return row_hz * (1 + np.interp(row_s, middle, error))
