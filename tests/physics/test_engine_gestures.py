"""What the string does under a bow that turns, swells, wanders or lifts, and under a finger that moves."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from numpy.typing import NDArray

from colophony.physics.bodies import bridge_admittance
from colophony.physics.design import own_decay
from colophony.physics.gestures import Curve, Stroke, bow_change, steady, swell, wander
from colophony.physics.instruments import find_instrument
from colophony.physics.motion import Motion
from colophony.physics.regimes import read_motion, spans
from colophony.physics.simulation import Model, simulate

D4 = 293.665
ONE_HAIR = Model(points=1, compliant_hair=False, torsion=False, stiffness=False, body=False)


def piece(motion: Motion, begin_s: float, end_s: float) -> Motion:
    i, j = (round((t - motion.start_s) * motion.rate_hz) for t in (begin_s, end_s))
    names = ("bow_speed_m_s", "weight_n", "velocity_m_s", "slipping", "bridge_force_n", "sound")
    return replace(motion, start_s=begin_s, **{name: getattr(motion, name)[i:j] for name in names})


def level(signal: NDArray[np.floating]) -> float:
    return float(np.sqrt(np.mean(np.asarray(signal, float) ** 2)))


def pitch_hz(motion: Motion, *, near: float) -> float:
    """Frequency of the bridge force's first partial: peak of a zero-padded spectrum within a semitone."""
    x = np.asarray(motion.bridge_force_n, float)
    count = 16 * len(x)
    spectrum = np.abs(np.fft.rfft((x - x.mean()) * np.blackman(len(x)), count))
    f = np.fft.rfftfreq(count, 1 / motion.rate_hz)
    inside = (f > near / 1.06) & (f < near * 1.06)
    return float(f[inside][np.argmax(spectrum[inside])])


def test_a_bow_change_turns_the_saw_tooth_round() -> None:
    """Helmholtz motion is mirrored (Cremer, The Physics of the Violin, 1984, chapter 3): the flyback, the
    steepest side of the bridge force, points the other way, as high as before within 5 %.
    """
    motion = simulate("violin", "D", bow_change(0.2, 0.5, 0.0325, at_s=0.4), seconds=0.8)
    down, up = piece(motion, 0.28, 0.36), piece(motion, 0.7, 0.8)
    assert read_motion(down).state == read_motion(up).state == "helmholtz"
    steepest = []
    for part in (down, up):
        step = np.asarray(part.bridge_force_n[5:] - part.bridge_force_n[:-5])
        steepest.append(float(step[np.argmax(np.abs(step))]))
    assert steepest[0] < 0.0 < steepest[1]
    assert steepest[1] == pytest.approx(-steepest[0], rel=0.05)


def test_a_bow_turned_round_is_the_mirror_image() -> None:
    """The string knows no up: every sample changes sign (symmetry)."""
    down, up = (simulate("cello", "G", steady(v, 1.0, 0.07), seconds=0.2) for v in (0.15, -0.15))
    for name in ("velocity_m_s", "bridge_force_n", "sound"):
        assert getattr(up, name) == pytest.approx(-getattr(down, name), abs=1e-9)


def test_a_swell_grows_with_bow_speed() -> None:
    """Level goes as vb / beta (Schelleng 1973): here from 0.17 to 0.39 m/s at the same place, every tenth of
    a second louder, and Helmholtz motion all the way; bridge force in proportion within 10 % over the
    second half, when nothing of the start is left.
    """
    stroke = swell((0.1, 0.4), (0.3, 1.0), (0.034, 0.034), seconds=1.0)
    motion = simulate("violin", "G", stroke, seconds=1.1)
    begins = np.arange(0.2, 1.0, 0.1)
    parts = [piece(motion, t, t + 0.08) for t in begins]
    forces, sounds = [level(part.bridge_force_n) for part in parts], [level(part.sound) for part in parts]
    assert np.all(np.diff(forces) > 0.0)
    assert np.all(np.diff(sounds) > 0.0)
    assert {part.state for part in map(read_motion, parts)} == {"helmholtz"}
    speeds = [float(part.bow_speed_m_s.mean()) for part in parts]
    assert forces[-1] / forces[3] == pytest.approx(speeds[-1] / speeds[3], rel=0.10)


