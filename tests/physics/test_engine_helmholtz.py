"""Helmholtz motion from the engine: the ideal limit, an ordinary stroke, and the first slip of a start."""

from __future__ import annotations

import math
from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from colophony.physics.friction import McIntyre1979, Smith2000, VanWalstijn2026
from colophony.physics.gestures import accelerate, steady
from colophony.physics.helmholtz import bridge_force_harmonics_n
from colophony.physics.instruments import find_instrument
from colophony.physics.limits.guettler_2002 import acceleration_window_m_s2, first_slip_s
from colophony.physics.limits.schoonderwaldt_2008 import measured_weight_max_n
from colophony.physics.regimes import read_motion
from colophony.physics.simulation import Model, simulate

ONE_HAIR = Model(points=1, compliant_hair=False, torsion=False, stiffness=False, body=False)
NEARLY_LOSSLESS = replace(ONE_HAIR, loss=0.1)
VB = 0.1


# --- ideal limit


@cache
def ideal_limit(beta: float, samples: int) -> dict[str, float]:
    """What is found over what Helmholtz motion has; partials up to 0.7 / beta, at most 8."""
    motion = simulate(
        "violin", "D", steady(VB, 0.3, beta * 0.325), seconds=200 / 293.7, model=NEARLY_LOSSLESS,
        samples_per_period=samples,
    )  # fmt: skip
    reading, beta, z0 = read_motion(motion), motion.beta, motion.impedance_kg_s
    assert reading.state == "helmholtz"
    force = np.asarray(motion.last(16).bridge_force_n, float)
    partials = np.arange(1, min(8, int(0.72 / beta)) + 1)
    found = 2 * np.abs(np.fft.rfft(force)[16 * partials]) / len(force)
    ideal = np.abs(bridge_force_harmonics_n(len(partials), vb=VB, beta=beta, Z0=z0))
    return {
        "slip": reading.slip_fraction / beta,
        "jump": reading.velocity_jump_m_s / (VB / beta),
        "saw-tooth": reading.bridge_force_peak_to_peak_n / (2 * z0 * VB / beta),
        "first partial": float(found[0] / ideal[0]),
        "worst partial": float((found / ideal)[np.argmax(np.abs(found / ideal - 1))]),
        "misfit": float(np.mean(np.abs(found / ideal - 1))),
    }


@pytest.mark.parametrize("samples", [200, 400, 800])
@pytest.mark.parametrize("beta", [0.05, 0.07, 0.1])
def test_without_loss_one_hair_plays_the_ideal_motion(beta: float, samples: int) -> None:
    """Ten times the measured Q, one hair, thermal law. Helmholtz motion as in Woodhouse, Euphonics 9.3.1 and
    9.4.2: slip fraction beta, jump vb / beta, saw-tooth 2 Z0 vb / beta, partials 2 Z0 vb / (n pi beta). All
    within 8 %, each partial to the eighth; at beta 0.1 to the seventh: partial 10 has its node under the bow.
    """
    found = ideal_limit(beta, samples)
    for name in ("slip", "jump", "saw-tooth", "first partial", "worst partial"):
        assert found[name] == pytest.approx(1.0, abs=0.08), name


@pytest.mark.parametrize("beta", [0.05, 0.07, 0.1])
def test_more_samples_bring_the_motion_nearer_to_the_ideal(beta: float) -> None:
    """Fourier series and slip fraction close in from 200 to 800 samples a period; slip not below 0.5 %, where
    a sample more or less decides.
    """
    coarse, fine = ideal_limit(beta, 200), ideal_limit(beta, 800)
    assert fine["misfit"] < coarse["misfit"]
    assert abs(fine["slip"] - 1) < max(abs(coarse["slip"] - 1), 0.005)


@pytest.mark.xfail(strict=True, raises=AssertionError, reason="2 % low at 200 samples a period, 4 % at 800")
def test_more_samples_bring_the_jump_nearer_too() -> None:
    """vb / beta (Euphonics 9.3.1), mean over the slip, whose rounded edges fine steps show."""
    assert abs(ideal_limit(0.05, 800)["jump"] - 1) < abs(ideal_limit(0.05, 200)["jump"] - 1)


