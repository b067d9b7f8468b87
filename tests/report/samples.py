"""Findings and sounds for tests of the findings file."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import soundfile

from colophony.listening.take import Evidence, Onset, Span, Take, ToneState
from colophony.teaching.advice import judge
from colophony.teaching.findings import Findings
from factories import make_stroke, make_take

RATE_HZ = 44100
HOSTILE = "Mira </script><b>&\"'"


def findings(take: Take | None = None) -> Findings:
    return judge(take or make_take(file=f"{HOSTILE}.m4a"))


def lesson(strokes: int = 300) -> Take:
    """A long take: two seconds a stroke, every third pressed, every fifth on the surface."""
    made = []
    for k in range(strokes):
        state = (
            ToneState.RAUCOUS if k % 3 == 0 else ToneState.MULTIPLE_SLIP if k % 5 == 0 else ToneState.STEADY
        )
        start_s, end_s = 2.0 * k + 0.2, 2.0 * k + 1.9
        made.append(
            make_stroke(
                start_s,
                end_s,
                state=state,
                spans=(Span(start_s, end_s, state, 0.9),),
                bow="down" if k % 2 else "up",
                onset=Onset(None, None, None, "unknown", None),
                evidence=(Evidence("period_correlation", {"value": 0.4}),),
            )
        )
    return make_take(*made)


def write_ticks(path: Path, *, seconds: float, at_s: tuple[float, ...]) -> Path:
    """A sound file that is silent but for short bursts of 1 kHz, 20 ms long, at the given times."""
    sound = np.zeros(round(seconds * RATE_HZ), dtype=np.float32)
    burst = 0.8 * np.sin(2 * np.pi * 1000 * np.arange(round(0.02 * RATE_HZ)) / RATE_HZ)
    for time_s in at_s:
        start = round(time_s * RATE_HZ)
        sound[start : start + len(burst)] = burst
    soundfile.write(path, sound, RATE_HZ)
    return path
