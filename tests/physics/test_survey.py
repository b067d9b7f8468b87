"""Many strokes at once say what each says alone."""

from __future__ import annotations

import math
import tracemalloc

import numpy as np
import pytest

from colophony.errors import InputError
from colophony.physics.bowings import START_KINDS, Bowings
from colophony.physics.gestures import Curve, Stroke
from colophony.physics.instruments import find_instrument
from colophony.physics.kernel.state import LANES
from colophony.physics.player import Model
from colophony.physics.regimes import STATES, read_motion, read_start
from colophony.physics.simulation import simulate
from colophony.physics.survey import READ_PERIODS, Setting, Strokes, survey

F = 293.66
PERIODS = 40


def bow(speed_m_s: float, weight_n: float, distance_m: float, rise_m_s2: float) -> Stroke:
    """A stroke of a survey as a stroke of its own."""
    end = PERIODS / F
    if math.isinf(speed_m_s) or speed_m_s / rise_m_s2 > end:
        return Stroke(Curve((0.0, end), (0.0, rise_m_s2 * end)), weight_n, distance_m)
    return Stroke(Curve((0.0, speed_m_s / rise_m_s2), (0.0, speed_m_s)), weight_n, distance_m)


@pytest.fixture(scope="module")
def mixed() -> Bowings:
    """Two distances in turn, weights from too little to too much, two speeds."""
    weight = np.geomspace(0.05, 4.0, 48)
    speed = np.where(np.arange(48) % 3 == 0, 0.2, 0.1)
    return Bowings(speed, weight, np.where(np.arange(48) % 2 == 0, 0.02, 0.04), 0.0, speed * F / 5)


def test_a_survey_says_what_single_strokes_say(mixed: Bowings) -> None:
    """The same engine in single precision, read by the same rules: on the edge of chaos a rounding may
    decide: which kind of no tone for one stroke in seven, whether a tone for one in twenty. In the tone the
    figures agree; its start is told alike for six in seven.
    """
    answers = survey("violin", "D", mixed, periods=PERIODS, samples_per_period=200, starts=True)
    same, tone, began = [], [], []
    for i in range(48):
        speed, weight, distance, rise = (
            float(np.broadcast_to(column, 48)[i])
            for column in (mixed.speed_m_s, mixed.weight_n, mixed.distance_m, mixed.acceleration_m_s2)
        )
        motion = simulate(
            "violin", "D", bow(speed, weight, distance, rise), seconds=PERIODS / F, samples_per_period=200
        )
        alone, start = read_motion(motion, periods=READ_PERIODS), read_start(motion)
        assert answers.beta[i] == pytest.approx(motion.beta, rel=1e-6)
        same.append(alone.state == STATES[answers.state[i]])
        tone.append((alone.state == "helmholtz") == (STATES[answers.state[i]] == "helmholtz"))
        if same[-1] and alone.state == "helmholtz":
            assert answers.slip_fraction[i] == pytest.approx(alone.slip_fraction, abs=0.01)
            assert answers.cents[i] == pytest.approx(alone.cents_from_free_string, abs=1.0)
            began.append(START_KINDS[answers.start_kind[i]] == start.kind)
    assert np.mean(same) >= 0.85
    assert np.mean(tone) >= 0.95
    assert np.mean(began) >= 0.85


def test_the_order_of_the_strokes_and_their_company_do_not_matter(mixed: Bowings) -> None:
    turned = Bowings(
        *(
            np.broadcast_to(column, 48)[::-1]
            for column in (
                mixed.speed_m_s,
                mixed.weight_n,
                mixed.distance_m,
                mixed.tilt_deg,
                mixed.acceleration_m_s2,
            )
        )
    )
    one, other = (survey("violin", "D", b, periods=PERIODS, threads=t) for b, t in ((mixed, 1), (turned, 2)))
    assert np.array_equal(one.state, other.state[::-1])
    assert np.array_equal(one.cents, other.cents[::-1], equal_nan=True)


def test_a_trembling_string_is_another_run_and_the_same_one_for_the_same_seed() -> None:
    """A hundredth of the bow's speed changes no tone, but every sample (Woodhouse, Euphonics 9.9: sensitive
    dependence).
    """
    strokes = [Bowings(0.1, np.array([0.4]), 0.03, 0.0, 0.1 * F / 5, seed) for seed in (0, 1, 1, 2)]
    rest, one, again, two = (survey("violin", "D", b, periods=PERIODS) for b in strokes)
    assert one.cents[0] == again.cents[0]
    assert len({float(a.cents[0]) for a in (rest, one, two)}) == 3
    assert {STATES[a.state[0]] for a in (rest, one, two)} == {"helmholtz"}


