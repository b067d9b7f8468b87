"""One formula, run in many ways: plain Python, compiled, in lanes, in single precision, on a card.

Where rounding is all that differs, samples are compared; where motion is on the edge of chaos (J. Woodhouse,
Euphonics 9.9), what grows from rounding is not, and the kind of motion is: the share of a row of strokes that
two ways call the same.
"""

from __future__ import annotations

import os
import subprocess
import sys
from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from colophony.errors import InputError
from colophony.physics.friction import LAWS
from colophony.physics.gestures import Curve, Stroke, steady
from colophony.physics.kernel.state import LANES
from colophony.physics.motion import Motion
from colophony.physics.regimes import read_motion
from colophony.physics.simulation import Model, Precision, simulate, simulate_many

#: Fast enough that something slips within a few hundred steps.
QUICK = steady(0.3, 0.5, 0.033, tilt_deg=10.0, ramp_s=0.002)
SHORT = {"samples_per_period": 60, "seconds": 150 / 659.26 / 60}
SIGNALS = ("velocity_m_s", "bridge_force_n", "sound")

every_law = pytest.mark.parametrize("law", LAWS)


def model(law: str) -> Model:
    return Model(friction=LAWS[law]())


def difference(a: Motion, b: Motion) -> float:
    """The largest difference of any output, as a share of that output's largest value."""
    off = []
    for name in SIGNALS:
        one, other = (np.asarray(getattr(motion, name), float) for motion in (a, b))
        assert one.shape == other.shape
        off.append(float(np.abs(one - other).max() / np.abs(other).max()))
    return max(off)


def rms_difference(a: Motion, b: Motion, periods: int) -> float:
    """Rms difference of the bridge force over the first periods."""
    count = periods * b.samples_per_period
    one, other = (np.asarray(motion.bridge_force_n[:count], float) for motion in (a, b))
    return float(np.sqrt(np.mean((one - other) ** 2) / np.mean(other**2)))


@every_law
def test_plain_python_and_compiled_code_say_the_same(law: str) -> None:
    """150 steps with all on: 1e-10 of the largest value, rounding in another order."""
    plain = simulate("violin", "E", QUICK, model=model(law), target="python", **SHORT)  # type: ignore[arg-type]
    compiled = simulate("violin", "E", QUICK, model=model(law), **SHORT)  # type: ignore[arg-type]
    assert compiled.slipping.any()
    assert difference(plain, compiled) < 1e-10
    assert np.array_equal(plain.slipping, compiled.slipping)


@every_law
def test_plain_python_says_the_same_whatever_is_left_out(law: str) -> None:
    for off in ("compliant_hair", "torsion", "stiffness", "body"):
        less = replace(model(law), points=2, **{off: False})
        plain = simulate("violin", "E", QUICK, model=less, target="python", **SHORT)  # type: ignore[arg-type]
        compiled = simulate("violin", "E", QUICK, model=less, **SHORT)  # type: ignore[arg-type]
        for name in ("velocity_m_s", "bridge_force_n"):
            one, other = getattr(plain, name), getattr(compiled, name)
            assert np.abs(one - other).max() < 1e-10 * np.abs(other).max()


@every_law
def test_single_precision_follows_double_for_as_long_as_it_can(law: str) -> None:
    """150 steps: 1e-3 of the largest value (24 bits are 6e-8 a step; the hyperbola's jumps enlarge it)."""
    single = simulate("violin", "E", QUICK, model=model(law), precision="single", **SHORT)  # type: ignore[arg-type]
    double = simulate("violin", "E", QUICK, model=model(law), **SHORT)  # type: ignore[arg-type]
    assert single.velocity_m_s.dtype == np.float32
    assert double.velocity_m_s.dtype == np.float64
    assert difference(single, double) < 1e-3


def test_single_precision_plays_the_same_tone() -> None:
    """Thermal law, 88 periods of Helmholtz motion: 1e-3 rms throughout, pitch within 0.01 cent."""
    bow = steady(0.15, 0.4, 0.03)
    single, double = (simulate("violin", "D", bow, seconds=0.3, precision=p) for p in ("single", "double"))
    assert rms_difference(single, double, 88) < 1e-3
    one, other = read_motion(single), read_motion(double)
    assert one.state == other.state == "helmholtz"
    assert one.cents_from_free_string == pytest.approx(other.cents_from_free_string, abs=0.01)


@every_law
def test_a_lane_is_a_run_by_itself(law: str) -> None:
    """Five periods in double precision, every lane with a weight of its own: 1e-9 rms. With the hyperbola a
    hair may let go a sample sooner or later for rounding alone: 1e-2.
    """
    bows = [steady(0.15, weight, 0.03) for weight in np.geomspace(0.05, 2.0, LANES)]
    side_by_side = simulate_many("violin", "D", bows, seconds=0.02, model=model(law), precision="double")
    for bow, lane in list(zip(bows, side_by_side, strict=True))[::7]:
        alone = simulate("violin", "D", bow, seconds=0.02, model=model(law))
        assert rms_difference(lane, alone, 5) < (1e-2 if law == "mcintyre_1979" else 1e-9)
        assert np.array_equal(lane.weight_n, alone.weight_n)
        assert lane.beta == alone.beta


def test_lanes_know_nothing_of_one_another() -> None:
    """The same stroke in all lanes and in two blocks gives the same numbers; among other strokes too."""
    bow = steady(0.15, 0.4, 0.03)
    others = [steady(0.3, weight, 0.03) for weight in np.geomspace(0.05, 5.0, LANES - 1)]
    alike = simulate_many("violin", "D", [bow] * (LANES + 1), seconds=0.02)
    among = simulate_many("violin", "D", [*others, bow], seconds=0.02)[-1]
    assert len(alike) == LANES + 1
    for lane in (*alike, among):
        assert np.array_equal(lane.bridge_force_n, alike[0].bridge_force_n)


