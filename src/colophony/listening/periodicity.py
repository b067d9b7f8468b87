"""How regular the periods are: the measures that tell a rough tone from a steady one.

Every measure compares a period with its neighbours, so body, microphone and room (which colour all
periods alike) drop out.
"""

from __future__ import annotations

from dataclasses import dataclass, fields

import numpy as np
import scipy.fft
from numpy.typing import NDArray

from colophony.listening.warp import Periods

_LOW_HARMONICS = 6
_SUB_HARMONICS = 12


@dataclass(frozen=True, slots=True, eq=False)
class Regularity:
    """One value for each window of at least 12 periods and 60 ms, hop about 30 ms.

    ``times_s`` is the middle of the window.
    ``period_correlation``: of neighbouring periods after differencing, 1 for identical.
    ``low_noise_db``: noise in a band one fundamental wide against the harmonics 1 to 6, taken midway
    between harmonics: close to them lie the sidebands that vibrato leaves in body and room.
    ``noise_db``: the same over all harmonics.
    ``sub_period_db``: energy at odd half-multiples and at third-multiples of the fundamental.
    ``shimmer_db``: mean change of level from one period to the next.
    ``jitter``: mean deviation of a period's length from its neighbours', as a share of it.
    ``centroid``: centre of the power over the harmonics, counted in harmonics.
    ``first_share_db``: power of the first harmonic against all.
    """

    times_s: NDArray[np.float64]
    period_correlation: NDArray[np.float64]
    low_noise_db: NDArray[np.float64]
    noise_db: NDArray[np.float64]
    sub_period_db: NDArray[np.float64]
    shimmer_db: NDArray[np.float64]
    jitter: NDArray[np.float64]
    centroid: NDArray[np.float64]
    first_share_db: NDArray[np.float64]
    level_db: NDArray[np.float64]

    def __len__(self) -> int:
        return len(self.times_s)

    def select(self, mask: NDArray[np.bool_]) -> Regularity:
        """Return the windows that ``mask`` picks."""
        return Regularity(*(getattr(self, f.name)[mask] for f in fields(self)))


def window_periods(periods: Periods) -> int:
    """Return the window's length in periods: a multiple of 12, at least 12 and at least 60 ms."""
    return 12 * -(-periods.per(0.06, least=12) // 12)


def measure(periods: Periods) -> Regularity:
    """Measure every window of a note. Empty when the note is shorter than one window."""
    size = window_periods(periods)
    count = len(periods.times_s)
    if count < size:
        return Regularity(*(np.empty(0) for _ in fields(Regularity)))
    hop = max(1, min(size // 2, periods.per(0.03, least=1)))
    all_windows = np.lib.stride_tricks.sliding_window_view(periods.harmonics, size, axis=0)[::hop]
    c = np.ascontiguousarray(all_windows.transpose(0, 2, 1))  # (window, period, harmonic)
    highest = c.shape[2]
    order = np.arange(1, highest + 1)
    power = c.real**2 + c.imag**2
    slope = order.astype(np.float64) ** 2  # differencing lifts a spectrum by 6 dB an octave

    together = (c[:, 1:] * c[:, :-1].conj()).real
    both = 0.5 * (power[:, 1:] + power[:, :-1])
    correlation = (together.sum(axis=1) @ slope) / np.maximum(both.sum(axis=1) @ slope, 1e-30)

    low, low_sub = min(_LOW_HARMONICS, highest), min(_SUB_HARMONICS, highest)
    hann = np.hanning(size + 1)[:-1].astype(np.float32)
    modulation = np.abs(scipy.fft.fft(c * hann[:, None], axis=1)) ** 2  # (window, rate, harmonic)
    rate = np.minimum(np.arange(size), size - np.arange(size))
    near, far = rate <= 2, rate >= size // 4
    tone = modulation[:, near].sum(axis=1)
    noise = modulation[:, far].mean(axis=1) * size
    low_noise = _db(noise[:, :low].sum(axis=1) / np.maximum(tone[:, :low].sum(axis=1), 1e-30))
    all_noise = _db(noise.sum(axis=1) / np.maximum(tone.sum(axis=1), 1e-30))
    sub = sum(
        modulation[:, np.abs(rate - at) <= 1, :low_sub].sum(axis=(1, 2)) for at in (size // 2, size // 3)
    )
    sub_db = _db(sub / np.maximum(tone[:, :low_sub].sum(axis=1), 1e-30))

    level = _db(power.sum(axis=2))
    shimmer = np.abs(np.diff(level, axis=1)).mean(axis=1)
    drift = _period_drift(c)
    spectrum = power.mean(axis=1)
    total = np.maximum(spectrum.sum(axis=1), 1e-30)
    return Regularity(
        times_s=np.lib.stride_tricks.sliding_window_view(periods.times_s, size)[::hop].mean(axis=1),
        period_correlation=correlation,
        low_noise_db=low_noise,
        noise_db=all_noise,
        sub_period_db=sub_db,
        shimmer_db=shimmer,
        jitter=np.abs(drift - drift.mean(axis=1, keepdims=True)).mean(axis=1),
        centroid=(spectrum @ order) / total,
        first_share_db=_db(spectrum[:, 0] / total),
        level_db=_db(total),
    )


def _db(ratio: NDArray[np.floating]) -> NDArray[np.float64]:
    return 10 * np.log10(np.maximum(ratio, 1e-12)).astype(np.float64)


def _period_drift(c: NDArray[np.complex64]) -> NDArray[np.float64]:
    """Return each period's deviation from the warped length, as a share of a period."""
    used = c[:, :, :_LOW_HARMONICS]
    turn = used[:, 1:] * used[:, :-1].conj()
    order = np.arange(1, used.shape[2] + 1)
    weight = np.abs(turn)
    drift = (weight * order * np.angle(turn)).sum(axis=2) / np.maximum((weight * order**2).sum(axis=2), 1e-30)
    return drift / (2 * np.pi)
