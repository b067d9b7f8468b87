"""What a graphics card makes of the string: speed and agreement with the CPU, as JSON on standard output.

``python -m bench.card`` on a machine with a card; the figures kept are in ``bench/card.json``.
"""

from __future__ import annotations

import json
import os
import time
from typing import Any

import numpy as np

from bench.bowing import player
from colophony.physics.gestures import Stroke, steady
from colophony.physics.regimes import read_motion
from colophony.physics.simulation import Model, simulate_many

_PERIODS = 100
_SAMPLES = 256


def _strokes(lanes: int) -> list[Stroke]:
    return [steady(0.1, float(weight), 0.0325) for weight in np.geomspace(0.05, 4.0, lanes)]


def _nanoseconds(lanes: int, target: Any, precision: Any, model: Model, steps: int, repeats: int) -> float:
    made = player(model, lanes=lanes, precision=precision, target=target, samples_per_period=_SAMPLES)
    segments = made.segments(_strokes(lanes), steps=steps)
    made.strings.play(segments, keep=1)
    times = []
    for _ in range(repeats):
        began = time.perf_counter()
        made.strings.play(segments, keep=1)
        times.append(time.perf_counter() - began)
    return 1e9 * min(times) / steps / lanes


def _agreement() -> dict[str, float]:
    """Compare card and CPU: sample by sample while the motion is young, then by the state it settles in."""
    strokes = _strokes(64)
    card, host = (
        simulate_many(
            "violin", "G", strokes, seconds=_PERIODS / 196.0, samples_per_period=_SAMPLES, target=target
        )
        for target in ("cuda", "cpu")
    )
    early = [
        float(np.abs(a.velocity_m_s[: 5 * _SAMPLES] - b.velocity_m_s[: 5 * _SAMPLES]).max())
        for a, b in zip(card, host, strict=True)
    ]
    same = [read_motion(a).state == read_motion(b).state for a, b in zip(card, host, strict=True)]
    return {"first_5_periods_median_m_s": float(np.median(early)), "same_state": float(np.mean(same))}


def main() -> None:
    """Measure and print."""
    from numba import cuda

    full, bare = Model(), Model(body=False)
    card: dict[str, float] = {}
    for lanes in (1024, 8192, 32768):
        card[f"full_single_{lanes}"] = _nanoseconds(lanes, "cuda", "single", full, 5000, 2)
        card[f"no_body_single_{lanes}"] = _nanoseconds(lanes, "cuda", "single", bare, 5000, 2)
    figures = {
        "card": str(cuda.get_current_device().name),
        "cores": os.cpu_count(),
        "card_ns_per_step_and_lane": card,
        "agreement": _agreement(),
        "cpu_ns_per_step": {
            "lanes_single": _nanoseconds(32, "cpu", "single", full, 20000, 10),
            "lanes_single_no_body": _nanoseconds(32, "cpu", "single", bare, 20000, 10),
            "lanes_double": _nanoseconds(32, "cpu", "double", full, 20000, 10),
            "one_double": _nanoseconds(1, "cpu", "double", full, 20000, 10),
            "one_single": _nanoseconds(1, "cpu", "single", full, 20000, 10),
        },
    }
    print(json.dumps(figures, indent=2))


if __name__ == "__main__":
    main()
