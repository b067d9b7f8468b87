"""Findings as JSON: the one shape that other programs read; ``docs/listen.schema.json`` describes it.

Units stand in the names. What a take cannot tell is ``null``. Figures are rounded to what the
measurement can carry, so that a file is readable and two runs agree.
"""

from __future__ import annotations

import math
from typing import Any

from colophony.listening.take import Stroke
from colophony.teaching import wording
from colophony.teaching.findings import READERS, Advice, Findings, Reader


def findings_to_json(findings: Findings, *, reader: Reader = "teacher") -> dict[str, Any]:
    """Return the findings of one take as plain JSON values.

    Parameters
    ----------
    findings
        What was heard, with its advice.
    reader
        In whose words evidence and warnings are said; advice carries all three.
    """
    take = findings.take
    return {
        "file": _text(take.file),
        "duration_s": _number(take.duration_s, 3),
        "a4_hz": _number(take.a4_hz, 2),
        "instrument": take.instrument,
        "warnings": [wording.evidence(item, reader=reader) for item in take.warnings],
        "strokes": [
            _stroke(stroke, advice, reader)
            for stroke, advice in zip(take.strokes, findings.advice, strict=True)
        ],
        "summary": {
            "clean_share": _number(findings.summary.clean_share, 3),
            "strokes": findings.summary.strokes,
            "main_advice": _advice(findings.summary.main_advice) if findings.summary.main_advice else None,
        },
    }


def _stroke(stroke: Stroke, advice: tuple[Advice, ...], reader: Reader) -> dict[str, Any]:
    onset, steadiness, brightness = stroke.onset, stroke.steadiness, stroke.brightness
    return {
        "start_s": _number(stroke.start_s, 3),
        "end_s": _number(stroke.end_s, 3),
        "note": stroke.note,
        "frequency_hz": _number(stroke.frequency_hz, 2),
        "cents": _number(stroke.cents, 1),
        "state": str(stroke.state),
        "confidence": _number(stroke.confidence, 2),
        "spans": [
            {
                "start_s": _number(span.start_s, 3),
                "end_s": _number(span.end_s, 3),
                "state": str(span.state),
                "confidence": _number(span.confidence, 2),
            }
            for span in stroke.spans
        ],
        "bow": stroke.bow,
        "way": stroke.way,
        "reversal": bool(stroke.reversal),
        "onset": {
            "grade": onset.grade,
            "settling_ms": _number(onset.settling_ms, 0),
            "uncertainty_ms": _number(onset.uncertainty_ms, 0),
            "kind": onset.kind,
            "within_limit": None if onset.within_limit is None else bool(onset.within_limit),
        },
        "steadiness": {
            "level_swing_db": _number(steadiness.level_swing_db, 1),
            "pitch_swing_cents": _number(steadiness.pitch_swing_cents, 1),
            "vibrato_hz": _number(steadiness.vibrato_hz, 1),
            "vibrato_cents": _number(steadiness.vibrato_cents, 1),
        },
        "brightness": {
            "centroid_hz": _number(brightness.centroid_hz, 0),
            "centroid_in_harmonics": _number(brightness.centroid_in_harmonics, 2),
            "against_reference_db": _number(brightness.against_reference_db, 1),
        },
        "harmonicity_db": _number(stroke.harmonicity_db, 1),
        "level_db": _number(stroke.level_db, 1),
        "evidence": [wording.evidence(item, reader=reader) for item in stroke.evidence],
        "advice": [_advice(item) for item in advice],
    }


def _advice(advice: Advice) -> dict[str, Any]:
    say = advice.say
    return {
        "change": advice.change,
        "direction": advice.direction,
        "why": advice.reason,
        "say": {reader: say.to(reader) for reader in READERS},
    }


def _number(value: float | None, digits: int) -> float | int | None:
    """Return a rounded plain number; JSON has no word for NaN or infinity, so they are unknown too."""
    if value is None or not math.isfinite(value):
        return None
    rounded = round(float(value), digits) + 0.0  # never -0.0
    return int(rounded) if digits == 0 else rounded


def _text(name: str) -> str:
    """Return a file name that any reader of UTF-8 accepts, whatever bytes the disk holds."""
    return name.encode("utf-8", "surrogateescape").decode("utf-8", "replace")
