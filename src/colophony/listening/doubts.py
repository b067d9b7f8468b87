"""What else can explain a verdict: two strings at once, a glide, a tremolo, a note no string has."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from colophony.listening.glide import gliding_share
from colophony.listening.periodicity import Regularity
from colophony.listening.pieces import Context, Measured, Piece
from colophony.listening.pitch import HOP, HOP_S, LOWEST_HZ, Floats
from colophony.listening.take import Evidence, Span, ToneState
from colophony.listening.tone import Verdict
from colophony.listening.two_pitches import common_multiple, find_two_pitches
from colophony.listening.warp import Periods

_BELOW_LOWEST = 2 ** (-60 / 1200)
_TREMOLO_HZ = (7.0, 16.0)
_EVEN_SHARE = 0.5
_LEAST_LOW_S = 0.4  # a voice says short low syllables; a bow that groans goes on groaning
_LEAST_DIP_DB = 1.2
_LOWEST_NOTE_HZ = 62.0  # a cello's C2 tuned to 415 Hz, and a little


def pitches_of_double_stop(
    fine: Floats, one: Measured, piece: Piece, periods: Periods, verdict: Verdict, context: Context
) -> tuple[float, float] | None:
    """Return the pitches of a double stop: looked for where one pitch leaves something unexplained."""
    pure = common_multiple(periods.harmonics, one.periods.centre_hz)
    if pure is not None:
        return pure
    if verdict.state is not ToneState.RAUCOUS and not _too_low(one, context):
        return None
    a, b = int(piece.start_s / HOP_S) * 2 * HOP, int(piece.end_s / HOP_S) * 2 * HOP
    lowest = 0.97 * context.lowest_hz if context.lowest_hz is not None else LOWEST_HZ
    return find_two_pitches(np.ascontiguousarray(fine[a:b:2]), lowest_hz=lowest)


def _too_low(one: Measured, context: Context) -> bool:
    return context.lowest_hz is not None and one.periods.centre_hz < context.lowest_hz * _BELOW_LOWEST


def after_doubts(
    one: Measured,
    piece: Piece,
    verdict: Verdict,
    context: Context,
    *,
    level_db: Floats,
    gliding: bool,
    struck: bool,
) -> Verdict:
    """Take a verdict back where no held note sounded; say what a note too low can mean."""
    if one.periods.centre_hz < _LOWEST_NOTE_HZ:
        return unsure(verdict, piece, Evidence("edge_of_range"))
    if gliding:
        return unsure(verdict, piece, Evidence("gliding"))
    if struck and verdict.state is ToneState.RAUCOUS:
        return unsure(verdict, piece, Evidence("only_falls"))
    rate_hz = _tremolo_hz(level_db) if verdict.state is ToneState.RAUCOUS else None
    if rate_hz is not None:
        return unsure(verdict, piece, Evidence("many_reversals", {"rate_hz": rate_hz}))
    if _too_low(one, context) and piece.end_s - piece.start_s < _LEAST_LOW_S:
        return unsure(verdict, piece, Evidence("edge_of_range"))
    if _too_low(one, context) and verdict.state is ToneState.STEADY:
        low = ToneState.LOW_ANOMALOUS
        spans = tuple(replace(s, state=low) if s.state is ToneState.STEADY else s for s in verdict.spans)
        cents = 1200 * float(np.log2(one.periods.centre_hz / (context.lowest_hz or 1.0)))
        evidence = (Evidence("below_lowest_string", {"cents": round(cents)}), *verdict.evidence)
        return replace(
            verdict, spans=spans, state=low, confidence=min(verdict.confidence, 0.8), evidence=evidence
        )
    return verdict


def unsure(verdict: Verdict, piece: Piece, evidence: Evidence) -> Verdict:
    """Return the verdict taken back for the whole piece, with what took it back."""
    span = Span(piece.start_s, piece.end_s, ToneState.UNSURE, 0.0)
    return replace(verdict, spans=(span,), state=ToneState.UNSURE, confidence=0.0, evidence=(evidence,))


def _tremolo_hz(level_db: Floats) -> float | None:
    """Return how often the level dips a second where it does so evenly, 7 to 16 times: a tremolo."""
    if len(level_db) < 60:
        return None
    kernel = np.hanning(27)[1:-1] / np.hanning(27).sum()
    slow = np.convolve(np.pad(level_db, 12, mode="edge"), kernel, "valid")
    quick = (level_db - slow) * np.hanning(len(level_db))
    size = 4 * len(level_db)
    power = np.abs(np.fft.rfft(quick, size)) ** 2
    hz = np.arange(len(power)) / (size * HOP_S)
    inside = (hz > _TREMOLO_HZ[0]) & (hz < _TREMOLO_HZ[1])
    at = int(np.flatnonzero(inside)[np.argmax(power[inside])])
    near = np.abs(hz - hz[at]) < max(1.0, 2.5 / (len(level_db) * HOP_S))
    share = float(power[near].sum() / power[(hz > 2) & (hz < 40)].sum())
    depth_db = float(np.sqrt((quick**2).mean() / (np.hanning(len(level_db)) ** 2).mean()))
    return round(float(hz[at]), 1) if share > _EVEN_SHARE and depth_db > _LEAST_DIP_DB else None


def glides(periods: Periods) -> bool:
    """Whether the pitch glides for most of the time."""
    return gliding_share(periods) > 0.5


def many_players(regular: Regularity) -> bool:
    """Several players never lock: jitter and noise stay high though nothing slips at random."""
    return (
        len(regular) > 4
        and float(np.median(regular.jitter)) > 0.006
        and float(np.median(regular.shimmer_db)) > 0.6
    )
