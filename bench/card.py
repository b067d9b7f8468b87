"""What a graphics card makes of the string: speed and agreement with the CPU, as JSON on standard output.

``python -m bench.card`` on a machine with a card; the figures kept are in ``bench/card.json``, what they mean
in ``docs/card.md``. A survey of a violin's D string, 100 periods a stroke, everything in the model.
"""

from __future__ import annotations

import json
import math
import os
import sys
import time
from typing import Any

import numpy as np

from bench.operations import operations_a_step
from colophony.physics.bowings import Answers, Bowings
from colophony.physics.gestures import steady
from colophony.physics.regimes.rules import STATES
from colophony.physics.simulation import simulate_many
from colophony.physics.survey import READ_PERIODS, survey

_PERIODS = 100
_SAMPLES = 200
_STEPS = _PERIODS * _SAMPLES
_COUNTS = (100, 1000, 6000, 32768, 59136, 200_000, 1_000_000)
_DISTANCES = 48
#: Single-precision multiply-adds that a multiprocessor of compute capability 9.0 ends in a cycle (CUDA C++
#: Programming Guide, arithmetic instructions); two operations each.
_CORES = 128


def _bowings(count: int) -> Bowings:
    """Return so many strokes, no two alike, over distances of 10 to 80 mm and weights of 0.05 to 4 N."""
    distances = np.linspace(0.010, 0.080, _DISTANCES)[np.arange(count) % _DISTANCES]
    return Bowings(0.1, np.geomspace(0.05, 4.0, count), distances, 0.0, 1.0)


def _ask(bowings: Bowings, target: Any) -> Answers:
    return survey("violin", "D", bowings, periods=_PERIODS, samples_per_period=_SAMPLES, target=target)


def _seconds(count: int, repeats: int) -> list[float]:
    bowings, times = _bowings(count), []
    for _ in range(repeats):
        began = time.perf_counter()
        _ask(bowings, "cuda")
        times.append(time.perf_counter() - began)
    return times


def _memory(count: int) -> int:
    """Return how much of the card's memory a survey asks for, in MB, but for what is sent to it."""
    from numba import cuda

    asked, make = [], cuda.device_array

    def counted(*args: Any, **options: Any) -> Any:
        array = make(*args, **options)
        asked.append(array.alloc_size)
        return array

    cuda.device_array = counted
    try:
        _ask(_bowings(count), "cuda")
    finally:
        cuda.device_array = make
    return round(sum(asked) / 1e6)


def _speed(count: int, card: Any, operations: int) -> dict[str, Any]:
    """Time a survey, all in; shares of what the card can do, by its highest clock."""
    times = _seconds(count, 2 if count > 100_000 else 5)
    seconds = min(times)
    peak = card.MULTIPROCESSOR_COUNT * _CORES * 2 * card.CLOCK_RATE * 1e3
    width = card.GLOBAL_MEMORY_BUS_WIDTH / 8 * card.MEMORY_CLOCK_RATE * 1e3 * 2
    # What has to pass the card's memory: the kept motion, written once and read once.
    moved = count * READ_PERIODS * _SAMPLES * 2 * 4 * 2
    return {
        "seconds": round(seconds, 4),
        "seconds_of_each_run": [round(t, 4) for t in times],
        "strokes_a_second": round(count / seconds),
        "microseconds_a_stroke": round(1e6 * seconds / count, 3),
        "ns_a_step_and_stroke": round(1e9 * seconds / count / _STEPS, 5),
        "share_of_arithmetic_peak": round(count * _STEPS * operations / seconds / peak, 4),
        "share_of_memory_bandwidth": round(moved / seconds / width, 4),
        "memory_mb": _memory(count),
    }


def _agreement() -> dict[str, Any]:
    """Compare the maps that card and CPU make: states, and where they differ."""
    rows, columns = 40, 100
    distances, weights = np.linspace(0.008, 0.158, rows), np.geomspace(0.05, 4.0, columns)
    grid = np.meshgrid(distances, weights, indexing="ij")
    bowings = Bowings(0.1, grid[1].ravel(), grid[0].ravel(), 0.0, 1.0)
    card, host = (_ask(bowings, target) for target in ("cuda", "cpu"))
    there, here = (answers.state.reshape(rows, columns) for answers in (card, host))
    edge = np.zeros(here.shape, bool)
    for axis in (0, 1):
        turns = np.diff(here, axis=axis) != 0
        edge[tuple(slice(1, None) if a == axis else slice(None) for a in (0, 1))] |= turns
        edge[tuple(slice(0, -1) if a == axis else slice(None) for a in (0, 1))] |= turns
    other = there != here
    clear = (here == STATES.index("helmholtz")) & ~other
    cents = np.abs(card.cents - host.cents).reshape(rows, columns)[clear]
    return {
        "strokes": int(here.size),
        "same_state": float(np.mean(~other)),
        "differ": int(other.sum()),
        "differ_beside_another_state": int((other & edge).sum()),
        "cells_beside_another_state": int(edge.sum()),
        "cpu_counts": {name: int((here == i).sum()) for i, name in enumerate(STATES)},
        "card_counts": {name: int((there == i).sum()) for i, name in enumerate(STATES)},
        "cents_median_difference_in_clear_tone": float(np.median(cents)),
    }


def _early() -> float:
    """Return how far card and CPU are apart in the first 5 periods of 64 strokes, double precision, m/s."""
    strokes = [steady(0.1, float(weight), 0.0325) for weight in np.geomspace(0.05, 4.0, 64)]
    card, host = (
        simulate_many("violin", "G", strokes, seconds=5 / 196.0, samples_per_period=256, target=target)
        for target in ("cuda", "cpu")
    )
    return float(
        np.median([np.abs(a.velocity_m_s - b.velocity_m_s).max() for a, b in zip(card, host, strict=True)])
    )


def main() -> None:
    """Measure and print."""
    from numba import cuda

    card = cuda.get_current_device()
    name = card.name.decode() if isinstance(card.name, bytes) else str(card.name)
    operations = operations_a_step()
    a_step = sum(operations.values())
    figures: dict[str, Any] = {
        "card": name,
        "multiprocessors": card.MULTIPROCESSOR_COUNT,
        "highest_clock_mhz": card.CLOCK_RATE / 1e3,
        "cores_of_the_host": os.cpu_count(),
        "first_survey_with_compiling_s": round(_seconds(100, 1)[0], 2),
        "operations_a_step": operations,
        "strokes": {},
    }
    for count in _COUNTS:
        figures["strokes"][str(count)] = _speed(count, card, a_step)
        print(count, figures["strokes"][str(count)], file=sys.stderr, flush=True)
    figures["agreement"] = _agreement()
    figures["first_5_periods_median_difference_m_s"] = _early()
    assert math.isfinite(figures["first_5_periods_median_difference_m_s"])
    print(json.dumps(figures, indent=2))


if __name__ == "__main__":
    main()
