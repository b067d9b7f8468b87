"""From a passage to its strokes: each note split where the bow turned, each stroke judged."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from colophony.listening.colour import colour
from colophony.listening.doubts import after_doubts, glides, many_players, pitches_of_double_stop
from colophony.listening.notes import Note, find_notes
from colophony.listening.onset import UNKNOWN_ONSET, judge_onset
from colophony.listening.periodicity import Regularity, window_periods
from colophony.listening.pieces import (
    Context,
    Measured,
    Piece,
    between,
    levels_at,
    measure_note,
    mostly_rough,
    pieces_of,
    tail_start_s,
)
from colophony.listening.pitch import HOP, HOP_S, Floats
from colophony.listening.pluck import falls_from_start, pluck_evidence
from colophony.listening.rows import Rows, bridge_gaps, runs
from colophony.listening.slips import mark_multiple_slip
from colophony.listening.steadiness import steadiness
from colophony.listening.take import Brightness, Evidence, Onset, Span, Steadiness, Stroke, ToneState
from colophony.listening.tone import Verdict, judge_tone
from colophony.listening.toneless import judge_toneless, may_be_toneless
from colophony.listening.warp import Periods

_SHORT_S = 0.09
_START_ROWS = 40
_UNKNOWN_STEADINESS = Steadiness(None, None, None, None)
_UNKNOWN_BRIGHTNESS = Brightness(None, None, None)


@dataclass(frozen=True, slots=True, eq=False)
class Heard:
    """A stroke with what later steps need: its mean biphases, for comparing bow directions."""

    stroke: Stroke
    direction: NDArray[np.complex64]
    no_held_note: bool = False

    def joined(self, other: Heard) -> Heard:
        """Return one stroke made of this and the one that continues it across a cut between passages."""
        one, two = self.stroke, other.stroke
        longer = one if one.end_s - one.start_s >= two.end_s - two.start_s else two
        whole = replace(
            longer,
            start_s=one.start_s,
            end_s=two.end_s,
            spans=one.spans + two.spans,
            reversal=one.reversal,
            onset=one.onset,
            evidence=(*longer.evidence, Evidence("joined_at", {"seconds": round(two.start_s, 2)})),
        )
        return Heard(whole, (self if longer is one else other).direction)


def hear_passage(fine: Floats, rows: Rows, context: Context) -> tuple[list[Heard], float | None]:
    """Return the strokes of a passage at 48 kHz, and the least noise between harmonics so far (dB)."""
    measured = [measure_note(fine, note) for note in find_notes(rows)]
    residual = [context.residual_db] if context.residual_db is not None else []
    for one in measured:
        if len(one.regular) >= 4:
            level = levels_at(rows, one.regular.times_s)
            residual.append(float(np.percentile(level + one.regular.noise_db, 10)))
    quietest = min(residual) if residual else None
    tones = [
        rows.level_db[one.note.first : one.note.last]
        for one in measured
        if one.note.pitched and not mostly_rough(one.regular)
    ]
    tone_db = float(np.median(np.concatenate(tones))) if tones else None
    context = replace(context, residual_db=quietest, tone_db=tone_db)
    heard = [
        _judge(fine, rows, one, piece, context)
        for one in measured
        for piece in pieces_of(
            one, tail_start_s(rows, one.note.first, one.note.last) if one.note.before_silence else np.inf
        )
    ]
    return heard, quietest


def _judge(fine: Floats, rows: Rows, one: Measured, piece: Piece, context: Context) -> Heard:
    note = one.note
    a, b = round(piece.start_s / HOP_S), max(round(piece.end_s / HOP_S), round(piece.start_s / HOP_S) + 1)
    shift = context.start_s
    nothing = np.zeros(one.bi.pairs, np.complex64)
    base = _blank(piece, shift)
    if not note.pitched:
        return Heard(judge_toneless(base, fine, rows, piece, a, b, context), nothing)
    tail_s = min(tail_start_s(rows, a, b), piece.end_s) if piece.silent_end else piece.end_s
    inside = (one.regular.times_s >= piece.start_s) & (one.regular.times_s <= piece.end_s)
    regular = one.regular.select(inside)
    periods = between(one.periods, piece.start_s, piece.end_s)
    if len(periods.times_s) < 12 or piece.end_s - piece.start_s < _SHORT_S:
        short = Evidence("short_note", {"seconds": round(piece.end_s - piece.start_s, 2)})
        return Heard(replace(base, frequency_hz=note.centre_hz, evidence=(short,)), nothing)
    settled = (
        piece.start_s + min(0.15, 0.3 * (tail_s - piece.start_s)),
        max(tail_s - 0.08, piece.start_s + 0.05),
    )
    inner_rows = rows.level_db[round(settled[0] / HOP_S) : round(settled[1] / HOP_S)]
    centre_hz, steady = steadiness(periods, inner_rows, from_s=settled[0], to_s=settled[1])
    bright, harmonics_db, level_db = colour(periods, from_s=settled[0], to_s=settled[1])
    base = replace(
        base, frequency_hz=centre_hz, steadiness=steady, brightness=bright, harmonics_db=harmonics_db,
        level_db=level_db, reversal=piece.reversal,
    )  # fmt: skip
    direction = one.bi.mean(settled[0], settled[1])
    verdict = judge_tone(
        regular,
        start_s=piece.start_s,
        end_s=piece.end_s,
        tail_s=tail_s,
        floor_db=rows.floor_db,
        level_db=levels_at(rows, regular.times_s),
        quietest_residual_db=context.residual_db,
        half_window_s=0.5 * window_periods(one.periods) / one.periods.centre_hz,
    )
    from_row = max(a - 8, 0)  # the rows before the first hold the rise
    alone = piece.silent_start and piece.silent_end
    struck = falls_from_start(rows.level_db[from_row:b])
    plucked = (
        pluck_evidence(rows.level_db[from_row:b], one.bi, start_s=from_row * HOP_S, end_s=piece.end_s)
        if alone and struck
        else None
    )
    if plucked is not None:
        spans = (Span(base.start_s, base.end_s, ToneState.PLUCKED, 0.85),)
        return Heard(
            replace(
                base, state=ToneState.PLUCKED, confidence=0.85, spans=spans, evidence=(plucked,),
                reversal=False, steadiness=_UNKNOWN_STEADINESS, harmonicity_db=_harmonicity(regular, verdict),
            ),
            nothing,
        )  # fmt: skip
    two = pitches_of_double_stop(fine, one, piece, periods, verdict, context)
    if two is not None:
        seen = Evidence("two_pitches", {"low_hz": round(two[0], 1), "high_hz": round(two[1], 1)})
        return Heard(replace(_blank(piece, shift), reversal=piece.reversal, evidence=(seen,)), nothing)
    gliding = glides(periods)
    verdict = after_doubts(
        one, piece, verdict, context, level_db=rows.level_db[a:b], gliding=gliding, struck=struck
    )
    if verdict.state is ToneState.RAUCOUS and may_be_toneless(
        np.ascontiguousarray(fine[2 * HOP * a : 2 * HOP * b : 2]), rows.level_db[a:b], context
    ):
        toneless = judge_toneless(_blank(piece, shift), fine, rows, piece, a, b, context)
        return Heard(toneless, nothing)
    verdict = mark_multiple_slip(
        verdict, regular, octave_high=_octave_high_spans(note, piece), start_s=piece.start_s, tail_s=tail_s
    )
    onset = UNKNOWN_ONSET if struck else _onset(rows, one, piece, periods, verdict)
    return Heard(
        replace(
            base,
            state=verdict.state,
            confidence=verdict.confidence,
            spans=tuple(
                replace(s, start_s=round(s.start_s + shift, 3), end_s=round(s.end_s + shift, 3))
                for s in verdict.spans
            ),
            evidence=verdict.evidence + _turn_evidence(one, piece),
            onset=onset,
            harmonicity_db=_harmonicity(regular, verdict),
        ),
        direction,
        no_held_note=gliding or many_players(regular),
    )


def _blank(piece: Piece, shift: float) -> Stroke:
    start, end = round(piece.start_s + shift, 3), round(piece.end_s + shift, 3)
    return Stroke(
        start, end, None, None, None, ToneState.UNSURE, 0.0, (Span(start, end, ToneState.UNSURE, 0.0),),
        None, None, False, UNKNOWN_ONSET, _UNKNOWN_STEADINESS, _UNKNOWN_BRIGHTNESS, None,
    )  # fmt: skip


def _harmonicity(regular: Regularity, verdict: Verdict) -> float | None:
    if len(regular) == 0:
        return None
    used = verdict.steady if len(verdict.steady) == len(regular) and verdict.steady.any() else slice(None)
    return round(float(-np.median(regular.noise_db[used])), 1)


def _octave_high_spans(note: Note, piece: Piece) -> list[tuple[float, float]]:
    spans = []
    for a, b in runs(bridge_gaps(note.octave_high, 3)):
        start, end = (note.first + a) * HOP_S, (note.first + b) * HOP_S
        start, end = max(start, piece.start_s), min(end, piece.end_s)
        if end - start >= 0.03:
            spans.append((start, end))
    return spans


def _onset(rows: Rows, one: Measured, piece: Piece, periods: Periods, verdict: Verdict) -> Onset:
    settles = any(s.state not in (ToneState.RAUCOUS, ToneState.UNSURE) for s in verdict.spans)
    begins = piece.silent_start or piece.reversal
    if not (settles and begins) or piece.end_s - piece.start_s < 0.25:
        return UNKNOWN_ONSET
    a = round(piece.start_s / HOP_S)
    early = rows.frequency_hz[a : a + _START_ROWS]
    clear = (early > 0) & (rows.clarity[a : a + _START_ROWS] > 0.7)
    semitones = 12 * np.log2(np.maximum(early, 1.0) / one.periods.centre_hz)
    return judge_onset(
        periods,
        octave_high_s=float((clear & (semitones > 6)).sum() * HOP_S),
        low_s=float((clear & (semitones < -0.8)).sum() * HOP_S),
        after_turn=piece.reversal,
        rough_start=any(
            s.state is ToneState.RAUCOUS and s.start_s < piece.start_s + 0.1 for s in verdict.spans
        ),
    )


def _turn_evidence(one: Measured, piece: Piece) -> tuple[Evidence, ...]:
    if not piece.reversal:
        return ()
    score = min((abs(t.time_s - piece.start_s), t.score) for t in one.turns)[1]
    return (Evidence("biphase_turn", {"score": round(-score, 2)}),)