def test_a_bow_that_wanders_takes_its_contact_point_along() -> None:
    """Slip fraction is beta (Helmholtz): away from the bridge the string slips longer, within 15 % of beta,
    and the saw-tooth falls as 1 / beta.
    """
    motion = simulate("violin", "D", wander(0.15, 0.4, [0.025, 0.045], seconds=1.0), seconds=1.1)
    string_m = 0.325
    begins = np.arange(0.2, 1.0, 0.1)
    readings = [read_motion(piece(motion, t, t + 0.06)) for t in begins]
    betas = (0.025 + 0.02 * (begins + 0.03)) / string_m
    assert [reading.slip_fraction for reading in readings] == pytest.approx(betas.tolist(), rel=0.15)
    falls = readings[0].bridge_force_peak_to_peak_n / readings[-1].bridge_force_peak_to_peak_n
    assert falls == pytest.approx(betas[-1] / betas[0], rel=0.15)
    assert motion.beta == pytest.approx(0.045 / string_m, rel=0.02)


@cache
def changed(ratio: float) -> tuple[Motion, Motion]:
    """A note change within 5 ms at half a second, and the second note by itself, as many samples a second."""
    note = Curve((0.0, 0.5, 0.505), (D4, D4, ratio * D4))
    bow = steady(0.15, 0.4, 0.03)
    both = simulate("violin", "D", bow, frequency_hz=note, seconds=1.0)
    alone = simulate(
        "violin", "D", bow, frequency_hz=ratio * D4, seconds=1.0,
        samples_per_period=round(both.rate_hz / (ratio * D4)),
    )  # fmt: skip
    return both, alone


@pytest.mark.parametrize("ratio", [2 ** (2 / 12), 1.5], ids=["a tone", "a fifth"])
def test_a_change_of_note_changes_the_pitch(ratio: float) -> None:
    """Before and after within 10 cents of the note, as near as bowing takes it: bowed notes are up to
    10 cents sharp of the free string (Schoonderwaldt 2009).
    """
    both, _ = changed(ratio)
    before = pitch_hz(piece(both, 0.35, 0.49), near=D4)
    after = pitch_hz(piece(both, 0.85, 0.99), near=ratio * D4)
    assert 1200 * np.log2(before / D4) == pytest.approx(0.0, abs=10.0)
    assert 1200 * np.log2(after / (ratio * D4)) == pytest.approx(0.0, abs=10.0)
    assert both.frequency_hz == pytest.approx(ratio * D4)


@pytest.mark.parametrize(
    "ratio",
    [
        2 ** (2 / 12),
        pytest.param(
            1.5,
            marks=pytest.mark.xfail(
                strict=True, raises=AssertionError, reason="12 cents: the finger's loss stays behind"
            ),
        ),
    ],
    ids=["a tone", "a fifth"],
)
def test_a_note_reached_by_a_change_is_as_one_played_from_the_start(ratio: float) -> None:
    """Within 5 cents, which an ear tells apart (common practice, no source)."""
    ends = [pitch_hz(piece(motion, 0.85, 0.99), near=ratio * D4) for motion in changed(ratio)]
    assert 1200 * np.log2(ends[0] / ends[1]) == pytest.approx(0.0, abs=5.0)


@pytest.mark.parametrize("ratio", [2 ** (2 / 12), 1.5], ids=["a tone", "a fifth"])
def test_a_change_of_note_does_not_click(ratio: float) -> None:
    """The steepest step of the sound while the finger moves is no more than 1.2 times the steepest of the
    notes before and after, and the bridge force stays within 1.2 times their peaks.
    """
    motion, _ = changed(ratio)
    moving, notes = piece(motion, 0.495, 0.56), [piece(motion, 0.3, 0.49), piece(motion, 0.8, 1.0)]
    steepest = [float(np.abs(np.diff(part.sound)).max()) for part in (moving, *notes)]
    highest = [float(np.abs(part.bridge_force_n).max()) for part in (moving, *notes)]
    assert steepest[0] <= 1.2 * max(steepest[1:])
    assert highest[0] <= 1.2 * max(highest[1:])


