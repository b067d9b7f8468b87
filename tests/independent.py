"""Pitch trackers that this project did not write, and the pitch of a sustained note by them.

pYIN: M. Mauch & S. Dixon, ICASSP 2014, in ``librosa`` (ISC licence). Harvest: M. Morise, Interspeech 2017, in
``pyworld`` (MIT). Both are development dependencies only. A row is 10 ms.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy.signal import resample_poly

Signal = NDArray[np.float64]
ROW_S = 0.01


def pyin_track(signal: Signal, rate: int, *, near_hz: float) -> Signal:
    """Return pitch in Hz a row (NaN unvoiced), searched three semitones about ``near_hz`` in steps of a cent.

    Steps of a cent over the whole compass would need a transition matrix of gigabytes; `harvest_track`,
    which searches the whole compass, guards the octave.
    """
    import librosa

    # High notes at the full rate: the lag of a period is read off whole samples.
    to = 44_100 if near_hz > 400 else 22_050
    frequency, _, _ = librosa.pyin(
        _resampled(signal, rate, to), sr=to, fmin=near_hz / 2**0.25, fmax=near_hz * 2**0.25, resolution=0.01,
        frame_length=2048 if near_hz > 100 else 4096, hop_length=round(ROW_S * to),
    )  # fmt: skip
    return np.asarray(frequency)


def harvest_track(signal: Signal, rate: int, *, low_hz: float = 50.0, high_hz: float = 2800.0) -> Signal:
    """Return pitch in Hz a row (NaN unvoiced) over the whole compass of violin, viola and cello."""
    import pyworld

    frequency, _ = pyworld.harvest(
        _resampled(signal, rate, 22_050), 22_050, f0_floor=low_hz, f0_ceil=high_hz, frame_period=1000 * ROW_S
    )
    return np.where(frequency > 0, frequency, np.nan)


def centre_hz(track: Signal, *, start_s: float = 0.0, end_s: float = np.inf) -> float:
    """Return the centre of a track between two times: its mean in cents, rows over 80 cents off left out.

    A mean, not a median: under vibrato pitch is rarest at its centre, where a median is ill-conditioned
    unless it sees whole cycles.
    """
    rows = track[round(start_s / ROW_S) : None if np.isinf(end_s) else round(end_s / ROW_S)]
    rows = rows[np.isfinite(rows)]
    if not len(rows):
        return float("nan")
    middle = float(np.median(rows))
    cents = 1200 * np.log2(rows / middle)
    return middle * 2 ** (float(np.mean(cents[np.abs(cents) < 80])) / 1200)


def median_hz(track: Signal, *, start_s: float = 0.0, end_s: float = np.inf) -> float:
    """Return the median of a track between two times: where a note that glides in spends its time."""
    rows = track[round(start_s / ROW_S) : None if np.isinf(end_s) else round(end_s / ROW_S)]
    rows = rows[np.isfinite(rows)]
    return float(np.median(rows)) if len(rows) else float("nan")


def sustained(signal: Signal, rate: int, *, within_db: float = 6.0) -> tuple[float, float]:
    """Return the first and last second at which 50 ms of tone are within ``within_db`` of its median level.

    Before and after, the note swells or dies away.
    """
    block = round(0.05 * rate)
    level = 10 * np.log10(
        (signal[: len(signal) // block * block].reshape(-1, block) ** 2).mean(axis=1) + 1e-12
    )
    sounding = level > level.max() - 20
    loud = np.flatnonzero(level > np.median(level[sounding]) - within_db)
    return float(loud[0]) * 0.05, float(loud[-1] + 1) * 0.05


def _resampled(signal: Signal, rate: int, to: int) -> Signal:
    common = int(np.gcd(rate, to))
    return np.ascontiguousarray(resample_poly(signal, to // common, rate // common), dtype=np.float64)
