"""Many runs read at once against the same runs read one by one, on a processor and on a simulated card."""

from __future__ import annotations

import os
import subprocess
import sys
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import pytest
from constructed import train

from colophony.physics.gestures import accelerate, steady
from colophony.physics.instruments import find_instrument
from colophony.physics.motion import Motion
from colophony.physics.regimes import STATES, Start, read_motion, read_start
from colophony.physics.regimes.block import (
    CENTS,
    CORRELATION,
    FIGURES,
    FIRST_SLIP_S,
    SETTLING_PERIODS,
    SLIP_FRACTION,
    SLIPS_PER_PERIOD,
    START_FIGURES,
    STEP_RATIO,
    block_of,
    read_block,
    space_for,
    start_block,
    tell_block,
)
from colophony.physics.regimes.rules import START_KINDS, rules
from colophony.physics.regimes.start import ROWS
from colophony.physics.simulation import simulate_many

LATE = 1_000_000  #: number of a first sample by which every bow has its speed


@dataclass(frozen=True)
class Answers:
    """What a block says of each lane."""

    states: list[str]
    figures: Any  #: [`FIGURES`, lanes]


def read(motions: Sequence[Motion], real: Any = np.float32, *, first: int = LATE, rise: Any = 1.0) -> Answers:
    """Read motions that share a string and a contact distance as one block."""
    one, lanes = motions[0], len(motions)
    velocity, force = (
        np.array([getattr(motion, name) for motion in motions], real).T.copy()
        for name in ("velocity_m_s", "bridge_force_n")
    )
    kept = velocity.copy()
    states, figures = np.full(lanes, -1, np.int8), np.empty((FIGURES, lanes), real)
    read_block(
        velocity,
        force,
        first,
        np.full(lanes, rise, real),
        np.array([motion.bow_speed_m_s[-1] for motion in motions], real),
        np.array([motion.weight_n[-1] for motion in motions], real),
        shared(one, real),
        space_for(len(velocity), one.samples_per_period, real),
        rules(real),
        states,
        figures,
    )
    assert np.array_equal(velocity, kept)
    return Answers([STATES[state] for state in states], figures)


def shared(motion: Motion, real: Any) -> Any:
    return block_of(
        samples_per_period=motion.samples_per_period,
        frequency_hz=motion.frequency_hz,
        beta=motion.beta,
        impedance_kg_s=motion.impedance_kg_s,
        real=real,
    )


def ideal_step(motion: Motion) -> float:
    return 2 * motion.impedance_kg_s * float(np.mean(np.abs(motion.bow_speed_m_s))) / motion.beta


def assert_alike(motions: Sequence[Motion], seen: Answers, *, rel: float) -> None:
    """All that a block tells of runs is what `read_motion` tells of each."""
    for lane, motion in enumerate(motions):
        reading, figures = read_motion(motion), seen.figures[:, lane]
        assert seen.states[lane] == reading.state
        assert figures[SLIPS_PER_PERIOD] == pytest.approx(reading.slips_per_period, rel=rel)
        assert figures[SLIP_FRACTION] == pytest.approx(reading.slip_fraction, rel=10 * rel, abs=rel)
        assert figures[STEP_RATIO] * ideal_step(motion) == pytest.approx(
            reading.bridge_force_peak_to_peak_n, rel=rel, abs=rel
        )
        # Where nothing repeats, lags tie to the last digit, and what lies between their points differs.
        tie = 1e-3 if reading.correlation < 0.0 else 0.0
        assert figures[CORRELATION] == pytest.approx(reading.correlation, abs=10 * rel + tie)
        if reading.cents_from_free_string is None:
            assert np.isnan(figures[CENTS])
        else:
            assert figures[CENTS] == pytest.approx(reading.cents_from_free_string, abs=3000 * rel)


# --- the end of a run

PATTERNS: dict[str, list[float]] = {
    "helmholtz": [1.0],
    "multiple-slip": [0.4, 0.6],
    "low-anomalous": [2.0],
    "raucous": [1.71, 0.63, 1.17, 0.82, 1.54, 0.74, 1.93, 0.67, 1.33, 1.08, 1.79],
}


@pytest.mark.parametrize(("real", "rel"), [(np.float64, 1e-12), (np.float32, 2e-6)])
def test_a_block_tells_every_state_apart(real: Any, rel: float) -> None:
    """Motions of known state side by side (see `test_regimes`): slips once, twice, every second time, without
    a rhythm, too short; and a string that is carried along.
    """
    motions = [
        train(intervals * round(30 / sum(intervals)), [0.1] * (len(intervals) * round(30 / sum(intervals))))
        for intervals in PATTERNS.values()
    ]
    motions += [train([1.0] * 30, [0.05] * 30), train([40.0], [0.1])]
    ends = [motion.last(16) for motion in motions]
    seen = read(ends, real)
    assert seen.states == [*PATTERNS, "s-motion", "noise"]
    assert_alike(ends, seen, rel=rel)


