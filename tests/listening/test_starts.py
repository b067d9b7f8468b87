"""How strokes begin, against starts whose transients were built in, and against simulated ones.

K. Guettler & A. Askenfelt, "Acceptance limits for the duration of pre-Helmholtz transients in bowed string
attacks", *JASA* 101, 2903-2913 (1997), on the violin's open G (196 Hz): prolonged periods up to 50 ms
(10 periods), slipping up to 90 ms (18 periods).
"""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest

from colophony.listening.take import Onset
from hearing import RATE, heard
from signals import clean_start, creaking_start, slipping_start

PITCHES_HZ = (98.0, 146.83, 196.0, 293.66, 440.0, 659.26)
SEEDS = range(3)
CREAKING_PERIODS, SLIPPING_PERIODS = 10, 18


@cache
def start(kind: str, hz: float, periods: int, seed: int) -> Onset:
    """Hear one stroke that starts so, in a room of up to 0.4 s; ``seed`` also draws body and noise."""
    if kind == "clean":
        force = clean_start(hz, 1.2, rate=RATE, seed=seed)
    else:
        make = creaking_start if kind == "creaking" else slipping_start
        force = make(hz, periods / hz + 1.2, rate=RATE, periods=periods, seed=seed)
    number = 87_000 + 100 * PITCHES_HZ.index(hz) + seed
    body = "cello" if hz < 190 else "violin"
    room_s = float(np.random.default_rng(number).choice([0.0, 0.2, 0.4]))
    return heard(force, number, kind=body, room_s=room_s).strokes[0].onset


@pytest.mark.parametrize("seed", SEEDS)
@pytest.mark.parametrize("hz", PITCHES_HZ)
def test_a_start_with_one_slip_a_period_from_the_first_is_clean(hz: float, seed: int) -> None:
    """No transient at all was built in: not slow, and never beyond the limit."""
    onset = start("clean", hz, 0, seed)
    assert onset.grade in ("clean", None)
    assert onset.within_limit is not False


#: One or two of three bodies let these through: below 130 Hz, 15 periods of doubt are 0.1 s.
TAKEN_FOR_CLEAN = {("creaking", 98.0), ("creaking", 659.26), ("slipping", 98.0)}
LONG_STARTS = [
    pytest.param(
        kind, limit, hz,
        marks=[pytest.mark.xfail(reason="taken for clean through some bodies")]
        if (kind, hz) in TAKEN_FOR_CLEAN else [],
    )
    for kind, limit in (("creaking", CREAKING_PERIODS), ("slipping", SLIPPING_PERIODS))
    for hz in PITCHES_HZ
]  # fmt: skip


@pytest.mark.parametrize(("kind", "limit", "hz"), LONG_STARTS)
def test_a_start_of_three_times_the_limit_is_not_called_clean(kind: str, limit: int, hz: float) -> None:
    """Guettler & Askenfelt (1997): three times what their listeners accepted."""
    onsets = [start(kind, hz, 3 * limit, seed) for seed in SEEDS]
    assert "clean" not in [o.grade for o in onsets]


@pytest.mark.parametrize("hz", PITCHES_HZ)
def test_a_start_is_judged_against_the_limit_only_outside_its_uncertainty(hz: float) -> None:
    """The bracket settling +- uncertainty must lie on one side of the published limit, in periods."""
    for kind, periods in (("clean", 0), ("creaking", 30), ("slipping", 54)):
        for seed in SEEDS:
            onset = start(kind, hz, periods, seed)
            if onset.settling_ms is None or onset.uncertainty_ms is None:
                assert onset.within_limit is None
                continue
            limit = CREAKING_PERIODS if onset.kind == "creaking" else SLIPPING_PERIODS
            least, most = ((onset.settling_ms + way * onset.uncertainty_ms) * hz / 1000 for way in (-1, 1))
            expected = True if most < limit else False if least > limit else None
            if min(abs(least - limit), abs(most - limit)) > 0.3:
                assert onset.within_limit is expected
