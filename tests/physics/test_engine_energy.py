"""Energy, silence and sanity: the string loses what it has, makes nothing of nothing, and never blows up.

The energy of the state is exact, by the storage of each passive part. A velocity wave v carries Z v^2, so a
sample of it holds Z v^2 dt; a low-pass u' = p u + (1 - p) x holds p / (1 - p) u^2 of that kind; an allpass
(c + z^-1) / (1 + c z^-1) with memory m holds m^2 / (1 - c^2); a mode of the body under the bilinear transform
holds m V^2 / 2 + k Q^2 / 2 half a step on. Common theory of passive networks: A. Fettweis, "Wave digital
filters: theory and practice", Proc. IEEE 74, 270-327 (1986).
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from colophony.errors import InputError
from colophony.physics.friction import LAWS, McIntyre1979, Smith2000, VanWalstijn2026
from colophony.physics.gestures import Curve, Stroke, steady
from colophony.physics.instruments import Instrument, find_instrument
from colophony.physics.kernel import loops
from colophony.physics.kernel.string import End
from colophony.physics.player import Player
from colophony.physics.simulation import Model, simulate
from colophony.physics.strings import FULL_SIZE

ALL_STRINGS = [(instrument, name) for instrument, strings in FULL_SIZE.items() for name in strings]
INSTRUMENTS = {name: find_instrument(name, "3/4" if name == "double bass" else "4/4") for name in FULL_SIZE}

models = st.builds(
    Model,
    friction=st.sampled_from([law() for law in LAWS.values()]),
    points=st.integers(1, 8),
    compliant_hair=st.booleans(),
    torsion=st.booleans(),
    stiffness=st.booleans(),
    body=st.booleans(),
    loss=st.floats(0.1, 2.0),
)


def end_energy(low: float, slow: float, end: End) -> float:
    gain = end.gain / (1 - end.pole)
    held = end.pole / (1 - end.pole) * low**2 / gain
    if gain < 1:
        held += end.slow_pole / (1 - end.slow_pole) * slow**2 / (1 - gain)
    return float(held)


def energy_j(player: Player, instrument: Instrument) -> float:
    """All that string, twist and body hold, in J; the hair of a lifted bow is no part of it."""
    strings = player.strings
    n, ends = strings.numbers, strings.ends[:, 0].astype(float)
    tuning = player.design.nut_at(player.frequency_hz)[1]
    waves = [float(np.sum(line.astype(float) ** 2)) for line in strings.waves]
    transverse = (
        waves[0]
        + waves[1]
        + end_energy(ends[loops.BRIDGE_LOW], ends[loops.BRIDGE_SLOW], n.bridge)
        + end_energy(ends[loops.NUT_LOW], ends[loops.NUT_SLOW], n.nut)
        + sum(ends[loops.ENDS + i] ** 2 for i in range(strings.sections)) / (1 - n.dispersion**2)
        + ends[loops.TUNING] ** 2 / (1 - tuning**2)
    )
    total = n.z0 * n.dt * transverse
    if n.y_torsion > 0:
        twist = (
            waves[2]
            + waves[3]
            + end_energy(ends[loops.TORSION_BRIDGE_LOW], ends[loops.TORSION_BRIDGE_SLOW], n.torsion_end)
            + end_energy(ends[loops.TORSION_NUT_LOW], ends[loops.TORSION_NUT_SLOW], n.torsion_end)
        )
        total += 0.5 / n.y_torsion * n.dt * twist
    if strings.body.shape[1]:
        _, _, C, w, _ = strings.body
        mass = np.array([mode.mass_kg for mode in instrument.body.modes])
        # What the modes remember has felt this step's force.
        h, s = C * strings.modes[:, 0, 0], C * strings.modes[:, 1, 0]
        whole = n.dt / 2 / (mass * C)
        total += float(np.sum(0.5 * mass * ((whole * h + w * s) ** 2 + s**2)))
    return float(total)


def bowed_and_left(
    instrument: Instrument, name: str, octaves: float, model: Model, weight_n: float, beta: float
) -> Player:
    """A player whose bow has played ten periods and is off the string."""
    string = instrument.string(name)
    f = string.open_frequency_hz * 2**octaves
    player = Player(instrument, string, frequency_hz=f, model=model)
    step = 1 / player.design.rate_hz
    end = 10 * player.design.samples_per_period
    stroke = Stroke(
        0.3,
        Curve((0.0, end * step, (end + 1) * step), (weight_n, weight_n, 0.0)),
        beta * string.stopped_length_m(f),
    )
    player.play([stroke], steps=end + 2)
    return player


@given(
    which=st.sampled_from(ALL_STRINGS),
    octaves=st.floats(0.0, 2.5),
    model=models,
    weight_n=st.floats(0.05, 5.0),
    beta=st.floats(0.05, 0.4),
)
@example(
    which=("viola", "A"),
    octaves=0.0,
    model=Model(McIntyre1979(), 1, compliant_hair=False, torsion=False, stiffness=False, loss=0.5),
    weight_n=0.0625,
    beta=0.0625,
)
@settings(max_examples=25, deadline=None)
def test_with_the_bow_off_energy_never_grows(
    which: tuple[str, str], octaves: float, model: Model, weight_n: float, beta: float
) -> None:
    """Second law, step by step: any string, note, model and body, but for rounding."""
    instrument = INSTRUMENTS[which[0]]
    player = bowed_and_left(instrument, which[1], octaves, model, weight_n, beta)
    off = Stroke(0.3, 0.0, 0.1 * player.string.stopped_length_m(player.frequency_hz))
    energies = [energy_j(player, instrument)]
    for steps in [1] * 40 + [37] * 30:
        player.play([off], steps=steps)
        energies.append(energy_j(player, instrument))
    assert energies[0] > 0.0
    assert np.all(np.diff(energies) <= 1e-9 * energies[0])
    assert energies[-1] < energies[0]


@given(which=st.sampled_from(ALL_STRINGS), weight_n=st.floats(0.1, 3.0), friction=st.sampled_from(list(LAWS)))
@settings(max_examples=8, deadline=None)
def test_string_and_body_never_hold_more_than_the_bow_has_given(
    which: tuple[str, str], weight_n: float, friction: str
) -> None:
    """One hair: the energy held is at most the work f v of friction on the string; the rest is heat."""
    instrument = INSTRUMENTS[which[0]]
    string = instrument.string(which[1])
    model = Model(friction=LAWS[friction](), points=1, compliant_hair=False)
    player = Player(instrument, string, frequency_hz=string.open_frequency_hz, model=model)
    stroke = steady(0.2, weight_n, 0.1 * string.sounding_length_m)
    work = 0.0
    for _ in range(400):
        played = player.play([stroke], steps=1)
        work += float(player.strings.hairs[0, 5, 0] * played.velocity[0, 0]) * player.strings.numbers.dt
        # What the rosin layer and the lines hold between steps is not all in one place: one step's work.
        assert energy_j(player, instrument) <= work + 1e-12


@pytest.mark.parametrize("which", ALL_STRINGS, ids=" ".join)
def test_without_a_bow_there_is_no_sound(which: tuple[str, str]) -> None:
    """A moving bow without weight touches nothing."""
    motion = simulate(INSTRUMENTS[which[0]], which[1], steady(0.5, 0.0, 0.03), seconds=0.05)
    assert np.abs(motion.sound).max() == 0.0
    assert np.abs(motion.bridge_force_n).max() < 1e-12
    assert np.abs(motion.velocity_m_s).max() < 1e-12


def test_a_bow_that_rests_on_the_string_makes_no_sound() -> None:
    motion = simulate("cello", "C", Stroke(0.0, 2.0, 0.07), seconds=0.2)
    assert np.abs(motion.sound).max() == 0.0
    assert np.abs(motion.velocity_m_s).max() == 0.0


def blows_up(which: tuple[str, str], octaves: float, model: Model, stroke: Stroke) -> None:
    """Play sixty periods; nothing that comes out is NaN, infinite or beyond what the bow can do.

    A hair pulls with at most mu_s F, on the string of 2 Z0 (and the twist beside it); what reflections add is
    bounded by friction, within a factor of a hundred (our own figure: far above any motion, far below a
    blow-up).
    """
    instrument = INSTRUMENTS[which[0]]
    string = instrument.string(which[1])
    f = string.open_frequency_hz * 2**octaves
    motion = simulate(instrument, string, stroke, frequency_hz=f, seconds=60 / f, model=model)
    weight, speed = float(motion.weight_n.max()), float(np.abs(motion.bow_speed_m_s).max())
    most = 100 * (speed + 1.2 * weight / string.impedance_kg_s) + 1e-9
    for signal in (motion.velocity_m_s, motion.bridge_force_n, motion.sound):
        assert np.all(np.isfinite(signal))
    assert np.abs(motion.velocity_m_s).max() <= most


@given(
    which=st.sampled_from(ALL_STRINGS),
    octaves=st.floats(-0.08, 3.0),
    model=models,
    speed=st.floats(-5.0, 5.0),
    weight=st.floats(0.0, 20.0),
    beta=st.floats(0.005, 0.94),
    tilt=st.floats(-60.0, 60.0),
)
@example(("violin", "D"), 1.94, Model(points=6, body=False, loss=0.19), -3.88, 18.1, 0.27, 29.0)
@example(("viola", "G"), 0.31, Model(points=3, stiffness=False, loss=0.26), 0.35, 10.6, 0.337, -43.0)
@example(
    ("viola", "C"), 2.55, Model(points=8, compliant_hair=False, body=False, loss=0.2), 0.49, 17.0, 0.874, 29.0
)
@settings(max_examples=40, deadline=None)
def test_no_stroke_within_the_limits_blows_up(
    which: tuple[str, str],
    octaves: float,
    model: Model,
    speed: float,
    weight: float,
    beta: float,
    tilt: float,
) -> None:
    """Whatever an arm or a slip of the hand asks for, the answer is finite."""
    string = INSTRUMENTS[which[0]].string(which[1])
    length = string.stopped_length_m(string.open_frequency_hz * 2**octaves)
    stroke = Stroke(speed, weight, max(beta * length, 0.0005), tilt)
    outcome = None
    try:
        blows_up(which, octaves, model, stroke)
    except InputError as refused:  # all of the ribbon lies on the bridge, or the bow beyond the finger
        outcome = str(refused)
    assert outcome is None or "bridge" in outcome


@pytest.mark.parametrize("friction", [VanWalstijn2026(), McIntyre1979(), Smith2000()], ids=list(LAWS))
@pytest.mark.parametrize("weight", [1e-6, 1e-3, 20.0])
def test_the_lightest_and_the_heaviest_bow_are_borne(friction: object, weight: float) -> None:
    model = replace(Model(), friction=friction)
    for speed in (1e-4, 5.0):
        blows_up(("violin", "A"), 0.0, model, Stroke(speed, weight, 0.03))


def test_few_samples_a_period_on_a_low_string_do_not_blow_up() -> None:
    """A body's modes above half the sample rate cannot be stepped and are left out, with a word. A slip of
    the ideal motion is vb / beta = 2 m/s; ten times that is our own figure.
    """
    motion = simulate("double bass", "E", steady(0.2, 2.0, 0.1), samples_per_period=100, seconds=1.0)
    assert np.abs(motion.velocity_m_s).max() < 20.0
    assert any("resonances" in warning for warning in motion.warnings)
