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
_FAST_TURNS_S = 0.18
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
    one: Measured, piece: Piece, verdict: Verdict, context: Context, *, gliding: bool, struck: bool
) -> Verdict:
    """Take a verdict back where no held note sounded; say what a note too low can mean."""
    if one.periods.centre_hz < _LOWEST_NOTE_HZ:
        return unsure(verdict, piece, Evidence("edge_of_range"))
    if gliding:
        return unsure(verdict, piece, Evidence("gliding"))
    if struck and verdict.state is ToneState.RAUCOUS:
        return unsure(verdict, piece, Evidence("only_falls"))
    if verdict.state is ToneState.RAUCOUS and _turns_fast(one, piece):
        return unsure(verdict, piece, Evidence("many_reversals", {"rate_hz": _turn_rate(one)}))
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


def _turns_fast(one: Measured, piece: Piece) -> bool:
    near = [t for t in one.turns if piece.start_s - 1.0 <= t.time_s <= piece.end_s + 1.0]
    return len(near) >= 3 and float(np.median(np.diff([t.time_s for t in near]))) < _FAST_TURNS_S


def _turn_rate(one: Measured) -> float:
    return round(1 / float(np.median(np.diff([t.time_s for t in one.turns]))), 1)


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
