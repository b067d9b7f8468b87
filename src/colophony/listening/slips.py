"""Several slips a period, said only where the stroke itself changes.

A double slip is as periodic as a single one and differs in colour only, and an unknown body colours more
than the bow does. Within one stroke body, room and pitch stay the same: there a loss of the first
harmonic, or a period that halves, is the string's doing (Woodhouse, Euphonics, section 9.4;
E. Schoonderwaldt, JASA 126, 2709-2720, 2009: surface sound, weak fundamental, energy near twice f0).
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from colophony.listening.periodicity import Regularity
from colophony.listening.rows import bridge_gaps, drop_short, runs
from colophony.listening.take import Evidence, Span, ToneState
from colophony.listening.tone import Verdict

_LEAST_S = 0.3
_RISEN_OCTAVES = 0.7
_LOST_FIRST_DB = 6.0
_LOST_LEVEL_DB = 2.0
_LEAST_OCTAVE_S = 0.1


def mark_multiple_slip(
    verdict: Verdict,
    regular: Regularity,
    *,
    octave_high: list[tuple[float, float]],
    start_s: float,
    tail_s: float,
) -> Verdict:
    """Return the verdict with stretches of several slips a period marked, where the stroke shows them."""
    if verdict.state is ToneState.LOW_ANOMALOUS:
        return verdict
    for a, b in octave_high:
        if b - a >= _LEAST_OCTAVE_S and a > start_s + 0.12 and b < tail_s:
            verdict = _marked(
                verdict, a, b, 0.7, Evidence("octave_within_stroke", {"seconds": round(b - a, 2)})
            )
    if len(regular) < 12 or verdict.steady.sum() < 8 or len(verdict.steady) != len(regular):
        return verdict
    inner = verdict.steady & (regular.times_s > start_s + 0.12) & (regular.times_s < tail_s - 0.12)
    if inner.sum() < 8:
        return verdict
    # The fullest third of the steady windows stands for one slip a period.
    full = inner & (regular.first_share_db >= np.percentile(regular.first_share_db[inner], 60))
    octaves = np.log2(np.maximum(regular.centroid, 0.1) / np.median(regular.centroid[full]))
    lost = np.median(regular.first_share_db[full]) - regular.first_share_db
    quieter = np.median(regular.level_db[full]) - regular.level_db
    thin = inner & (octaves > _RISEN_OCTAVES) & (lost > _LOST_FIRST_DB) & (quieter > _LOST_LEVEL_DB)
    hop = float(np.median(np.diff(regular.times_s)))
    thin = drop_short(bridge_gaps(thin, 2), max(2, round(_LEAST_S / hop)))
    if thin.sum() > 0.5 * inner.sum():
        return verdict
    for i, j in runs(thin):
        a, b = float(regular.times_s[i]), float(regular.times_s[j - 1])
        seen = Evidence(
            "thinner_within_stroke",
            {
                "db": round(float(np.median(lost[i:j])), 1),
                "octaves": round(float(np.median(octaves[i:j])), 2),
            },
        )
        verdict = _marked(verdict, a, b, 0.6, seen)
    return verdict


def _marked(verdict: Verdict, start_s: float, end_s: float, confidence: float, evidence: Evidence) -> Verdict:
    spans: list[Span] = []
    for span in verdict.spans:
        a, b = max(span.start_s, start_s), min(span.end_s, end_s)
        if b <= a:
            spans.append(span)
            continue
        if a > span.start_s:
            spans.append(replace(span, end_s=a))
        spans.append(Span(a, b, ToneState.MULTIPLE_SLIP, confidence))
        if b < span.end_s:
            spans.append(replace(span, start_s=b))
    joined: list[Span] = []
    for span in spans:
        if joined and joined[-1].state is span.state is ToneState.MULTIPLE_SLIP:
            joined[-1] = replace(joined[-1], end_s=span.end_s)
        else:
            joined.append(span)
    total = sum(s.end_s - s.start_s for s in joined)
    many = sum(s.end_s - s.start_s for s in joined if s.state is ToneState.MULTIPLE_SLIP)
    state, sure = verdict.state, verdict.confidence
    if many > 0.5 * total:
        state, sure = ToneState.MULTIPLE_SLIP, confidence
    return replace(
        verdict, spans=tuple(joined), state=state, confidence=sure, evidence=(*verdict.evidence, evidence)
    )
