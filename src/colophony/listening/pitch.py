"""Fundamental frequency over time, from cello C2 to violin E7.

Candidates come from the normalised square difference function (McLeod and Wyvill, "A smarter way to
find pitch", ICMC 2005, eqs. 5 to 9); each is weighed by how far the spectrum stands out at its
harmonics against the midpoints between them, which is what stops errors of an octave; the smoothest
path through the candidates is found by dynamic programming (Viterbi 1967).
"""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass

import numpy as np
import scipy.fft
from numpy.typing import NDArray

Floats = NDArray[np.float32]

#: Everything is heard at this rate; one row of every track is 10 ms.
RATE_HZ = 24_000
HOP = 240
HOP_S = HOP / RATE_HZ

LOWEST_HZ = 55.0
HIGHEST_HZ = 2900.0
_WINDOW = 2048
_LAG_FFT = 2700  # at least _WINDOW + the longest lag: no circular overlap
_DEEPEST_HZ = 40.0
_SPECTRUM_FFT = 4096
_CANDIDATES = 12
_HARMONICS = 10
_BLOCK_FRAMES = 400

_UNVOICED_SCORE = 0.24
_VOICING_COST = 0.12
_STEP_COST = 0.25  # a semitone
_LARGEST_STEP_COST = 0.55


@dataclass(frozen=True, slots=True)
class PitchTrack:
    """Pitch every 10 ms: ``frequency_hz`` is 0 where none was heard.

    ``clarity`` (0 to 1) is the height of the chosen peak of the normalised square difference, and of the
    highest peak where no pitch was chosen.
    """

    frequency_hz: Floats
    clarity: Floats


