"""Sound without a stable pitch: a rough tone throughout, hair noise, or not to be told.

A string that slips at random still rings at its own modes between the slips; hair that only slides makes
noise without them, and far less of it than a tone. Through an unknown body noise alone tells neither.
"""

from __future__ import annotations

import numpy as np
import scipy.fft

from colophony.listening.pitch import RATE_HZ, Floats

_WINDOW = 8192
_RINGS = 0.33
_FAR_BELOW_TONE_DB = 14.0
_NEAR_TONE_DB = 8.0


def ringing(sound: Floats) -> float:
    """Return how far the best series of string modes stands out of the spectrum, from 0 to 1.

    ``sound`` is at 24 kHz. Hair noise through bodies and rooms gave at most 0.31, simulated strings
    slipping at random 0.2 to 0.66: two of three of them show it.
    """
    size = min(_WINDOW, 1 << (len(sound).bit_length() - 1))
    frames = np.lib.stride_tricks.sliding_window_view(sound, size)[:: size // 4]
    mean_power = (np.abs(scipy.fft.rfft(frames * np.hanning(size).astype(np.float32), axis=1)) ** 2).mean(
        axis=0
    )
    root = mean_power**0.25
    f0 = np.exp(np.arange(np.log(65.0), np.log(1400.0), 0.003))
    halves = np.arange(1, 21) / 2
    at = np.minimum(np.rint(np.outer(f0, halves) * size / RATE_HZ).astype(int), len(root) - 1)
    weighed = root[at] * 0.9 ** np.ceil(halves - 1)
    sign = np.where(np.arange(1, 21) % 2 == 0, 1.0, -1.0)
    return float(((weighed @ sign) / np.maximum(weighed.sum(axis=1), 1e-12)).max())


def is_string(contrast: float) -> bool:
    """Whether the sound shows a string's modes."""
    return contrast > _RINGS


def is_near_tone(below_tone_db: float) -> bool:
    """Whether the sound is about as strong as the take's tones."""
    return below_tone_db < _NEAR_TONE_DB


def is_far_below_tone(below_tone_db: float) -> bool:
    """Whether the sound is as weak as hair noise is beside a tone."""
    return below_tone_db > _FAR_BELOW_TONE_DB