def test_a_lifted_bow_leaves_the_string_to_die_away() -> None:
    """From then on the first partial falls at its own rate r_1: the string's and the body's, within 15 %."""
    weight = Curve((0.4, 0.4104), (0.5, 0.0))
    motion = simulate("violin", "G", Stroke(Curve((0.0, 0.02), (0.0, 0.2)), weight, 0.0325), seconds=3.0)
    f = motion.frequency_hz
    sizes, times = [], np.arange(0.6, 2.8, 0.1)
    for t in times:
        part = piece(motion, t, t + 0.1)
        x = np.asarray(part.bridge_force_n, float) * np.blackman(len(part.bridge_force_n))
        sizes.append(abs(np.sum(x * np.exp(-2j * np.pi * f * np.arange(len(x)) / motion.rate_hz))))
    assert np.all(np.diff(sizes) < 0.0)
    violin = find_instrument("violin")
    string = violin.string("G")
    taken = 2 * string.impedance_kg_s * f * float(bridge_admittance(violin.body, np.array([f])).real[0])
    rate = -np.polyfit(times, np.log(sizes), 1)[0]
    assert rate == pytest.approx(sum(own_decay(string, violin.body)) + taken, rel=0.15)


def test_a_bow_set_down_again_starts_the_string_again() -> None:
    weight = Curve((0.0, 0.3, 0.31, 0.6, 0.61), (0.5, 0.5, 0.0, 0.0, 0.5))
    motion = simulate("violin", "D", Stroke(Curve((0.0, 0.02), (0.0, 0.2)), weight, 0.0325), seconds=1.2)
    assert read_motion(piece(motion, 0.2, 0.29)).state == "helmholtz"
    assert read_motion(motion).state == "helmholtz"
    assert level(piece(motion, 0.5, 0.59).bridge_force_n) < 0.6 * level(motion.last(16).bridge_force_n)


def test_vibrato_moves_the_period_as_far_as_the_finger_goes() -> None:
    """20 cents either way at 5.5 a second on A4 (common practice, no source): the periods between slips swing
    within 5 cents of that, about the note, and stay Helmholtz motion: one slip a period throughout.
    """
    t = np.arange(0.0, 1.2, 0.005)
    f = 440.0 * 2 ** (20 * np.sin(2 * np.pi * 5.5 * t) / 1200)
    note = Curve(tuple(t.tolist()), tuple(f.tolist()))
    motion = simulate("violin", "A", steady(0.2, 0.6, 0.02), frequency_hz=note, seconds=1.2)
    relative = np.asarray(motion.bow_speed_m_s - motion.velocity_m_s)
    onset = np.flatnonzero((relative[1:] > 0.8) & (relative[:-1] <= 0.8))
    exact = onset + (0.8 - relative[onset]) / (relative[onset + 1] - relative[onset])
    cents = -1200 * np.log2(np.diff(exact[exact > 0.3 * motion.rate_hz]) / motion.rate_hz * 440.0)
    smooth = np.convolve(cents, np.ones(5) / 5, "valid")
    assert len(cents) == pytest.approx(0.9 * 440, abs=4)
    assert 0.5 * (smooth.max() - smooth.min()) == pytest.approx(20.0, abs=5.0)
    assert float(smooth.mean()) == pytest.approx(0.0, abs=10.0)


def test_the_story_of_a_stroke_is_told_in_its_spans() -> None:
    """Too light, then well played, then lifted: read window by window."""
    weight = Curve((0.0, 0.8, 0.85), (0.03, 0.03, 0.5))
    motion = simulate("violin", "D", Stroke(Curve((0.0, 0.02), (0.0, 0.2)), weight, 0.0325), seconds=1.6)
    story = [span.state for span in spans(motion)]
    assert story[-1] == "helmholtz"
    assert "helmholtz" not in [span.state for span in spans(piece(motion, 0.3, 0.8))]


def test_frames_show_two_periods_of_a_string_held_at_both_ends() -> None:
    """The envelope of Helmholtz motion is vb / (8 beta f0) in the middle (Cremer 1984): within 3 %, one hair
    and a tenth of the loss (with all of it 5 % less).
    """
    motion = simulate(
        "violin", "D", steady(0.1, 0.3, 0.0325), seconds=0.5, frames=400, model=replace(ONE_HAIR, loss=0.1)
    )
    assert motion.shapes_m.shape == (400, len(motion.shape_positions_m))
    assert motion.shape_positions_m[0] == 0.0
    assert motion.shape_positions_m[-1] == pytest.approx(0.325, rel=1e-3)
    assert np.all(np.diff(motion.shape_positions_m) > 0.0)
    assert np.abs(motion.shapes_m[:, [0, -1]]).max() == 0.0
    assert motion.shape_times_s[-1] - motion.shape_times_s[0] == pytest.approx(2 / D4, rel=0.01)
    middle = motion.shapes_m[:, motion.shapes_m.shape[1] // 2]
    assert 0.5 * (middle.max() - middle.min()) == pytest.approx(0.1 / (8 * motion.beta * D4), rel=0.03)