def track_pitch(sound: Floats, *, sounding: NDArray[np.bool_] | None = None) -> PitchTrack:
    """Return the pitch of ``sound`` (mono, 24 kHz), one value for each whole hop of 10 ms.

    ``sounding`` marks the rows worth looking at; the others get no pitch.
    """
    rows = len(sound) // HOP
    frequency, clarity = np.zeros(rows, np.float32), np.zeros(rows, np.float32)
    wanted = np.arange(rows) if sounding is None else np.flatnonzero(sounding[:rows])
    if len(wanted) == 0:
        return PitchTrack(frequency, clarity)
    half = _WINDOW // 2
    padded = np.pad(sound, (half - HOP // 2, half + HOP))
    frames = np.lib.stride_tricks.sliding_window_view(padded, _WINDOW)[::HOP]
    blocks = [wanted[i : i + _BLOCK_FRAMES] for i in range(0, len(wanted), _BLOCK_FRAMES)]
    with ThreadPoolExecutor(2) as pool:
        parts = list(pool.map(lambda block: _candidates(frames[block]), blocks))
    hz = np.concatenate([part[0] for part in parts])
    peak = np.concatenate([part[1] for part in parts])
    score = np.concatenate([part[2] for part in parts])
    # A gap in `wanted` is a silence: the path starts anew behind it.
    for run in np.split(np.arange(len(wanted)), np.flatnonzero(np.diff(wanted) > 1) + 1):
        chosen = _smoothest_path(hz[run], score[run])
        voiced = chosen < _CANDIDATES
        at = wanted[run[voiced]]
        frequency[at] = hz[run[voiced], chosen[voiced]]
        clarity[wanted[run]] = peak[run].max(axis=1)
        clarity[at] = peak[run[voiced], chosen[voiced]]
    return PitchTrack(frequency, clarity)


def strongest_period(sound: Floats) -> PitchTrack:
    """Return for each row of 10 ms the period that repeats best after differencing, without any path.

    A second opinion for stretches that seem rough: a tone whose low harmonics are very weak can lead the
    tracker to one of its high ones. The earliest peak within 4 % of the highest is taken;
    periods may be longer than any of these instruments', so that hum is known for what it is.
    """
    rows = len(sound) // HOP
    half = _WINDOW // 2
    slope = np.diff(sound, prepend=sound[:1])
    padded = np.pad(slope, (half - HOP // 2, half + HOP))
    frames = np.lib.stride_tricks.sliding_window_view(padded, _WINDOW)[::HOP][:rows]
    longest, shortest = int(RATE_HZ / _DEEPEST_HZ) + 2, int(RATE_HZ / HIGHEST_HZ)
    nsdf = _normalised_square_difference(frames - frames.mean(axis=1, keepdims=True), longest)
    inner = nsdf[:, 1:-1]
    peak = (inner > nsdf[:, :-2]) & (inner >= nsdf[:, 2:])
    peak[:, : shortest - 1] = False
    height = np.where(peak, inner, 0.0)
    lag = np.argmax(height >= 0.96 * height.max(axis=1, keepdims=True), axis=1) + 1
    at = np.arange(rows)
    return PitchTrack((RATE_HZ / lag).astype(np.float32), height[at, lag - 1].astype(np.float32))


def _candidates(frames: Floats) -> tuple[Floats, Floats, Floats]:
    """Return frequency, peak height and score of the candidates of each frame, shape (n, candidates)."""
    longest = int(RATE_HZ / LOWEST_HZ) + 2
    shortest = int(RATE_HZ / HIGHEST_HZ)
    frames = frames - frames.mean(axis=1, keepdims=True)
    nsdf = _normalised_square_difference(frames, longest)
    inner = nsdf[:, 1:-1]
    is_peak = (inner > nsdf[:, :-2]) & (inner >= nsdf[:, 2:]) & (inner > 0.2)
    is_peak[:, : shortest - 1] = False
    # Every multiple of the true period peaks as well: short lags must not be crowded out by long ones.
    shorter = (0.05 * np.log2(longest / np.arange(1, longest))).astype(np.float32)
    ranked = np.where(is_peak, inner + shorter, -1.0)
    lag = np.argpartition(-ranked, _CANDIDATES, axis=1)[:, :_CANDIDATES] + 1
    rows = np.arange(len(frames))[:, None]
    before, at, after = nsdf[rows, lag - 1], nsdf[rows, lag], nsdf[rows, lag + 1]
    bend = before - 2 * at + after
    shift = np.where(bend < 0, 0.5 * (before - after) / np.where(bend < 0, bend, -1.0), 0.0)
    shift = np.clip(shift, -0.5, 0.5)
    hz = (RATE_HZ / (lag + shift)).astype(np.float32)
    # The height between samples: at a short lag the true peak lies well above both.
    at = at - 0.25 * (before - after) * shift
    usable = is_peak[rows, lag - 1]
    contrast = _harmonic_contrast(frames, hz)
    score = 0.6 * at + 0.55 * contrast + 0.03 * np.log2(hz) - 0.3
    return hz, np.where(usable, np.clip(at, 0, 1), 0.0), np.where(usable, score, -9.0).astype(np.float32)


def _normalised_square_difference(frames: Floats, longest: int) -> Floats:
    spectrum = scipy.fft.rfft(frames, _LAG_FFT, axis=1)
    power = spectrum.real**2 + spectrum.imag**2
    correlation = scipy.fft.irfft(power, _LAG_FFT, axis=1)[:, : longest + 1]
    square = frames**2
    total = square.sum(axis=1, keepdims=True)
    head = np.cumsum(square[:, :longest], axis=1)
    tail = np.cumsum(square[:, : -longest - 1 : -1], axis=1)
    norm = 2 * total - np.pad(head + tail, ((0, 0), (1, 0)))
    return (2 * correlation / np.maximum(norm, 1e-12)).astype(np.float32)


_HANN = np.hanning(_WINDOW).astype(np.float32)
_HALVES = np.arange(1, 2 * _HARMONICS + 1, dtype=np.float32) / 2  # 1/2, 1, 3/2 ...
_WEIGHT = (0.86 ** (np.ceil(_HALVES) - 1)).astype(np.float32)
_SIGN = np.where(np.arange(1, 2 * _HARMONICS + 1) % 2 == 0, 1.0, -1.0).astype(np.float32)


def _harmonic_contrast(frames: Floats, hz: Floats) -> Floats:
    """Return, from -1 to 1, how far harmonics stand out against the midpoints between them."""
    spectrum = scipy.fft.rfft(frames * _HANN, _SPECTRUM_FFT, axis=1)
    size = np.sqrt(np.abs(spectrum))
    position = hz[:, :, None] * _HALVES * np.float32(_SPECTRUM_FFT / RATE_HZ)
    nearest = np.rint(position).astype(np.int32)
    inside = nearest < size.shape[1]
    at = size[np.arange(len(frames))[:, None, None], np.minimum(nearest, size.shape[1] - 1)]
    weighed = at * _WEIGHT * inside
    return (weighed * _SIGN).sum(axis=2) / np.maximum(weighed.sum(axis=2), 1e-12)


def _smoothest_path(hz: Floats, score: Floats) -> NDArray[np.int64]:
    """Return for each row the index of the chosen candidate, or their number where unvoiced."""
    count = hz.shape[1]
    rows = len(hz)
    semitones = 12 * np.log2(hz)
    step = np.abs(semitones[1:, :, None] - semitones[:-1, None, :])
    moves = np.full((max(rows - 1, 0), count + 1, count + 1), _VOICING_COST, np.float32)
    moves[:, :count, :count] = np.minimum(_STEP_COST * step, _LARGEST_STEP_COST)
    moves[:, count, count] = 0.0
    gain = np.concatenate([score, np.full((rows, 1), _UNVOICED_SCORE, np.float32)], axis=1)
    best = gain[0].copy()
    back = np.zeros((rows, count + 1), np.int64)
    every = np.arange(count + 1)
    for row in range(1, rows):
        arrival = best - moves[row - 1]
        back[row] = arrival.argmax(axis=1)
        best = arrival[every, back[row]] + gain[row]
    path = np.empty(rows, np.int64)
    path[-1] = int(best.argmax())
    for row in range(rows - 1, 0, -1):
        path[row - 1] = back[row, path[row]]
    return path