def test_a_bow_that_never_reaches_its_speed_is_a_start(mixed: Bowings) -> None:
    endless = Bowings(np.inf, np.array([0.5]), 0.036, 0.0, np.array([1.0]))
    told = survey("violin", "D", endless, periods=PERIODS, starts=True)
    late = Bowings(10.0, np.array([0.5]), 0.036, 0.0, np.array([1.0]))
    assert told.first_slip_s[0] == survey("violin", "D", late, periods=PERIODS, starts=True).first_slip_s[0]
    assert told.first_slip_s[0] > 0


def test_progress_counts_every_stroke_once(mixed: Bowings) -> None:
    seen: list[tuple[int, int]] = []
    survey("violin", "D", mixed, periods=20, progress=lambda done, total: seen.append((done, total)))
    assert seen[-1] == (48, 48)
    assert [done for done, _ in seen] == sorted({done for done, _ in seen})


def test_memory_does_not_grow_with_the_strokes() -> None:
    """What is kept of a stroke is a row of figures: the peak of 512 strokes is that of 64 and their rows."""
    peaks = []
    for count in (2 * LANES, 16 * LANES):
        many = Bowings(0.1, np.geomspace(0.05, 4.0, count), 0.03, 0.0, 0.1 * F / 5)
        survey("violin", "D", many, periods=20, threads=1)
        tracemalloc.start()
        survey("violin", "D", many, periods=20, threads=1)
        peaks.append(tracemalloc.get_traced_memory()[1])
        tracemalloc.stop()
    assert peaks[1] - peaks[0] < 14 * LANES * 1000


def test_long_strings_get_samples_enough_that_the_hairs_stay_together() -> None:
    """Hairs have a point each: their spread stays within 1.3 times the ribbon on every open string.
    Starts take twice as many."""
    for name in ("violin", "viola", "cello", "double bass"):
        instrument = find_instrument(name)
        for string in instrument.strings:
            setting = Setting(instrument, string, string.open_frequency_hz, Model(), None, 40, False)
            spacing = string.sounding_length_m / (setting.period / 2)
            assert 3 * spacing <= 1.3 * instrument.ribbon.width_m
            starts = Setting(instrument, string, string.open_frequency_hz, Model(), None, 40, True)
            assert starts.period == 2 * setting.period


@pytest.mark.parametrize(
    ("wrong", "said"),
    [
        ({"bowings": Bowings(-0.1, 0.4, 0.03, 0.0, 1.0)}, "speed of -10 cm/s is out of range"),
        ({"bowings": Bowings(0.1, 40.0, 0.03, 0.0, 1.0)}, "weight of 40 N is out of range"),
        ({"bowings": Bowings(0.1, np.nan, 0.03, 0.0, 1.0)}, "weight of nan N is out of range"),
        ({"bowings": Bowings(np.inf, 0.4, 0.03, 0.0, np.inf)}, "neither speed nor acceleration"),
        ({"bowings": Bowings(0.1, 0.4, 0.4, 0.0, 1.0)}, "bow nearer to the bridge"),
        ({"bowings": Bowings(0.1, np.empty(0), 0.03, 0.0, 1.0)}, "no strokes to bow"),
        ({"periods": 10}, "10 periods are out of range"),
        ({"target": "python"}, "no target of a survey"),
    ],
)
def test_what_cannot_be_asked_is_refused_in_one_line(wrong: dict[str, object], said: str) -> None:
    asked: dict[str, object] = {"bowings": Bowings(0.1, 0.4, 0.03, 0.0, 1.0), **wrong}
    with pytest.raises(InputError, match=said):
        survey("violin", "D", asked.pop("bowings"), **asked)  # type: ignore[arg-type]


def test_the_same_place_and_stroke_is_played_once() -> None:
    """Hairs lie on whole points of the string, 3.3 mm apart here: what two distances have in common is one
    run, and a survey of it has the same answer twice.
    """
    violin = find_instrument("violin")
    setting = Setting(violin, violin.string("D"), F, Model(), None, 40, False)
    near = Bowings(0.1, np.array([0.4, 0.4, 0.5, 0.4]), np.array([0.03, 0.0301, 0.03, 0.04]), 0.0, 1.0)
    strokes, seats, same = setting.seat(Strokes.of(near))
    assert len(strokes.weight_n) == 3
    assert [len(seat.strokes) for seat in seats] == [2, 1]
    assert same.tolist() == [0, 0, 1, 2]
    assert strokes.weight_n[same].tolist() == [0.4, 0.4, 0.5, 0.4]