@pytest.mark.parametrize("count", [1, 7, 8, 31, 32, 33])
def test_any_number_of_strokes_is_played_in_its_order(count: int) -> None:
    bows = [steady(0.1 + 0.01 * i, 0.4, 0.03) for i in range(count)]
    motions = simulate_many("violin", "A", bows, seconds=0.03, keep_periods=2.0)
    assert [float(motion.bow_speed_m_s[-1]) for motion in motions] == pytest.approx(
        [0.1 + 0.01 * i for i in range(count)]
    )
    assert {len(motion.velocity_m_s) for motion in motions} == {2 * motions[0].samples_per_period}


def test_the_kept_end_of_a_run_is_the_end_of_the_whole_run() -> None:
    bow = steady(0.15, 0.4, 0.03)
    whole = simulate_many("violin", "D", [bow] * 8, seconds=0.1)[0]
    end = simulate_many("violin", "D", [bow] * 8, seconds=0.1, keep_periods=5)[0]
    count = 5 * whole.samples_per_period
    assert np.array_equal(end.bridge_force_n, whole.bridge_force_n[-count:])
    assert end.start_s == pytest.approx(whole.times_s[-count])
    assert np.array_equal(end.bow_speed_m_s, whole.bow_speed_m_s[-count:])


def test_a_longer_run_begins_as_a_shorter_one() -> None:
    """Also under a bow and a finger that change (segments end elsewhere)."""
    bow = Stroke(Curve((0.0, 0.05, 0.2), (0.0, 0.3, 0.1)), Curve((0.0, 0.2), (0.2, 0.8)), 0.03)
    short, long = (simulate("violin", "D", bow, seconds=seconds) for seconds in (0.1, 0.2))
    count = len(short.velocity_m_s)
    assert long.bridge_force_n[:count] == pytest.approx(short.bridge_force_n, abs=1e-3)
    assert np.sqrt(np.mean((long.bridge_force_n[:count] - short.bridge_force_n) ** 2)) < 1e-4


@cache
def playable(law: str, way: str) -> tuple[bool, ...]:
    """Helmholtz motion or not, for 48 weights from far too light to far too heavy."""
    bows = [steady(0.1, weight, 0.0325) for weight in np.geomspace(0.03, 3.0, 48)]
    options = {"model": model(law), "seconds": 0.3, "samples_per_period": 200}
    precision: Precision = "single" if way.endswith("single") else "double"
    if way.startswith("lanes"):
        motions = simulate_many("violin", "D", bows, precision=precision, **options)  # type: ignore[arg-type]
    else:
        motions = [simulate("violin", "D", bow, precision=precision, **options) for bow in bows]  # type: ignore[arg-type]
    return tuple(read_motion(motion).state == "helmholtz" for motion in motions)


@pytest.mark.parametrize("way", ["single", "lanes, double", "lanes, single"])
@pytest.mark.parametrize(("law", "share"), [("van_walstijn_2026", 0.97), ("mcintyre_1979", 0.85)])
def test_every_way_finds_the_same_playable_weights(law: str, share: float, way: str) -> None:
    """Region, not sample: 97 % of the strokes with the thermal law. With the hyperbola, whose regions are
    ragged (Woodhouse, Euphonics 9.9), 85 %.
    """
    reference, found = playable(law, "double"), playable(law, way)
    assert 5 < sum(reference) < 43
    assert np.mean(np.array(reference) == np.array(found)) >= share


CARD = """
import numpy as np
from colophony.physics.gestures import steady
from colophony.physics.simulation import Model, simulate, simulate_many
from colophony.physics.friction import LAWS
bows = [steady(0.3, weight, 0.033, tilt_deg=10.0, ramp_s=0.002) for weight in (0.2, 1.0)]
for law in LAWS.values():
    options = dict(model=Model(friction=law()), samples_per_period=60, seconds=40 / 659.26 / 60)
    card = simulate_many("violin", "E", bows, target="cuda", precision="double", **options)
    for bow, one in zip(bows, card, strict=True):
        other = simulate("violin", "E", bow, **options)
        for name in ("velocity_m_s", "bridge_force_n", "sound"):
            a, b = getattr(one, name), getattr(other, name)
            assert np.abs(b).max() > 0
            assert np.abs(a - b).max() < 1e-10 * np.abs(b).max(), name
print("same")
"""


def test_a_simulated_card_says_the_same() -> None:
    """numba's CUDA simulator runs the kernel's threads in Python: the indexing is right, 1e-10."""
    done = subprocess.run(
        [sys.executable, "-W", "error", "-c", CARD],
        env={**os.environ, "NUMBA_ENABLE_CUDASIM": "1"},
        capture_output=True,
        text=True,
        timeout=120,
        check=False,
    )
    assert done.stdout.strip() == "same", done.stderr


def test_a_card_says_the_same_and_where_there_is_none_it_is_refused() -> None:
    from numba import cuda

    if cuda.is_available():
        card = simulate("violin", "E", QUICK, target="cuda", **SHORT)  # type: ignore[arg-type]
        assert difference(card, simulate("violin", "E", QUICK, **SHORT)) < 1e-9  # type: ignore[arg-type]
    else:
        with pytest.raises(InputError, match=r"no CUDA card here, .* use the target cpu"):
            simulate("violin", "E", QUICK, target="cuda", **SHORT)  # type: ignore[arg-type]
