"""Takes made by hand, for tests that need findings but no sound."""

from __future__ import annotations

import numpy as np

from colophony.listening.take import (
    Brightness,
    Evidence,
    Onset,
    Span,
    Steadiness,
    Stroke,
    Take,
    ToneState,
    Track,
)


def make_stroke(start_s: float = 0.5, end_s: float = 2.5, **changes: object) -> Stroke:
    values: dict[str, object] = {
        "start_s": start_s,
        "end_s": end_s,
        "note": "A4",
        "frequency_hz": 441.0,
        "cents": 3.9,
        "state": ToneState.STEADY,
        "confidence": 0.9,
        "spans": (Span(start_s, end_s, ToneState.STEADY, 0.9),),
        "bow": None,
        "way": "one",
        "reversal": False,
        "onset": Onset("clean", 30.0, 30.0, "clean", True),
        "steadiness": Steadiness(2.0, 5.0, None, None),
        "brightness": Brightness(1500.0, 3.4, None),
        "harmonicity_db": 30.0,
        "evidence": (Evidence("period_correlation", {"value": 0.98}),),
    }
    values.update(changes)
    return Stroke(**values)  # type: ignore[arg-type]


def make_take(*strokes: Stroke, file: str = "lesson.m4a", **changes: object) -> Take:
    rough = make_stroke(
        3.0,
        5.0,
        state=ToneState.RAUCOUS,
        spans=(Span(3.0, 3.6, ToneState.STEADY, 0.8), Span(3.6, 5.0, ToneState.RAUCOUS, 0.9)),
        reversal=True,
        way="other",
        onset=Onset("slow", 120.0, 40.0, "creaking", False),
    )
    chosen = strokes or (make_stroke(), rough)
    duration_s = max(stroke.end_s for stroke in chosen) + 0.5
    times = np.arange(0, duration_s, 0.01, dtype=np.float32)
    sounding = sum(((times >= s.start_s) & (times < s.end_s)).astype(np.float32) for s in chosen)
    track = Track(
        times,
        np.where(sounding > 0, 440.0, 0.0).astype(np.float32),
        np.where(sounding > 0, -18.0, -70.0).astype(np.float32),
        (0.4 * sounding * (0.8 + 0.2 * np.sin(9 * times))).astype(np.float32),
    )
    values: dict[str, object] = {
        "file": file,
        "duration_s": duration_s,
        "a4_hz": 440.0,
        "instrument": "violin",
        "strokes": tuple(chosen),
        "warnings": (),
        "track": track,
    }
    values.update(changes)
    return Take(**values)  # type: ignore[arg-type]