@pytest.mark.parametrize("lanes", [1, 15, 16, 17, 40])
def test_any_number_of_lanes_is_read_in_its_order(lanes: int) -> None:
    kinds = [PATTERNS[name] for name in ("helmholtz", "multiple-slip", "low-anomalous")]
    each = [train(k * round(20 / sum(k)), [0.1] * (len(k) * round(20 / sum(k)))).last(16) for k in kinds]
    seen = read([each[lane * lane % 3] for lane in range(lanes)])
    names = ("helmholtz", "multiple-slip", "low-anomalous")
    assert seen.states == [names[lane * lane % 3] for lane in range(lanes)]


def test_a_map_in_single_precision_is_that_of_its_motions() -> None:
    """384 strokes of the engine from far too light to far too heavy, on three strings: states as
    `read_motion` reads them in double precision in 99.5 % or more (our own figure; all when it was written).
    """
    weights = np.geomspace(0.03, 8.0, 32).tolist()
    alike, states = [], set()
    for name, letter, samples in (("violin", "D", 200), ("viola", "A", 256), ("cello", "C", 400)):
        instrument = find_instrument(name)
        string = instrument.string(letter)
        for beta, speed in ((0.05, 0.1), (0.08, 0.3), (0.11, 0.15), (0.16, 0.1)):
            motions = simulate_many(
                instrument, string,
                [steady(speed, w, beta * string.sounding_length_m) for w in weights],
                seconds=60 / string.open_frequency_hz, samples_per_period=samples, keep_periods=16,
            )  # fmt: skip
            seen = read(motions)
            readings = [read_motion(motion) for motion in motions]
            alike += [r.state == state for r, state in zip(readings, seen.states, strict=True)]
            states |= set(seen.states)
            for lane, r in enumerate(readings):
                if r.state == seen.states[lane] and r.cents_from_free_string is not None:
                    assert seen.figures[CENTS, lane] == pytest.approx(r.cents_from_free_string, abs=0.02)
    assert np.mean(alike) >= 0.995
    assert len(states) >= 4


def test_a_bow_that_still_gains_speed_is_read_at_the_speed_it_has() -> None:
    """The window lies in the ramp, across its end, or after it: figures as from the motion's own speeds."""
    motions = simulate_many(
        "violin", "D", [steady(0.2, float(w), 0.03, ramp_s=0.12) for w in np.geomspace(0.1, 1.5, 8)],
        seconds=0.2, samples_per_period=200,
    )  # fmt: skip
    rate, count = motions[0].rate_hz, 16 * 200
    for last in (round(0.11 * rate), round(0.14 * rate), len(motions[0].velocity_m_s)):
        parts = [cut(motion, last - count, last) for motion in motions]
        seen = read(parts, first=last - count, rise=0.2 / (0.12 * rate))
        for lane, part in enumerate(parts):
            reading = read_motion(part)
            assert seen.states[lane] == reading.state
            assert seen.figures[STEP_RATIO, lane] * ideal_step(part) == pytest.approx(
                reading.bridge_force_peak_to_peak_n, rel=1e-5
            )


def cut(motion: Motion, first: int, after: int) -> Motion:
    names = ("bow_speed_m_s", "weight_n", "velocity_m_s", "slipping", "bridge_force_n", "sound")
    return replace(motion, **{name: getattr(motion, name)[first:after] for name in names})


def test_without_weight_nothing_is_bowed() -> None:
    motion = train([1.0] * 20, [0.1] * 20).last(16)
    off = replace(motion, weight_n=np.zeros_like(motion.weight_n))
    assert read([motion, off]).states == ["helmholtz", "noise"]


# --- the start of a run


def starts(motions: Sequence[Motion], rise: Any, speed: Any, pieces: Sequence[int]) -> list[Start]:
    """Read the starts of motions as one block, in pieces of these lengths over and over."""
    real, one, lanes, total = np.float32, motions[0], len(motions), len(motions[0].velocity_m_s)
    velocity = np.array([motion.velocity_m_s for motion in motions], real).T.copy()
    memory, n, block = np.zeros((ROWS, lanes), real), rules(real), shared(one, real)
    space = space_for(500, one.samples_per_period, real)
    rise, speed = np.array(rise, real), np.array(speed, real)
    first = k = 0
    while first < total:
        count = min(pieces[k % len(pieces)], total - first)
        start_block(velocity[first : first + count], first, total, rise, speed, block, space, memory, n)
        first, k = first + count, k + 1
    kinds, figures = np.full(lanes, -1, np.int8), np.empty((START_FIGURES, lanes), real)
    tell_block(total, block, memory, n, kinds, figures)

    def number(value: float) -> float | None:
        return None if np.isnan(value) else float(value)

    return [
        Start(number(first_s), None, number(settling), START_KINDS[kind], None)
        for kind, first_s, settling in zip(
            kinds, figures[FIRST_SLIP_S], figures[SETTLING_PERIODS], strict=True
        )
    ]