# --- an ordinary stroke


@cache
def ordinary(
    instrument: str, name: str, model: Model, share: float = 0.4
) -> tuple[float, float, float, float]:
    """Slip, jump and saw-tooth over the ideal, and cents from the free string; beta 0.1, mid-wedge weight."""
    owner = find_instrument(instrument)
    string = owner.string(name)
    weight = share * measured_weight_max_n(Z0=string.impedance_kg_s, vb=VB, beta=0.1)
    motion = simulate(
        owner, string, steady(VB, weight, 0.1 * string.sounding_length_m),
        seconds=100 / string.open_frequency_hz, model=model, samples_per_period=400,
    )  # fmt: skip
    reading = read_motion(motion)
    assert reading.state == "helmholtz"
    assert reading.cents_from_free_string is not None
    return (
        reading.slip_fraction / motion.beta,
        reading.velocity_jump_m_s * motion.beta / VB,
        reading.bridge_force_peak_to_peak_n / (2 * string.impedance_kg_s * VB / motion.beta),
        reading.cents_from_free_string,
    )


def is_helmholtz(found: tuple[float, float, float, float]) -> None:
    """Slip fraction 15 %, jump and saw-tooth 10 %, pitch 5 cents."""
    slip, jump, saw_tooth, cents = found
    assert slip == pytest.approx(1.0, abs=0.15)
    assert jump == pytest.approx(1.0, abs=0.10)
    assert saw_tooth == pytest.approx(1.0, abs=0.10)
    assert cents == pytest.approx(0.0, abs=5.0)


STRINGS = [("violin", "G"), ("violin", "D"), ("violin", "A"), ("viola", "C"), ("cello", "D")]


@pytest.mark.parametrize(("instrument", "name"), STRINGS)
def test_a_stroke_in_the_middle_of_the_wedge_is_helmholtz_motion(instrument: str, name: str) -> None:
    """Schelleng (1973), beta 0.1, 10 cm/s, four tenths of the measured greatest weight (Schoonderwaldt et al.
    2008), measured losses, one hair, B small.
    """
    is_helmholtz(ordinary(instrument, name, ONE_HAIR))


@pytest.mark.parametrize(
    ("instrument", "name"),
    [
        pytest.param(
            "cello",
            "D",
            marks=pytest.mark.xfail(strict=True, raises=AssertionError, reason="jump 0.89 of vb / beta"),
        ),
        pytest.param(
            "violin",
            "D",
            marks=pytest.mark.xfail(
                strict=True, raises=AssertionError, reason="jump 0.84, saw-tooth 0.89, 7.5 cents sharp"
            ),
        ),
        pytest.param(
            "violin",
            "G",
            marks=pytest.mark.xfail(strict=True, raises=AssertionError, reason="jump 0.85, saw-tooth 0.88"),
        ),
    ],
)
def test_with_everything_on_it_still_is_as_large(instrument: str, name: str) -> None:
    """The same for four hairs on 10 mm, twist, stiffness and body. Hairs at different places slide between
    slips (R. Pitteroff & J. Woodhouse, Acta Acust. u. Acust. 84 (1998)), which takes from the jump.
    """
    is_helmholtz(ordinary(instrument, name, Model()))


@pytest.mark.parametrize(("instrument", "name"), STRINGS)
def test_with_everything_on_the_motion_is_within_a_sixth_of_the_ideal(instrument: str, name: str) -> None:
    """A guard against change, no published figure: a jump of five sixths and a saw-tooth of 0.86, just under
    what this model gave (0.84 and 0.88), and 8 cents below the note. Bowed pitch lies about 6 cents above
    plucked (Schoonderwaldt 2009), at most 10.
    """
    slip, jump, saw_tooth, cents = ordinary(instrument, name, Model())
    assert slip == pytest.approx(1.0, abs=0.15)
    assert 5 / 6 < jump < 1.1
    assert 0.86 < saw_tooth < 1.1
    assert -8.0 < cents < 10.0


