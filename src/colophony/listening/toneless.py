"""Sound without a stable pitch: a rough tone throughout, hair noise, or not to be told.

A string that slips at random still rings at its own modes between the slips; hair that only slides makes
noise without them, and far less of it than a tone. Through an unknown body noise alone tells neither.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import scipy.fft

from colophony.listening.pieces import Context, Piece
from colophony.listening.pitch import HOP, RATE_HZ, Floats
from colophony.listening.rows import Rows
from colophony.listening.take import Evidence, Span, Stroke, ToneState

_WINDOW = 8192
_RINGS = 0.33
_FAR_BELOW_TONE_DB = 14.0
_NEAR_TONE_DB = 8.0
_LEAST_NOISE_S = 0.15
_LOW_HZ = 600.0
_LITTLE = 10**-1.6


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


def judge_toneless(
    base: Stroke, fine: Floats, rows: Rows, piece: Piece, a: int, b: int, context: Context
) -> Stroke:
    """Judge sound without a stable pitch: hair noise, a rough tone throughout, or not to be told."""
    seconds = piece.end_s - piece.start_s
    level = rows.level_db[a:b]
    loud = rows.floor_db is None or float(np.median(level)) - rows.floor_db > 12.0
    if seconds < _LEAST_NOISE_S or not loud:
        return replace(base, evidence=(Evidence("no_pitch"),))
    state, confidence = ToneState.UNSURE, 0.0
    evidence: tuple[Evidence, ...] = (Evidence("no_pitch"),)
    if seconds >= 0.3:
        contrast = ringing(np.ascontiguousarray(fine[2 * HOP * a : 2 * HOP * b : 2]))
        below = (context.tone_db if context.tone_db is not None else np.nan) - float(np.median(level))
        seen = Evidence("string_rings", {"contrast": round(contrast, 2)})
        if contrast > _RINGS:
            state, confidence, evidence = ToneState.RAUCOUS, 0.7, (*evidence, seen)
        elif below < _NEAR_TONE_DB:
            state, confidence = ToneState.RAUCOUS, 0.65
        elif below > _FAR_BELOW_TONE_DB:
            state, confidence = ToneState.NOISE, 0.7
            evidence = (*evidence, Evidence("below_tone_db", {"value": round(below, 1)}))
    spans = (Span(base.start_s, base.end_s, state, confidence),)
    return replace(base, state=state, confidence=confidence, spans=spans, evidence=evidence)


def may_be_toneless(sound: Floats, level_db: Floats, context: Context) -> bool:
    """Whether a rough note may hold no note at all: hair that slides rings the body, and a tracker follows.

    It is then far weaker than the take's tones. Where the take has none, the low sound tells: a string that
    slips at random sticks long now and then, which sliding hair never does. ``sound`` is at 24 kHz.
    """
    if context.tone_db is not None:
        return context.tone_db - float(np.median(level_db)) >= _NEAR_TONE_DB
    power = np.abs(scipy.fft.rfft(sound * np.hanning(len(sound)).astype(np.float32))) ** 2
    hz = np.arange(len(power)) * RATE_HZ / max(len(sound), 1)
    low, all_of_it = power[(hz > 40) & (hz < _LOW_HZ)].sum(), power[(hz > 40) & (hz < 10_000)].sum()
    return bool(low < _LITTLE * all_of_it)
