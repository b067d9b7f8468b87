"""The tone state over time: which windows were rough, which steady, and which cannot tell.

Five measures vote (`colophony.listening.periodicity`). Each compares a period with its neighbours, so no
loudness and no colour enters. Three votes of five make a window rough: a string driven beyond its upper
limit slips at irregular times (Schelleng, JASA 53, 26-41, 1973; Woodhouse, Euphonics, section 9.3).
One slip a period against several is not decided here: both are periodic, and only the body's colour
would tell them apart. The thresholds were set on simulated strokes whose slips were counted at the bow;
docs/listening.md gives the rates of error.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from colophony.listening.periodicity import Regularity
from colophony.listening.rows import bridge_gaps, drop_short, runs
from colophony.listening.take import Evidence, Span, ToneState

#: Measure, limit, +1 when larger is rougher, and the evidence it gives.
_VOTES = (
    ("period_correlation", 0.70, -1, "period_correlation"),
    ("low_noise_db", -10.0, 1, "inter_harmonic_noise_db"),
    ("sub_period_db", -14.0, 1, "half_period_energy_db"),
    ("shimmer_db", 1.2, 1, "shimmer_db"),
    ("jitter", 0.010, 1, "period_jitter_percent"),
)
_ROUGH_VOTES = 3
_CLEARLY_ROUGH = 3.2
_HOLD_S = 0.12
_EDGE_S = 0.12
_NOISE_MARGIN_DB = 15.0
_RESIDUAL_MARGIN_DB = 3.5


@dataclass(frozen=True, slots=True, eq=False)
class Verdict:
    """The spans of a stroke, what spoke for them, and the windows that were judged steady."""

    spans: tuple[Span, ...]
    state: ToneState
    confidence: float
    evidence: tuple[Evidence, ...]
    steady: NDArray[np.bool_]


def votes_for_rough(regular: Regularity) -> NDArray[np.int64]:
    """Return for each window how many of the five measures call it rough."""
    return np.sum(
        [sign * getattr(regular, name) > sign * limit for name, limit, sign, _ in _VOTES], axis=0, dtype=int
    )


def judge_tone(
    regular: Regularity,
    *,
    start_s: float,
    end_s: float,
    tail_s: float,
    floor_db: float | None,
    level_db: NDArray[np.float64],
    quietest_residual_db: float | None,
    half_window_s: float,
) -> Verdict:
    """Judge a stroke from its windows.

    ``tail_s`` is where the bow has left the string and the sound only dies away; ``level_db`` is the
    level around each window, comparable with ``floor_db``. ``quietest_residual_db`` is the least noise
    between harmonics anywhere in the take, which stands in for the floor where no silence shows it.
    """
    times = regular.times_s
    if len(times) == 0:
        short = (Evidence("short_note", {"seconds": round(end_s - start_s, 2)}),)
        return Verdict(
            (Span(start_s, end_s, ToneState.UNSURE, 0.0),), ToneState.UNSURE, 0.0, short, times > 0
        )
    votes = votes_for_rough(regular)
    rough, calm = votes >= _ROUGH_VOTES, votes <= 1
    # Edges: a window that leans over the start, the turn of the bow or the tail mixes two sounds.
    edge = min(_EDGE_S, 0.25 * (end_s - start_s))
    inner = (times - 0.5 * half_window_s > start_s + edge) & (times + 0.5 * half_window_s < tail_s - edge)
    masked = np.zeros(len(times), bool)
    if floor_db is not None:
        masked = level_db - floor_db < _NOISE_MARGIN_DB
    elif quietest_residual_db is not None:
        residual = level_db + regular.noise_db
        masked = (residual < quietest_residual_db + _RESIDUAL_MARGIN_DB) & (regular.noise_db > -15.0)
    hop = float(np.median(np.diff(times))) if len(times) > 1 else 0.03
    hold = max(2, round(_HOLD_S / hop))
    rough_long = drop_short(bridge_gaps(rough, max(1, hold // 2)), hold)
    # A rough stretch that reaches the middle of the stroke counts to its ends; one at an edge only is a start
    # or an end, and told there.
    sure = rough_long & (inner | _touching(rough_long, rough_long & inner, hold))
    state = np.full(len(times), _UNSURE)
    state[calm & (times < tail_s)] = _STEADY
    state[_filled(calm, rough_long, hold) & (times < tail_s)] = _STEADY
    state[sure & (times < tail_s)] = _ROUGH
    state[masked & (state != _STEADY)] = _UNSURE
    if floor_db is not None:
        state[masked & (level_db - floor_db < 6.0)] = _UNSURE
    state[(state == _ROUGH) & ~drop_short(state == _ROUGH, hold)] = _UNSURE
    for a, b in runs(state == _ROUGH):
        if votes[a:b].mean() < _CLEARLY_ROUGH:  # as of many players, or a tremolo
            state[a:b] = _UNSURE
    spans = _spans(state, votes, times, start_s, end_s, tail_s)
    return _verdict(spans, regular, votes, state, masked, level_db, floor_db)


_UNSURE, _STEADY, _ROUGH = 0, 1, 2
_STATES = (ToneState.UNSURE, ToneState.STEADY, ToneState.RAUCOUS)


def _touching(mask: NDArray[np.bool_], core: NDArray[np.bool_], least: int) -> NDArray[np.bool_]:
    """Return the stretches of ``mask`` that hold at least ``least`` rows of ``core``."""
    kept = np.zeros_like(mask)
    for a, b in runs(mask):
        if core[a:b].sum() >= min(least, b - a):
            kept[a:b] = True
    return kept


def _filled(calm: NDArray[np.bool_], rough: NDArray[np.bool_], longest: int) -> NDArray[np.bool_]:
    """Return ``calm`` with single doubtful windows filled in where calm windows lie on both sides."""
    return bridge_gaps(calm, max(1, longest // 2)) & ~rough


def _confidence(state: int, votes: NDArray[np.int64]) -> float:
    mean = float(votes.mean())
    if state == _ROUGH:
        return round(float(np.clip(0.55 + 0.1 * (mean - 2.5) * 1.8, 0.5, 0.97)), 2)
    if state == _STEADY:
        return round(float(np.clip(0.97 - 0.15 * mean, 0.5, 0.97)), 2)
    return 0.0


def _spans(
    state: NDArray[np.int64],
    votes: NDArray[np.int64],
    times: NDArray[np.float64],
    start_s: float,
    end_s: float,
    tail_s: float,
) -> tuple[Span, ...]:
    changes = np.flatnonzero(np.diff(state)) + 1
    pieces: list[Span] = []
    begin = start_s
    for part in np.split(np.arange(len(state)), changes):
        last = part[-1] == len(state) - 1
        finish = end_s if last else float(0.5 * (times[part[-1]] + times[part[-1] + 1]))
        finish = min(max(finish, begin), end_s)
        kind = int(state[part[0]])
        pieces.append(Span(begin, finish, _STATES[kind], _confidence(kind, votes[part])))
        begin = finish
    if tail_s < end_s - 0.05 and pieces[-1].state is not ToneState.UNSURE:
        final = pieces.pop()
        middle = max(min(tail_s, final.end_s), final.start_s)
        if middle > final.start_s:
            pieces.append(Span(final.start_s, middle, final.state, final.confidence))
        pieces.append(Span(middle, end_s, ToneState.UNSURE, 0.0))
    # An unsure sliver at the start belongs to the start's own verdict, not to the tone.
    merged: list[Span] = []
    for span in pieces:
        if merged and merged[-1].state is span.state:
            merged[-1] = Span(
                merged[-1].start_s, span.end_s, span.state, min(merged[-1].confidence, span.confidence)
            )
        elif span.end_s > span.start_s:
            merged.append(span)
    return tuple(merged)


def _verdict(
    spans: tuple[Span, ...],
    regular: Regularity,
    votes: NDArray[np.int64],
    state: NDArray[np.int64],
    masked: NDArray[np.bool_],
    level_db: NDArray[np.float64],
    floor_db: float | None,
) -> Verdict:
    seconds = {kind: sum(s.end_s - s.start_s for s in spans if s.state is kind) for kind in _STATES}
    rough, steady = seconds[ToneState.RAUCOUS], seconds[ToneState.STEADY]
    if rough >= 0.2 and rough >= 0.3 * (rough + steady):
        main = _ROUGH
    elif steady >= min(0.4, max(0.01, 0.4 * sum(seconds.values()))):
        main = _STEADY
    else:
        main = _UNSURE
    chosen = state == main
    evidence: list[Evidence] = []
    if main != _UNSURE:
        for name, limit, sign, kind in _VOTES:
            value = float(np.median(getattr(regular, name)[chosen]))
            speaks = sign * value > sign * limit
            if speaks == (main == _ROUGH):
                shown = 100 * value if name == "jitter" else value
                evidence.append(
                    Evidence(kind, {"value": round(shown, 2), "limit": limit if name != "jitter" else 1.0})
                )
        count = int(np.median(votes[chosen]))
        evidence.append(Evidence("votes", {"count": count, "of": len(_VOTES), "state": _STATES[main].value}))
        confidence = _confidence(main, votes[chosen])
    else:
        confidence = 0.0
        if masked.any() and floor_db is not None:
            evidence.append(
                Evidence("level_to_noise_db", {"value": round(float(np.median(level_db - floor_db)), 1)})
            )
        elif masked.any():
            evidence.append(
                Evidence("level_to_noise_db", {"value": round(float(-np.median(regular.noise_db)), 1)})
            )
        elif float(np.median(votes)) >= 2:
            evidence.append(
                Evidence("votes", {"count": int(np.median(votes)), "of": len(_VOTES), "state": "unsure"})
            )
        else:
            evidence.append(Evidence("note_edge"))
    return Verdict(spans, _STATES[main], confidence, tuple(evidence), state == _STEADY)