def test_an_open_a_is_read_at_440_hz() -> None:
    """Common practice, no source: A4 is 440 Hz (ISO 16), and every period has one slip; within 8 cents."""
    reading = read_motion(simulate("violin", "A", steady(0.2, 0.6, 0.03), seconds=0.4))
    assert reading.state == "helmholtz"
    assert reading.frequency_hz == pytest.approx(440.0, rel=2 ** (8 / 1200) - 1)


# --- first slip

STARTED = [("violin", "G"), ("violin", "D"), ("violin", "A"), ("cello", "D")]


@pytest.mark.parametrize(("instrument", "name"), STARTED)
@pytest.mark.parametrize("beta", [1 / 11, 1 / 8])
@pytest.mark.parametrize(
    ("friction", "mu_s"),
    [(McIntyre1979(), 0.8), (Smith2000(), 1.2), (VanWalstijn2026(), 1.05)],
    ids=["hyperbola", "steady", "thermal"],
)
def test_the_string_first_slips_when_friction_can_hold_it_no_longer(
    instrument: str, name: str, beta: float, friction: object, mu_s: float
) -> None:
    """K. Guettler, Acta Acust. u. Acust. 88 (2002): from rest at acceleration a, at
    t1 = sqrt(mu_s F beta (1 - beta) / (f0 Z0 a)), one hair: within 3 %.
    """
    found, formula, _ = first_slip(instrument, name, beta, replace(ONE_HAIR, friction=friction), mu_s)  # type: ignore[arg-type]
    assert found == pytest.approx(formula, rel=0.03)


@pytest.mark.parametrize(("instrument", "name"), STARTED)
@pytest.mark.parametrize("beta", [1 / 11, 1 / 8])
def test_with_everything_on_it_slips_later_by_what_twist_and_hair_give(
    instrument: str, name: str, beta: float
) -> None:
    """Statics: where the string twists and hair and rosin stretch, the bow travels farther for the same
    force. Twist adds y / ((c_t / c) (Z_t / Z0)), 4 % later; within 3 % of the sum.
    """
    found, formula, with_give = first_slip(instrument, name, beta, Model(), 1.05)
    assert with_give > 1.02 * formula
    assert found == pytest.approx(with_give, rel=0.03)


def first_slip(
    instrument: str, name: str, beta: float, model: Model, mu_s: float
) -> tuple[float, float, float]:
    """Time of the first slip in s: simulated, by the formula, and by the formula with all that gives."""
    owner = find_instrument(instrument)
    string = owner.string(name)
    z0, f0 = string.impedance_kg_s, string.open_frequency_hz
    weight = 2.0 * z0  # N, 0.4 to 1.3
    a, _ = acceleration_window_m_s2(F=weight, Z0=z0, f0=f0, beta=beta, mu_s=0.8, mu_d=0.3)
    stroke = accelerate(a, weight, beta * string.sounding_length_m, seconds=12 / f0)
    motion = simulate(owner, string, stroke, seconds=12 / f0, model=model)
    behind = motion.bow_speed_m_s - motion.velocity_m_s
    found = float(np.argmax(motion.slipping.all(axis=1) & (behind > 0.02)) / motion.rate_hz)
    beta = motion.beta
    formula = first_slip_s(F=weight, Z0=z0, f0=f0, beta=beta, mu_s=mu_s, a=a)
    give = 1 / (string.torsion_speed_ratio * string.torsion_impedance_ratio) if model.torsion else 0.0
    pull = string.sounding_length_m * beta * (1 - beta) / string.tension_n  # m/N
    if model.compliant_hair:
        give += (1 / owner.ribbon.stiffness_n_m + 1 / (weight * 1e6)) / pull
    return found, formula, formula * math.sqrt(1 + give)
