"""The benchmark compares like with like: its C step takes the engine's steps."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Literal

import numpy as np
import pytest

sys.path.insert(0, str(Path(__file__).resolve().parent.parent))

from bench.__main__ import Row
from bench.bowing import FULL, player, strokes
from bench.transcription import NoCompilerError, compile_step, play_in_c


@pytest.mark.parametrize(("precision", "rounding"), [("double", 1e-12), ("single", 1e-4)])
def test_the_c_transcription_takes_the_steps_of_the_engine(
    precision: Literal["double", "single"], rounding: float, tmp_path: Path
) -> None:
    """Full model, 1500 steps of which the last 500 begin in mid-motion: equal to rounding, which a bowed
    string makes grow.
    """
    try:
        play = compile_step(tmp_path, precision)
    except NoCompilerError as reason:
        pytest.skip(str(reason))
    assert np.multiply(1e-310, 1.0) > 0.0  # loading it has not switched subnormal numbers off
    engine, c = player(FULL, precision=precision), player(FULL, precision=precision)
    for steps in (1000, 500):
        expected = engine.play(strokes(1), steps=steps)
        found = play_in_c(play, c.strings, c.segments(strokes(1), steps=steps))
        for name in ("velocity", "force", "sound", "sliding"):
            a, b = getattr(found, name), getattr(expected, name)
            assert np.abs(a - b).max() < rounding * np.abs(b).max()


@pytest.mark.parametrize(
    ("value", "at_least", "verdict"),
    [(1.0, False, "met"), (3.0, False, "missed"), (1.0, True, "missed"), (3.0, True, "met")],
)
def test_a_target_is_met_on_its_own_side(value: float, at_least: bool, verdict: str) -> None:
    """A time must be below its target, a speed above."""
    assert Row("figure", value, "", 2.0, at_least).verdict() == verdict
