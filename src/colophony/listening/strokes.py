"""From a passage to its strokes: each note split where the bow turned, each stroke judged."""

from __future__ import annotations

import itertools
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from colophony.listening.colour import colour
from colophony.listening.direction import Biphases, Reversal, biphases, find_reversals
from colophony.listening.glide import gliding_share
from colophony.listening.notes import Note, find_notes
from colophony.listening.onset import UNKNOWN_ONSET, judge_onset
from colophony.listening.periodicity import Regularity, measure, window_periods
from colophony.listening.pitch import HOP, HOP_S, LOWEST_HZ, Floats, strongest_period
from colophony.listening.pluck import falls_from_start, pluck_evidence
from colophony.listening.rows import Rows
from colophony.listening.slips import mark_multiple_slip
from colophony.listening.steadiness import steadiness
from colophony.listening.take import Brightness, Evidence, Onset, Span, Steadiness, Stroke, ToneState
from colophony.listening.tone import Verdict, judge_tone, votes_for_rough
from colophony.listening.toneless import is_far_below_tone, is_near_tone, is_string, ringing
from colophony.listening.two_pitches import common_multiple, find_two_pitches
from colophony.listening.warp import Periods, to_periods

_TAIL_DB = 9.0
_DIED_DB = 14.0
_SHORT_S = 0.09
_LEAST_NOISE_S = 0.15
_BELOW_LOWEST = 2 ** (-60 / 1200)
_FAST_TURNS_S = 0.18
_START_ROWS = 40
_REPEATS = 0.75
_LOWEST_NOTE_HZ = 62.0  # a cello's C2 tuned to 415 Hz, and a little
_UNKNOWN_STEADINESS = Steadiness(None, None, None, None)
_UNKNOWN_BRIGHTNESS = Brightness(None, None, None)


@dataclass(frozen=True, slots=True)
class Context:
    """What the take has shown before this passage: see `colophony.listening.tone.judge_tone`."""

    start_s: float
    lowest_hz: float | None
    residual_db: float | None
    tone_db: float | None = None  #: median level of the passage's pitched notes


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


@dataclass(frozen=True, slots=True, eq=False)
class _Piece:
    """One stroke of a note before it is judged. ``silent_start`` tells that it began from silence."""

    start_s: float
    end_s: float
    reversal: bool
    silent_start: bool
    silent_end: bool


@dataclass(frozen=True, slots=True, eq=False)
class _Measured:
    """A note with everything measured on it. Times are seconds in the passage."""

    note: Note
    periods: Periods
    regular: Regularity
    bi: Biphases
    turns: list[Reversal]


def hear_passage(fine: Floats, rows: Rows, context: Context) -> tuple[list[Heard], float | None]:
    """Return the strokes of a passage at 48 kHz, and the least noise between harmonics so far (dB)."""
    measured = [_measure(fine, rows, note) for note in find_notes(rows)]
    residual = [context.residual_db] if context.residual_db is not None else []
    for one in measured:
        if len(one.regular) >= 4:
            level = _levels_at(rows, one.regular.times_s)
            residual.append(float(np.percentile(level + one.regular.noise_db, 10)))
    quietest = min(residual) if residual else None
    pitched = [rows.level_db[one.note.first : one.note.last] for one in measured if one.note.pitched]
    tone_db = float(np.median(np.concatenate(pitched))) if pitched else None
    context = replace(context, residual_db=quietest, tone_db=tone_db)
    heard = [
        _judge(fine, rows, one, piece, context)
        for one in measured
        for piece in _pieces(
            one, _tail(rows, one.note.first, one.note.last) if one.note.before_silence else np.inf
        )
    ]
    return heard, quietest


def _measure(fine: Floats, rows: Rows, note: Note) -> _Measured:
    periods = _periods(fine, note)
    regular = measure(periods)
    rough = len(regular) >= 4 and float((votes_for_rough(regular) >= 3).mean()) > 0.5
    if rough or not note.pitched:
        second = _second_opinion(fine, note)
        if second is not None:
            note, periods, regular = second
    bi = biphases(periods)
    return _Measured(note, periods, regular, bi, find_reversals(bi) if note.pitched else [])


def _periods(fine: Floats, note: Note) -> Periods:
    if len(note.frequency_hz) < 2 or note.frequency_hz.min() <= 0:
        return Periods(np.empty(0), np.empty(0), np.empty((0, 1), np.complex64))
    return to_periods(fine, frequency_hz=note.frequency_hz, start_s=(note.first + 0.5) * HOP_S)