@pytest.mark.parametrize("pieces", [(1, 77, 1000, 3), (640,)])
def test_a_start_read_as_it_comes_is_the_start_of_the_whole(pieces: tuple[int, ...]) -> None:
    """96 starts of the engine at constant acceleration, from creaking to slipping, in pieces of any length:
    kind, settling and first slip as `read_start` finds them in the whole motion.
    """
    kinds = set()
    for beta, weight in ((1 / 11, 0.6), (1 / 11, 2.0), (0.06, 0.6)):
        string = find_instrument("violin").string("G")
        accelerations = np.geomspace(0.2, 8.0, 32) * weight
        motions = simulate_many(
            "violin", string,
            [
                accelerate(a, weight, beta * string.sounding_length_m, seconds=0.23)
                for a in accelerations.tolist()
            ],
            seconds=45 / string.open_frequency_hz, samples_per_period=200,
        )  # fmt: skip
        seen = starts(motions, accelerations / motions[0].rate_hz, [np.inf] * 32, pieces)
        for motion, told in zip(motions, seen, strict=True):
            whole = read_start(motion)
            kinds.add(told.kind)
            assert told.kind == whole.kind
            assert (told.first_slip_s is None) == (whole.first_slip_s is None)
            assert (told.settling_periods is None) == (whole.settling_periods is None)
            if told.first_slip_s is not None:
                assert told.first_slip_s == pytest.approx(whole.first_slip_s, abs=1e-6)
            if told.settling_periods is not None:
                assert told.settling_periods == pytest.approx(whole.settling_periods, abs=1e-3)
    assert kinds >= {"clean", "creaking", "slipping"}


# --- a card

CARD = """
import sys
import numpy as np
sys.path.insert(0, "tests/physics")
from constructed import train
from numba import cuda
from colophony.physics.regimes import read_motion, read_start
from colophony.physics.regimes import block as b, cuda as card
from colophony.physics.regimes.rules import STATES, START_KINDS, rules
from colophony.physics.regimes.start import ROWS
patterns = [[1.0], [0.4, 0.6], [2.0], [1.7, 0.6, 1.2]]
motions = [train(p * round(9 / sum(p)), [0.1] * (len(p) * round(9 / sum(p))), K=48) for p in patterns]
total = min(len(m.velocity_m_s) for m in motions)
lanes, K, n = len(motions), 48, rules()
velocity, force = (np.array([getattr(m, name)[:total] for m in motions]).T.copy()
                   for name in ("velocity_m_s", "bridge_force_n"))
one = motions[0]
block = b.block_of(samples_per_period=K, frequency_hz=one.frequency_hz, beta=one.beta,
                   impedance_kg_s=one.impedance_kg_s, real=np.float64)
speed = np.full(lanes, float(one.bow_speed_m_s[-1]))
bow = (np.full(lanes, 1.0), speed)
here, there = ((np.zeros(lanes, np.int8), np.zeros((b.FIGURES, lanes))) for _ in range(2))
weight = np.ones(lanes)
b.read_block(velocity, force, 10_000, *bow, weight, block, b.space_for(total, K, np.float64), n, *here)
tops = np.zeros((total // K, lanes))
card.read_lane[1, 8](lanes, (velocity.copy(), force.copy(), tops, 10_000, *bow, weight, block, n, *there))
assert [STATES[s] for s in here[0]][:3] == ["helmholtz", "multiple-slip", "low-anomalous"], here[0]
assert np.array_equal(here[0], there[0])
assert np.allclose(here[1], there[1], rtol=1e-12, atol=1e-12, equal_nan=True)
memories = [np.zeros((ROWS, lanes)) for _ in range(2)]
here, there = ((np.zeros(lanes, np.int8), np.zeros((b.START_FIGURES, lanes))) for _ in range(2))
for first in (0, 100):
    piece = velocity[first : 100 if first == 0 else total].copy()
    b.start_block(piece, first, total, *bow, block, b.space_for(50, K, np.float64), memories[0], n)
    card.start_lane[1, 8](lanes, (piece, first, total, *bow, block, memories[1], n))
b.tell_block(total, block, memories[0], n, *here)
card.tell_lane[1, 8](lanes, (total, block, memories[1], n, *there))
assert [START_KINDS[k] for k in here[0]] == ["clean", "slipping", "creaking", "creaking"], here[0]
assert np.array_equal(here[0], there[0])
assert np.allclose(here[1], there[1], rtol=1e-12, equal_nan=True)
print("same")
"""


def test_a_simulated_card_reads_the_same() -> None:
    """numba's CUDA simulator runs the loops' threads in Python on columns of [n, lanes]: 1e-12."""
    done = subprocess.run(
        [sys.executable, "-W", "error", "-c", CARD],
        env={**os.environ, "NUMBA_ENABLE_CUDASIM": "1"},
        capture_output=True,
        text=True,
        timeout=200,
        check=False,
    )
    assert done.stdout.strip() == "same", done.stderr
