"""A string's filters: decay, pitch and partials, from the filters themselves and from free vibration.

A free vibration is made by the engine: the hair touches the string for a twenty-fifth of a period and is
gone. What then sounds is the string alone.
"""

from __future__ import annotations

import math
from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from measured import MODES, PERCIVAL_Q
from numpy.typing import NDArray

from colophony.errors import InputError
from colophony.physics.bodies import bridge_admittance
from colophony.physics.design import (
    PARTIALS,
    design_string,
    end_response,
    fit_end,
    own_decay,
    stiff_partials,
)
from colophony.physics.fitting import least_squares, minimise
from colophony.physics.gestures import Curve, Stroke
from colophony.physics.instruments import Instrument, find_instrument
from colophony.physics.player import body_numbers
from colophony.physics.simulation import Model, simulate
from colophony.physics.strings import FULL_SIZE, BowedString, find_string, strings_of

Floats = NDArray[np.float64]

BARE = Model(points=1, compliant_hair=False, torsion=False, stiffness=False, body=False)
STIFF = Model(points=1, compliant_hair=False, torsion=False, stiffness=True, body=False)
ALL_STRINGS = [(instrument, name) for instrument, strings in FULL_SIZE.items() for name in strings]
every_string = pytest.mark.parametrize(("instrument", "name"), ALL_STRINGS)
BLACKMAN_HARRIS = (0.35875, -0.48829, 0.14128, -0.01168)


def instrument_of(name: str) -> Instrument:
    return find_instrument(name, "3/4" if name == "double bass" else "4/4")