def _second_opinion(fine: Floats, note: Note) -> tuple[Note, Periods, Regularity] | None:
    """Look for another period in a note that seems rough; return it where the note is calm with it."""
    sound = np.ascontiguousarray(fine[2 * HOP * note.first : 2 * HOP * note.last : 2])
    other = strongest_period(sound)
    good = other.clarity > _REPEATS
    if len(good) == 0 or good.mean() < 0.6:
        return None
    hz = other.frequency_hz
    centre = float(np.median(hz[good]))
    clear = good & (np.abs(12 * np.log2(hz / centre)) < 1.0)
    if clear.mean() < 0.5:
        return None
    filled = np.interp(np.arange(len(hz)), np.flatnonzero(clear), hz[clear]).astype(np.float32)
    again = replace(note, frequency_hz=filled, clear=clear, pitched=True, octave_high=np.zeros(len(hz), bool))
    periods = _periods(fine, again)
    regular = measure(periods)
    if len(regular) < 4 or float((votes_for_rough(regular) >= 2).mean()) > 0.4:
        return None
    return again, periods, regular


def _levels_at(rows: Rows, times_s: NDArray[np.float64]) -> NDArray[np.float64]:
    at = np.clip((times_s / HOP_S).astype(int), 0, len(rows) - 1)
    return rows.level_db[at].astype(np.float64)


def _pieces(one: _Measured, tail_s: float) -> list[_Piece]:
    note = one.note
    start, end = note.first * HOP_S, note.last * HOP_S
    last = min(end - 0.12, tail_s - 0.1)  # a sound that dies away turns its phases without a bow
    turns = [t for t in one.turns if start + 0.08 < t.time_s < last]
    borders = [start, *(t.time_s for t in turns), end]
    return [
        _Piece(a, b, i > 0, i == 0 and note.after_silence, i == len(turns) and note.before_silence)
        for i, (a, b) in enumerate(itertools.pairwise(borders))
    ]


def _slice(periods: Periods, start_s: float, end_s: float) -> Periods:
    a, b = np.searchsorted(periods.times_s, (start_s, end_s))
    return Periods(periods.times_s[a:b], periods.frequency_hz[a:b], periods.harmonics[a:b])


def _judge(fine: Floats, rows: Rows, one: _Measured, piece: _Piece, context: Context) -> Heard:
    note = one.note
    a, b = round(piece.start_s / HOP_S), max(round(piece.end_s / HOP_S), round(piece.start_s / HOP_S) + 1)
    shift = context.start_s
    nothing = np.zeros(one.bi.pairs, np.complex64)
    base = _blank(piece, shift)
    if not note.pitched:
        return Heard(_judge_toneless(base, fine, rows, piece, a, b, context), nothing)
    tail_s = min(_tail(rows, a, b), piece.end_s) if piece.silent_end else piece.end_s
    inside = (one.regular.times_s >= piece.start_s) & (one.regular.times_s <= piece.end_s)
    regular = one.regular.select(inside)
    periods = _slice(one.periods, piece.start_s, piece.end_s)
    if len(periods.times_s) < 12 or piece.end_s - piece.start_s < _SHORT_S:
        short = Evidence("short_note", {"seconds": round(piece.end_s - piece.start_s, 2)})
        return Heard(replace(base, frequency_hz=note.centre_hz, evidence=(short,)), nothing)
    settled = (
        piece.start_s + min(0.15, 0.3 * (tail_s - piece.start_s)),
        max(tail_s - 0.08, piece.start_s + 0.05),
    )
    inner_rows = rows.level_db[round(settled[0] / HOP_S) : round(settled[1] / HOP_S)]
    centre_hz, steady = steadiness(periods, inner_rows, from_s=settled[0], to_s=settled[1])
    bright, harmonics_db = colour(periods, from_s=settled[0], to_s=settled[1])
    base = replace(
        base, frequency_hz=centre_hz, steadiness=steady, brightness=bright, harmonics_db=harmonics_db,
        reversal=piece.reversal,
    )  # fmt: skip
    direction = one.bi.mean(settled[0], settled[1])
    verdict = judge_tone(
        regular,
        start_s=piece.start_s,
        end_s=piece.end_s,
        tail_s=tail_s,
        floor_db=rows.floor_db,
        level_db=_levels_at(rows, regular.times_s),
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
    two = _two_pitches(fine, one, piece, periods, verdict, context)
    if two is not None:
        seen = Evidence("two_pitches", {"low_hz": round(two[0], 1), "high_hz": round(two[1], 1)})
        return Heard(replace(_blank(piece, shift), reversal=piece.reversal, evidence=(seen,)), nothing)
    gliding = gliding_share(periods) > 0.5
    verdict = _after_doubts(one, piece, verdict, context, gliding=gliding)
    verdict = mark_multiple_slip(
        verdict, regular, octave_high=_octave_high_spans(note, piece), start_s=piece.start_s, tail_s=tail_s
    )
    if struck and verdict.state is ToneState.RAUCOUS:
        verdict = _unsure(verdict, piece, Evidence("only_falls"))
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
        no_held_note=gliding or _many_players(regular),
    )


def _blank(piece: _Piece, shift: float) -> Stroke:
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


