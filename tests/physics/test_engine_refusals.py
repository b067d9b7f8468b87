"""What `simulate` refuses: one line with the value, the limit and what to do."""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Any

import numpy as np
import pytest

from colophony.errors import InputError
from colophony.physics.friction import McIntyre1979, Smith2000, VanWalstijn2026
from colophony.physics.gestures import Curve, Stroke, steady
from colophony.physics.simulation import Model, simulate, simulate_many

BOW = steady(0.2, 0.5, 0.03)


def violin(string: str = "D", bow: Stroke = BOW, **options: Any) -> Any:
    return simulate("violin", string, bow, **{"seconds": 0.02, **options})


REFUSALS: dict[str, tuple[Callable[[], Any], str]] = {
    "unknown instrument": (lambda: simulate("lute", "D", BOW), "'lute' is no instrument: choose one of"),
    "unknown string": (lambda: violin("C"), "'C' is no string of a violin: choose one of G, D, A, E"),
    "two notes": (lambda: violin(note="E4", frequency_hz=330.0), "by name and in Hz: give one of them"),
    "too low": (lambda: violin(frequency_hz=200.0), "200.0 Hz cannot be played on the D string: choose"),
    "too high": (lambda: violin(frequency_hz=3000.0), r"3000.0 Hz cannot be played .* to 2349 Hz"),
    "too high by name": (lambda: violin(note="C9"), "cannot be played on the D string"),
    "no note": (lambda: violin(note="H5"), "'H5' is no note name: write a letter"),
    "note in a curve": (
        lambda: violin(frequency_hz=Curve((0.0, 1.0), (300.0, 100.0))), "100.0 Hz cannot be played"),
    "note nan": (lambda: violin(frequency_hz=math.nan), "nan|no finite number"),
    "no time": (lambda: violin(seconds=0.0), "0 s of bowing is out of range: choose above 0, to 120 s"),
    "negative time": (lambda: violin(seconds=-1.0), "-1 s of bowing is out of range"),
    "endless": (lambda: violin(seconds=1e6), "out of range: choose above 0, to 120 s"),
    "time nan": (lambda: violin(seconds=math.nan), "out of range"),
    "too few samples": (lambda: violin(samples_per_period=10), "10 samples a period are out of range"),
    "no samples": (lambda: violin(samples_per_period=0), "0 samples a period are out of range"),
    "too many samples": (lambda: violin(samples_per_period=10**6), "out of range: choose 40 to 20000"),
    "negative frames": (lambda: violin(frames=-1), "-1 shapes are out of range: choose 0 to 1000"),
    "too many frames": (lambda: violin(frames=2000), "2000 shapes are out of range"),
    "bow beyond the finger": (
        lambda: violin(bow=steady(0.2, 0.5, 0.2), note="D5"),
        "the bow lies 200 mm from the bridge, but this note leaves only 16[23] mm of string: bow nearer"),
    "all hair on the bridge": (
        lambda: violin(bow=steady(0.2, 0.5, 0.0005), model=Model(points=1)), "on the bridge: bow farther"),
    "no hair": (lambda: Model(points=0), "0 hair points are out of range: choose 1 to 16"),
    "too much hair": (lambda: Model(points=17), "17 hair points are out of range: choose 1 to 16"),
    "no loss": (lambda: Model(loss=0.0), "a loss factor of 0 is out of range"),
    "negative loss": (lambda: Model(loss=-1.0), "a loss factor of -1 is out of range"),
    "loss nan": (lambda: Model(loss=math.nan), "a loss factor of nan is out of range"),
    "unknown target": (lambda: violin(target="tpu"), "'tpu' is no target: choose one of cpu"),
    "unknown precision": (lambda: violin(precision="half"), "'half' is no precision: choose one of double"),
    "rosin without grip": (lambda: violin(model=Model(friction=McIntyre1979(mu_s=-1.0))), "mu_s|coefficient"),
    "rosin weaker at rest": (
        lambda: violin(model=Model(friction=VanWalstijn2026(mu_s=0.2, mu_d=0.5))), "mu_s|coefficient"),
    "rosin without speed": (lambda: violin(model=Model(friction=Smith2000(steep_speed_m_s=0.0))), "speed"),
}  # fmt: skip


@pytest.mark.parametrize(("ask", "answer"), REFUSALS.values(), ids=REFUSALS)
def test_what_cannot_be_played_is_refused_in_one_line(ask: Callable[[], Any], answer: str) -> None:
    with pytest.raises(InputError, match=answer) as refused:
        ask()
    assert "\n" not in str(refused.value)


def test_hair_that_would_lie_on_the_bridge_is_told_and_the_rest_plays() -> None:
    """A ribbon of 10 mm whose middle is 4 mm from the bridge."""
    motion = violin(bow=steady(0.1, 0.5, 0.004))
    assert any("the hair would lie on the bridge" in warning for warning in motion.warnings)
    assert np.all(np.isfinite(motion.bridge_force_n))
    assert violin().warnings == ()


def test_many_strokes_are_refused_as_one_is() -> None:
    with pytest.raises(InputError, match="out of range"):
        simulate_many("violin", "D", [BOW] * 3, seconds=-1.0)
    with pytest.raises(InputError, match="cannot be played"):
        simulate_many("violin", "D", [BOW] * 40, frequency_hz=100.0)


def test_no_strokes_give_no_motions() -> None:
    assert simulate_many("violin", "D", [], seconds=0.02) == []


def test_strokes_side_by_side_at_different_places_are_refused() -> None:
    """Distance and tilt are those of the first stroke: another one must not be dropped in silence."""
    with pytest.raises(InputError, match="distance"):
        simulate_many("violin", "D", [steady(0.2, 0.5, 0.03), steady(0.2, 0.5, 0.05)], seconds=0.02)