@cache
def free_vibration(
    instrument: str, name: str, model: Model, ratio: float = 1.0, periods: int = 60
) -> tuple[Floats, Floats, float]:
    """Frequencies in Hz and decay rates in 1/s of the first ten partials, and the note.

    Windows of 16 periods (Blackman-Harris: side lobes below -92 dB), two periods apart; straight lines
    through phase and log amplitude, weighted by amplitude.
    """
    owner = instrument_of(instrument)
    string = owner.string(name)
    f = ratio * string.open_frequency_hz
    K = max(200, math.ceil(96_000 / f))
    touch = (K // 50) / (K * f)  # whole samples
    stroke = Stroke(
        1.0,
        Curve((0.0, touch, 2 * touch), (0.0, 4 * string.impedance_kg_s, 0.0)),
        0.07 * string.stopped_length_m(f),
    )
    motion = simulate(owner, string, stroke, frequency_hz=f, seconds=(periods + 1) / f, model=model)
    assert motion.samples_per_period == K
    rate = motion.rate_hz
    force = np.asarray(motion.bridge_force_n, float)[K:]
    t = np.arange(16 * K) / rate
    window = sum(
        a * np.cos(2 * np.pi * k * np.arange(16 * K) / (16 * K)) for k, a in enumerate(BLACKMAN_HARRIS)
    )
    starts = np.arange(0, len(force) - 16 * K + 1, 2 * K)
    pieces = np.stack([force[s : s + 16 * K] for s in starts]) * window
    found = []
    for guess in stiff_partials(f, string.inharmonicity_at(f) if model.stiffness else 0.0, PARTIALS):
        part = pieces @ np.exp(-2j * np.pi * guess * t) * np.exp(-2j * np.pi * guess * starts / rate)
        size = np.abs(part)
        turn = np.polyfit(starts / rate, np.unwrap(np.angle(part)), 1, w=size)[0]
        fall = np.polyfit(starts / rate, np.log(size), 1, w=size)[0]
        found.append((guess + turn / (2 * np.pi), -fall))
    frequencies, decays = np.array(found).T
    return frequencies, decays, f


def cents(a: Floats, b: Floats) -> Floats:
    return np.asarray(1200 * np.log2(np.asarray(a) / np.asarray(b)))


def law(string: BowedString) -> Floats:
    return np.array([string.decay_per_s(n * string.open_frequency_hz) for n in PARTIALS])


# --- decay


@every_string
def test_the_filters_at_the_ends_lose_what_the_string_loses(instrument: str, name: str) -> None:
    """Modes 1 to 10 within 10 % of r_n: amplitude lost at two reflections a period."""
    string = instrument_of(instrument).string(name)
    design = design_string(string, frequency_hz=string.open_frequency_hz, stiffness=False)
    omegas = 2 * np.pi * PARTIALS / design.samples_per_period
    lost = sum(-np.log(np.abs(end_response(end, omegas))) for end in (design.bridge, design.nut))
    assert lost * string.open_frequency_hz == pytest.approx(law(string), rel=0.10)


@every_string
@pytest.mark.parametrize("model", [BARE, STIFF], ids=["flexible", "stiff"])
def test_free_vibration_dies_away_as_the_string_was_given(instrument: str, name: str, model: Model) -> None:
    """Modes 1 to 10 within 10 % of the Q given, bow lifted, rigid bridge: read off a simulated vibration."""
    _, decays, _ = free_vibration(instrument, name, model)
    assert decays == pytest.approx(law(instrument_of(instrument).string(name)), rel=0.10)


#: Simulated Q over the nearer end of what was measured. The law of two terms misses modes 1 to 3 by that
#: much; the filter, 1 to 2 % over the law at mode 5, takes that mode just outside.
MISSED = {
    ("violin", "A", 2): 1.04, ("violin", "A", 5): 0.99, ("violin", "E", 3): 1.11, ("violin", "E", 5): 0.997,
    ("viola", "C", 2): 1.18, ("viola", "C", 5): 0.98, ("viola", "G", 1): 1.01, ("viola", "G", 2): 0.97,
    ("viola", "D", 2): 1.40, ("viola", "D", 5): 0.99, ("viola", "A", 2): 0.999, ("viola", "A", 3): 1.19,
    ("viola", "A", 5): 0.99, ("cello", "C", 2): 1.40, ("cello", "C", 5): 0.98, ("cello", "G", 2): 1.25,
    ("cello", "G", 5): 0.99,
}  # fmt: skip


def _mark(instrument: str, name: str, mode: int) -> list[pytest.MarkDecorator]:
    miss = MISSED.get((instrument, name, mode))
    return (
        []
        if miss is None
        else [
            pytest.mark.xfail(strict=True, raises=AssertionError, reason=f"{miss} times the nearest measured")
        ]
    )


@pytest.mark.parametrize(
    ("instrument", "name", "mode"),
    [pytest.param(*pair, mode, marks=_mark(*pair, mode)) for pair in PERCIVAL_Q for mode in MODES],
)
def test_the_first_modes_ring_as_long_as_measured(instrument: str, name: str, mode: int) -> None:
    """Percival (2013), modes 1, 2, 3, 5 of plucked strings: inside the range of the instruments, or within
    15 % of their mean; read off a simulated vibration.
    """
    _, decays, f = free_vibration(instrument, name, BARE)
    measured = [instrument_q[MODES.index(mode)] for instrument_q in PERCIVAL_Q[instrument, name]]
    quality = math.pi * mode * f / decays[mode - 1]
    mean = sum(measured) / len(measured)
    assert min(*measured, 0.85 * mean) <= quality <= max(*measured, 1.15 * mean)


@pytest.mark.xfail(
    strict=True,
    raises=AssertionError,
    reason="the finger's Q of 200 is met by -18 to +29 %: two terms cannot follow it",
)
def test_a_stopped_note_dies_away_as_the_finger_was_given() -> None:
    """The string's law and Q 200 of the finger together (from memory, low confidence), within 10 %."""
    _, decays, f = free_vibration("violin", "A", BARE, 1.5, 32)
    string = find_string("violin", "4/4", "A")
    given = np.array([string.decay_per_s(n * f) for n in PARTIALS]) + np.pi * f * PARTIALS / 200
    assert decays == pytest.approx(given, rel=0.10)


def test_a_factor_on_the_loss_is_a_factor_on_the_decay() -> None:
    design = [
        design_string(find_string("violin", "4/4", "D"), frequency_hz=293.66, loss=x) for x in (0.1, 1.0)
    ]
    omegas = 2 * np.pi * PARTIALS / design[0].samples_per_period
    lost = [-np.log(np.abs(end_response(one.bridge, omegas))) for one in design]
    assert lost[1] / lost[0] == pytest.approx(np.full(10, 10.0), rel=0.05)


# --- pitch


@every_string
@pytest.mark.parametrize(
    ("model", "ratio"),
    [(BARE, 1.0), (STIFF, 1.0), (STIFF, 1.122), (STIFF, 3.0)],
    ids=["open, flexible", "open", "a tone up", "a twelfth up"],
)
def test_free_pitch_is_that_of_the_analytic_string(
    instrument: str, name: str, model: Model, ratio: float
) -> None:
    """Within 0.5 cent of the note, which is the first partial of the stiff string (H. Fletcher, JASA 36
    (1964)), open and stopped.
    """
    frequencies, _, f = free_vibration(instrument, name, model, ratio, 60 if ratio == 1.0 else 24)
    assert cents(frequencies[:1], np.array([f])) == pytest.approx([0.0], abs=0.5)


@every_string
def test_without_stiffness_partials_are_harmonic(instrument: str, name: str) -> None:
    """Within 2.05 cents to partial 10; what remains is the phase of the loss (most on the cello's C string),
    an ear tells 5 apart (common practice, no source).
    """
    frequencies, _, f = free_vibration(instrument, name, BARE)
    assert cents(frequencies, f * PARTIALS) == pytest.approx(np.zeros(10), abs=2.05)


@every_string
def test_partials_are_stretched_as_a_stiff_string_stretches_them(instrument: str, name: str) -> None:
    """H. Fletcher (1964): f_n = n f sqrt((1 + B n^2) / (1 + B)). Four equal allpasses of first order come
    within 2.2 cents to partial 8 and 3.5 to partial 10, on strings whose partial 10 is 4 to 49 cents sharp.
    """
    frequencies, _, f = free_vibration(instrument, name, STIFF)
    off = cents(
        frequencies, stiff_partials(f, instrument_of(instrument).string(name).inharmonicity, PARTIALS)
    )
    assert off[:8] == pytest.approx(np.zeros(8), abs=2.2)
    assert off == pytest.approx(np.zeros(10), abs=3.5)


@pytest.mark.xfail(
    strict=True,
    raises=AssertionError,
    reason="a cello's C string a twelfth up: partial 7 is 20 cents off, 9 25 cents",
)
def test_partials_of_a_high_stopped_note_are_stretched_too() -> None:
    """H. Fletcher (1964), B growing as 1 / length^2: within 5 cents to partial 10."""
    frequencies, _, f = free_vibration("cello", "C", STIFF, 3.0, 32)
    stiff = instrument_of("cello").string("C").inharmonicity_at(f)
    assert cents(frequencies, stiff_partials(f, stiff, PARTIALS)) == pytest.approx(np.zeros(10), abs=5.0)


def test_the_partials_of_a_stiff_string_are_the_published_ones() -> None:
    """H. Fletcher (1964): B 4e-4, hand-worked: partial 10 is 34 cents sharper than ten times the first."""
    f = stiff_partials(440.0, 4e-4, np.array([1.0, 10.0]))
    assert f[0] == pytest.approx(440.0)
    assert 1200 * math.log2(f[1] / (10 * f[0])) == pytest.approx(600 * math.log2(1.04 / 1.0004), rel=1e-9)
    assert 600 * math.log2(1.04 / 1.0004) == pytest.approx(33.6, abs=0.1)


# --- passive whatever the string


@settings(deadline=None)
@given(
    which=st.sampled_from(ALL_STRINGS),
    ratio=st.floats(0.95, 8.0),
    loss=st.floats(0.01, 3.0),
    factor=st.floats(0.0, 10.0),
    with_body=st.booleans(),
)
def test_no_end_gives_back_more_than_it_gets(
    which: tuple[str, str], ratio: float, loss: float, factor: float, with_body: bool
) -> None:
    """|reflection| <= 1 at every frequency: passive ends, also where catalogue and loss are far off."""
    owner = instrument_of(which[0])
    string = owner.string(which[1])
    string = replace(string, inharmonicity=factor * string.inharmonicity)
    design = design_string(
        string,
        frequency_hz=ratio * string.open_frequency_hz,
        body=owner.body if with_body else None,
        loss=loss,
    )
    omegas = np.linspace(0.0, np.pi, 500)
    for end in (design.bridge, design.nut, design.torsion_end):
        assert np.abs(end_response(end, omegas)).max() <= 1 + 1e-12
        assert abs(end_response(end, 0.0)) == pytest.approx(1.0)  # a standing force stays
    assert -1.0 < design.dispersion <= 0.0
    points, tuning = design.nut_at(ratio * string.open_frequency_hz)
    assert points >= 8
    assert -1.0 < tuning < 1.0


@pytest.mark.parametrize("loss", [0.01, 5.0])
def test_strings_that_ring_long_and_hardly_can_be_made(loss: float) -> None:
    """The greatest and least loss factors that `Model` takes: both ends stay passive."""
    for instrument in FULL_SIZE:
        for string in strings_of(instrument, "4/4"):
            end = design_string(string, frequency_hz=string.open_frequency_hz, loss=loss).bridge
            assert np.abs(end_response(end, np.linspace(0.0, np.pi, 200))).max() <= 1 + 1e-12


@pytest.mark.parametrize("instrument", FULL_SIZE)
def test_the_body_in_steps_is_the_body_of_the_formula_and_passive(instrument: str) -> None:
    """The admittance of the modes' recursions, from their transfer function: Re Y >= 0 from 0 Hz to half the
    sample rate, and Y = sum (i w / m) / (w_m^2 - w^2 + i w w_m / Q) within 2 % of the greatest
    peak below 4 kHz.
    """
    owner = instrument_of(instrument)
    dt = 1 / 96_000
    A, B, C, w, _ = body_numbers(owner.body, dt)
    f = np.concatenate([np.geomspace(10.0, 4000.0, 400), np.linspace(4000.0, 0.4999 / dt, 400)])
    z1 = np.exp(-2j * np.pi * f * dt)[:, None]
    # v = h + C f; p = s + w v; s' = p + w v; h' = A v - B p + C f, with ' one sample later.
    s_per_v = 2 * w * z1 / (1 - z1)
    p_per_v = s_per_v + w
    stepped = np.sum(C * (1 + z1) / (1 - z1 * (A - B * p_per_v)), axis=1)
    assert stepped.real.min() >= 0.0
    low = f < 4000.0
    exact = bridge_admittance(owner.body, f[low])
    assert np.abs(stepped[low] - exact) == pytest.approx(np.zeros(low.sum()), abs=0.02 * np.abs(exact).max())


@every_string
def test_what_the_body_takes_is_left_out_of_the_strings_own_loss(instrument: str, name: str) -> None:
    """Decay was measured on instruments. Body loss 2 Z0 Re Y a period (Woodhouse, Euphonics 5.1.1) and what
    is left to the string: together within 20 % of the measured, mean over modes 1 to 10.
    """
    owner = instrument_of(instrument)
    string = owner.string(name)
    r0, r2 = own_decay(string, owner.body)
    taken = (
        2 * string.impedance_kg_s * bridge_admittance(owner.body, PARTIALS * string.open_frequency_hz).real
    )
    total = (r0 + r2 * PARTIALS**2 + taken * string.open_frequency_hz) / law(string)
    assert float(np.mean(total)) == pytest.approx(1.0, abs=0.2)


@pytest.mark.parametrize(
    ("instrument", "name"),
    [("violin", "G"), ("violin", "D"), ("violin", "A"), ("viola", "C"), ("cello", "D")],
)
def test_the_coupled_body_takes_what_its_admittance_says(instrument: str, name: str) -> None:
    """Woodhouse, Euphonics 5.1.1: partial n loses 2 Z0 Re Y(n f) of its amplitude a period to the body,
    beside the string's own; read off a simulated vibration, each of ten partials within 6 %.
    """
    owner = instrument_of(instrument)
    string = owner.string(name)
    frequencies, decays, f = free_vibration(instrument, name, replace(BARE, body=True))
    r0, r2 = own_decay(string, owner.body)
    taken = 2 * string.impedance_kg_s * f * bridge_admittance(owner.body, frequencies).real
    assert decays == pytest.approx(r0 + r2 * PARTIALS**2 + taken, rel=0.06)


# --- places


@settings(deadline=None)
@given(beta=st.floats(0.02, 0.5))
def test_a_place_is_where_its_round_trip_says(beta: float) -> None:
    design = design_string(find_string("violin", "4/4", "D"), frequency_hz=293.66)
    assert design.beta_at(design.point_at(beta)) == pytest.approx(beta)
    period = 2 * (design.torsion_points + design.torsion_delay)
    point = design.torsion_point_at(beta)
    assert (2 * point + 1 + design.torsion_delay) / period == pytest.approx(beta, abs=1e-9) or point == 0.0


def test_the_loop_of_torsion_is_as_much_shorter_as_twist_is_faster() -> None:
    """Woodhouse, Euphonics 9.7.1: c_t / c = 5.2 on a cello's D string."""
    string = find_string("cello", "4/4", "D")
    design = design_string(string, frequency_hz=string.open_frequency_hz)
    ratio = design.samples_per_period / (2 * (design.torsion_points + design.torsion_delay))
    assert ratio == pytest.approx(string.torsion_speed_ratio, rel=0.01)


@pytest.mark.parametrize("samples", [39, 20_001, -5])
def test_samples_a_period_out_of_range_are_refused(samples: int) -> None:
    with pytest.raises(InputError, match="out of range: choose 40 to 20000"):
        design_string(find_string("violin", "4/4", "D"), frequency_hz=293.66, samples_per_period=samples)


def test_a_note_too_high_for_its_samples_is_refused() -> None:
    design = design_string(find_string("violin", "4/4", "D"), frequency_hz=293.66, samples_per_period=40)
    with pytest.raises(InputError, match="too high for 11746 samples a second: ask for more samples"):
        design.nut_at(1500.0)


def test_by_default_a_second_holds_96_000_samples_and_a_period_200() -> None:
    for name in "GDAE":
        string = find_string("violin", "4/4", name)
        design = design_string(string, frequency_hz=string.open_frequency_hz)
        assert design.rate_hz >= 96_000.0
        assert design.samples_per_period == max(200, math.ceil(96_000.0 / string.open_frequency_hz))


# --- the two small fits


def test_least_squares_finds_what_scipy_finds() -> None:
    """scipy.optimize.least_squares on Rosenbrock's valley and on an exponential."""
    from scipy.optimize import least_squares as scipys

    t = np.linspace(0.0, 2.0, 30)
    y = 1.7 * np.exp(-0.9 * t) + 0.01 * np.cos(7 * t)
    for off, start in (
        (lambda p: np.array([10 * (p[1] - p[0] ** 2), 1 - p[0]]), np.array([-1.2, 1.0])),
        (lambda p: np.exp(p[0]) * np.exp(-np.exp(p[1]) * t) - y, np.array([0.0, 0.0])),
    ):
        assert least_squares(off, start) == pytest.approx(scipys(off, start).x, abs=1e-5)


@settings(deadline=None)
@given(lowest=st.floats(-0.9, 0.9))
def test_the_bottom_of_a_valley_is_found(lowest: float) -> None:
    assert minimise(lambda x: abs(x - lowest) ** 1.5, -1.0, 1.0) == pytest.approx(lowest, abs=2e-6)


@settings(deadline=None)
@given(first=st.floats(1e-4, 0.05), growth=st.floats(0.01, 2.0), samples=st.integers(60, 2000))
def test_an_end_is_fitted_to_any_law_of_two_terms(first: float, growth: float, samples: int) -> None:
    """Loss l_n = l1 (1 + g (n^2 - 1) / 99): constant to threefold over ten partials, within 12 %."""
    omegas = 2 * np.pi * PARTIALS / samples
    losses = first * (1 + growth * (PARTIALS**2 - 1) / 99)
    end = fit_end(losses, omegas, slow=omegas[0] / 8)
    assert -np.log(np.abs(end_response(end, omegas))) == pytest.approx(losses, rel=0.12)