def _tail(rows: Rows, a: int, b: int) -> float:
    """Return when, in rows ``a`` to ``b``, the bow left the string: then the level only falls, and far."""
    level = rows.level_db[a:b].astype(np.float64)
    if len(level) < 12:
        return b * HOP_S
    smooth = np.convolve(np.pad(level, 2, mode="edge"), np.ones(5) / 5, "valid")
    usual = float(np.median(smooth[: max(6, int(0.8 * len(smooth)))]))
    if smooth[-1] > usual - _DIED_DB:
        return b * HOP_S
    above = np.flatnonzero(smooth > usual - _TAIL_DB)
    last = int(above[-1]) if len(above) else len(smooth) - 1
    # Back to where the fall began: it must have been falling all the way.
    while last > 0 and smooth[last - 1] > smooth[last] and smooth[last] < usual - 2.0:
        last -= 1
    return (a + last) * HOP_S


def _judge_toneless(
    base: Stroke, fine: Floats, rows: Rows, piece: _Piece, a: int, b: int, context: Context
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
        if is_string(contrast):
            state, confidence, evidence = ToneState.RAUCOUS, 0.7, (*evidence, seen)
        elif is_near_tone(below):
            state, confidence = ToneState.RAUCOUS, 0.6
        elif is_far_below_tone(below):
            state, confidence = ToneState.NOISE, 0.7
            evidence = (*evidence, Evidence("below_tone_db", {"value": round(below, 1)}))
    spans = (Span(base.start_s, base.end_s, state, confidence),)
    return replace(base, state=state, confidence=confidence, spans=spans, evidence=evidence)


def _two_pitches(
    fine: Floats, one: _Measured, piece: _Piece, periods: Periods, verdict: Verdict, context: Context
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


def _too_low(one: _Measured, context: Context) -> bool:
    return context.lowest_hz is not None and one.periods.centre_hz < context.lowest_hz * _BELOW_LOWEST


def _after_doubts(
    one: _Measured, piece: _Piece, verdict: Verdict, context: Context, *, gliding: bool
) -> Verdict:
    """Take a verdict back where no held note sounded; say what a note too low can mean."""
    if one.periods.centre_hz < _LOWEST_NOTE_HZ:
        return _unsure(verdict, piece, Evidence("edge_of_range"))
    if gliding:
        return _unsure(verdict, piece, Evidence("gliding"))
    if verdict.state is ToneState.RAUCOUS and _turns_fast(one, piece):
        return _unsure(verdict, piece, Evidence("many_reversals", {"rate_hz": _turn_rate(one)}))
    if _too_low(one, context) and verdict.state is ToneState.STEADY:
        low = ToneState.LOW_ANOMALOUS
        spans = tuple(replace(s, state=low) if s.state is ToneState.STEADY else s for s in verdict.spans)
        cents = 1200 * float(np.log2(one.periods.centre_hz / (context.lowest_hz or 1.0)))
        evidence = (Evidence("below_lowest_string", {"cents": round(cents)}), *verdict.evidence)
        return replace(
            verdict, spans=spans, state=low, confidence=min(verdict.confidence, 0.8), evidence=evidence
        )
    return verdict


def _unsure(verdict: Verdict, piece: _Piece, evidence: Evidence) -> Verdict:
    span = Span(piece.start_s, piece.end_s, ToneState.UNSURE, 0.0)
    return replace(verdict, spans=(span,), state=ToneState.UNSURE, confidence=0.0, evidence=(evidence,))


def _turns_fast(one: _Measured, piece: _Piece) -> bool:
    near = [t for t in one.turns if piece.start_s - 1.0 <= t.time_s <= piece.end_s + 1.0]
    return len(near) >= 3 and float(np.median(np.diff([t.time_s for t in near]))) < _FAST_TURNS_S


def _turn_rate(one: _Measured) -> float:
    return round(1 / float(np.median(np.diff([t.time_s for t in one.turns]))), 1)


def _octave_high_spans(note: Note, piece: _Piece) -> list[tuple[float, float]]:
    from colophony.listening.rows import bridge_gaps, runs

    spans = []
    for a, b in runs(bridge_gaps(note.octave_high, 3)):
        start, end = (note.first + a) * HOP_S, (note.first + b) * HOP_S
        start, end = max(start, piece.start_s), min(end, piece.end_s)
        if end - start >= 0.03:
            spans.append((start, end))
    return spans


def _onset(rows: Rows, one: _Measured, piece: _Piece, periods: Periods, verdict: Verdict) -> Onset:
    if not (piece.silent_start or piece.reversal) or piece.end_s - piece.start_s < 0.25:
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


def _turn_evidence(one: _Measured, piece: _Piece) -> tuple[Evidence, ...]:
    if not piece.reversal:
        return ()
    score = min((abs(t.time_s - piece.start_s), t.score) for t in one.turns)[1]
    return (Evidence("biphase_turn", {"score": round(-score, 2)}),)


def _many_players(regular: Regularity) -> bool:
    """Several players never lock: jitter and noise stay high though nothing slips at random."""
    return (
        len(regular) > 4
        and float(np.median(regular.jitter)) > 0.006
        and float(np.median(regular.shimmer_db)) > 0.6
    )
