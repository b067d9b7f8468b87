"""The second bowed string (``tests/reference``) against closed forms, before anything is held against it."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from reference import (
    BodyMode,
    Hair,
    Hyperbolic,
    LinearSystem,
    StringData,
    ThermalElastoPlastic,
    Torsion,
    assemble,
    bow,
)

#: A violin D string after Pickering (1985) as tabulated by Desvages (2018).
D = StringData(0.325, 1.61e-3, 293.66)
LOSSY = replace(D, inharmonicity=2.2e-4, r0_per_s=1.3, r2_per_s=0.4)
#: Ribbon of 10 mm, Pitteroff and Woodhouse (1998).
RIBBON = Hair(1.1e5, 6.2e-3, 10.0)
HAIRS = tuple(0.0325 + x for x in (-0.00375, -0.00125, 0.00125, 0.00375))
TWIST = Torsion(5.2, 2.5, 45.0)
BODY = (BodyMode(272.0, 15.0, 0.3), BodyMode(462.0, 40.0, 0.1), BodyMode(551.0, 45.0, 0.2))


def transfer(system: LinearSystem, row: np.ndarray, omega: float, point: int = 0) -> complex:
    """Response of an output at one frequency to a force at one point; both halves of the spectrum."""
    b = system.inputs[:, point]
    up = row * b / (1j * omega - system.rate)
    down = np.conj(row * b) / (1j * omega - np.conj(system.rate))
    return complex(0.5 * np.sum(up + down))


def rigid_slider() -> LinearSystem:
    """A string too heavy to move: the contact slides at the speed of the bow."""
    return assemble(StringData(1.0, 1e9, 100.0, modes=2), [0.5])


def test_a_plucked_string_pulls_the_bridge_in_turns_as_the_travelling_corners_say() -> None:
    """D'Alembert's solution of the ideal string (Cremer 1984, ch. 2): let go at x_p from height h, the slope
    at the bridge is h / x_p until the corner arrives at t = x_p / c, then -h / (L - x_p) until the other
    arrives after 2 (L - x_p) / c more; and so on.
    """
    height, at = 1e-3, 0.3 * D.length_m
    string = replace(D, modes=400)
    system = assemble(string, [at])
    n = np.arange(1, string.modes + 1)
    share = at / D.length_m
    q = 2.0 * height * np.sin(n * np.pi * share) / (n**2 * np.pi**2 * share * (1.0 - share))
    w = system.modal(q)
    t = np.linspace(0.0, 2.0 / D.f1_hz, 2001)
    force = (system.bridge_force * w @ np.exp(np.outer(system.rate, t))).real
    phase = (t * D.f1_hz + 0.5) % 1.0 - 0.5  # periods from the moment of release
    corner = 0.5 * share
    expected = D.tension_n * np.where(np.abs(phase) < corner, height / at, -height / (D.length_m - at))
    away = np.abs(np.abs(phase) - corner) > 0.01  # a sum of 400 modes rings next to a jump
    assert np.abs(force - expected)[away].max() < 0.04 * np.ptp(expected)


def test_each_mode_rings_at_its_frequency_and_decays_at_its_rate() -> None:
    """Fletcher, Blackham and Stratton (1962): f_n = n f1 sqrt(1 + B n^2); amplitude exp(-r_n t)."""
    system = assemble(LOSSY, [0.03])
    n = np.arange(1, LOSSY.modes + 1)
    assert -system.rate.real == pytest.approx(1.3 + 0.4 * n**2)
    cents = 1200.0 * np.log2(np.abs(system.rate) / (2.0 * np.pi * n * 293.66 * np.sqrt(1.0 + 2.2e-4 * n**2)))
    assert np.abs(cents).max() < 1e-6


def test_a_steady_push_bends_the_string_into_two_straight_lines() -> None:
    """Statics of a string: y(x_b) = f x_b (L - x_b) / (T L); the bridge carries f (1 - x_b / L)."""
    at, force = 0.09, 0.7
    string = replace(D, r0_per_s=40.0)
    system = assemble(string, [at])
    run = bow(
        system,
        None,
        speed_m_s=0.0,
        weight_n=0.0,
        step_s=2e-4,
        steps=4000,
        force_n=np.full((4000, 1), force),
    )
    deflection = (system.displacement @ run.state).real[0]
    expected = force * at * (D.length_m - at) / (D.tension_n * D.length_m)
    assert deflection == pytest.approx(expected, rel=0.005)  # 150 modes leave 1 / (150 pi^2 beta) over
    assert run.bridge_force_n[-1] == pytest.approx(force * (1.0 - at / D.length_m), rel=1e-6)


@pytest.mark.parametrize("harmonic", [0.3, 1.02, 2.5, 5.4, 9.97])
def test_the_string_gives_way_under_the_bow_as_its_wave_equation_says(harmonic: float) -> None:
    """Closed form of the damped string driven at x_b: velocity over force is
    i w sin(k x_b) sin(k (L - x_b)) / (T k sin(k L)), k^2 = (w^2 - 2 i w r) / c^2; torsion adds its own.
    """
    r, at = 6.0, 0.04
    string = replace(D, r0_per_s=r, modes=1500)
    omega = 2.0 * np.pi * 293.66 * harmonic
    c, T, L = 2.0 * D.length_m * D.f1_hz, D.tension_n, D.length_m

    def admittance(c: float, T: float, k: complex) -> complex:
        return complex(1j * omega * np.sin(k * at) * np.sin(k * (L - at)) / (T * k * np.sin(k * L)))

    expected = admittance(c, T, np.sqrt(omega**2 - 2j * omega * r) / c)
    system = assemble(string, [at])
    assert abs(transfer(system, system.surface[0], omega) - expected) < 0.01 * abs(expected) + 1e-3


def test_at_first_the_bow_feels_both_impedances_side_by_side() -> None:
    """Woodhouse (2003): before any echo, velocity over force is 1 / (2 Z0) + 1 / (2 Zt)."""
    twist = Torsion(5.2, 2.5, 45.0, modes=400)
    system = assemble(replace(D, modes=2000), [0.5 * D.length_m], torsion=twist)
    step, steps = 1e-6, 150  # the first echo of torsion comes back after 0.33 ms
    run = bow(
        system,
        None,
        speed_m_s=0.0,
        weight_n=0.0,
        step_s=step,
        steps=steps,
        force_n=np.full((steps, 1), 0.2),
    )
    mean = run.velocity_m_s[20:].mean()
    assert mean == pytest.approx(0.2 * (0.5 / D.impedance_kg_s) * (1.0 + 1.0 / 2.5), rel=0.01)


@pytest.mark.parametrize("frequency_hz", [150.0, 280.0, 300.0, 455.0, 560.0, 900.0])
def test_string_and_body_move_each_other_as_two_impedances_in_one_point_must(frequency_hz: float) -> None:
    """Closed form: a lossless string ends in the body's admittance Y (sum over modes of
    i w / m / (w_m^2 - w^2 + i w w_m / Q), Cremer 1984, ch. 9); waves on both sides of the bow are matched
    at the bow (jump of slope f / T) and at the bridge (velocity = Y T y'(0)).
    """
    at, L = 0.04, D.length_m
    omega = 2.0 * np.pi * frequency_hz
    Y = 0.0j
    for mode in BODY:
        w = 2.0 * np.pi * mode.frequency_hz
        Y += 1j * omega / mode.mass_kg / (w * w - omega * omega + 1j * omega * w / mode.quality)
    k, T = omega / (2.0 * L * D.f1_hz), D.tension_n
    # y = a cos kx + s sin kx left of the bow, b sin k(L - x) right of it
    equations = np.array(
        [
            [1j * omega, -Y * T * k, 0.0],
            [np.cos(k * at), np.sin(k * at), -np.sin(k * (L - at))],
            [-k * np.sin(k * at), k * np.cos(k * at), k * np.cos(k * (L - at))],
        ]
    )
    _, s, _ = np.linalg.solve(equations, np.array([0.0, 0.0, 1.0 / T]))
    system = assemble(replace(D, modes=300), [at], body=BODY)
    found = transfer(system, system.bridge_force, omega) + system.bridge_direct[0]
    assert abs(found - T * k * s) < 0.01 * abs(T * k * s)
    # and the bridge moves as its admittance says under that force
    velocity = transfer(system, system.bridge_velocity, omega)
    assert abs(velocity - Y * T * k * s) < 0.01 * abs(Y * T * k * s)


def test_a_free_string_with_hairs_torsion_and_body_only_loses_energy() -> None:
    """All parts are passive, so the energy of any state falls (seeded random states)."""
    system = assemble(LOSSY, HAIRS, torsion=TWIST, hair=RIBBON, body=BODY)
    rng = np.random.default_rng(5)
    d = len(system.mass)
    assert system.rate.real.max() < 0.0
    for _ in range(5):
        w = system.modal(
            rng.standard_normal(d) / np.sqrt(np.diag(system.stiffness)),
            rng.standard_normal(d) / np.sqrt(np.diag(system.mass)),
        )
        t = np.linspace(0.0, 0.01, 60)
        energy = [system.energy_j(w * np.exp(system.rate * s)) for s in t]
        assert np.all(np.diff(energy) < 0.0)


def test_what_the_bow_puts_in_is_what_the_lossless_string_holds() -> None:
    """Balance of energy: without loss, work of friction on the string = energy of the string, to rounding."""
    system = assemble(D, [0.0325], torsion=replace(TWIST, quality=1e15))
    run = bow(
        system, ThermalElastoPlastic(), speed_m_s=0.1, weight_n=0.4, step_s=1e-6, steps=20_000, every=10
    )
    assert run.unsolved == 0
    assert system.energy_j(run.state) == pytest.approx(run.work_j, rel=1e-9)


def test_rosin_warms_as_worked_by_hand() -> None:
    """van Walstijn et al. (2026): at 1 m/s and 1 N over 10 mm heat leaves with a_tau / (b_tau sqrt(v / Fb)
    + c_tau) = 45 us, and with a friction coefficient of 0.5 the contact settles at 0.5 / 0.0221 = 22.6 K;
    with the bow at rest it cools with a_tau / c_tau = 10 ms.
    """
    law = ThermalElastoPlastic(mu_s=0.5, mu_d=0.5, y_a=1.0)
    step = 2.5e-7
    speed = np.concatenate([np.ones(4000), np.zeros(40_000)])
    run = bow(rigid_slider(), law, speed_m_s=speed, weight_n=1.0, step_s=step, steps=44_000)
    warm = run.temperature_k[3999, 0]
    assert warm == pytest.approx(22.6, abs=0.1)
    start = np.argmax(run.temperature_k[:, 0] > 0.5 * warm)
    later = np.argmax(run.temperature_k[:, 0] > 0.75 * warm)
    assert (later - start) * step / np.log(2.0) == pytest.approx(45.2e-6, rel=0.03)
    assert run.temperature_k[43_999, 0] / warm == pytest.approx(np.exp(-1.0), rel=0.01)


def test_a_slow_pull_breaks_away_at_the_static_coefficient() -> None:
    """van Walstijn et al. (2026): cold rosin holds mu_s times the weight (1.05)."""
    run = bow(
        rigid_slider(), ThermalElastoPlastic(), speed_m_s=1e-4, weight_n=0.6, step_s=1e-6, steps=100_000
    )
    assert run.friction_n.max() == pytest.approx(1.05 * 0.6, rel=0.01)


@pytest.mark.parametrize("speed", [0.003, 0.03, 0.3, 1.0])
def test_steady_sliding_settles_where_friction_and_heat_agree(speed: float) -> None:
    """van Walstijn et al. (2026): t = mu_ss(t) v / (b_tau sqrt(v / Fb) + c_tau), mu_ss from 1.05 to 0.12;
    with xi = 2 a cubic in t, whose one real root numpy finds.
    """
    law = ThermalElastoPlastic()
    run = bow(rigid_slider(), law, speed_m_s=speed, weight_n=0.5, step_s=5e-7, steps=160_000)
    T0 = speed / (0.22 * np.sqrt(speed / 50.0) + 1e-4)
    roots = np.roots([1.0 / 625.0, -T0 * 0.3 * 0.4 / 625.0, 1.0, -T0 * 1.05])
    t = roots[np.abs(roots.imag) < 1e-9].real[0]
    assert run.temperature_k[-1, 0] == pytest.approx(t, rel=2e-3)
    assert run.friction_n[-1, 0] == pytest.approx(
        0.5 * (1.05 + 0.12 * t**2 / 625.0) / (1.0 + t**2 / 625.0), rel=2e-3
    )


def test_every_moment_of_the_curve_law_lies_on_its_curve() -> None:
    """Schoonderwaldt, Guettler and Askenfelt (2008): mu = 0.4 + 0.4 * 0.2 / (0.2 + |v|), or no sliding."""
    system = assemble(LOSSY, [0.0325])
    run = bow(system, Hyperbolic(), speed_m_s=0.1, weight_n=0.4, step_s=1e-6, steps=60_000)
    v, f = run.sliding_m_s[:, 0], run.friction_n[:, 0]
    slides = np.abs(v) > 1e-9
    assert 0.02 < slides.mean() < 0.5
    on_curve = 0.4 * np.sign(v) * (0.4 + 0.08 / (0.2 + np.abs(v)))
    assert np.abs(f - on_curve)[slides].max() < 1e-9
    assert np.abs(f)[~slides].max() <= 0.8 * 0.4 + 1e-9
    assert run.unsolved == 0


@pytest.mark.parametrize(("weight", "acceleration"), [(0.3, 0.5), (1.0, 1.0), (2.0, 2.0)])
def test_the_first_slip_comes_when_the_string_is_pulled_to_the_limit(
    weight: float, acceleration: float
) -> None:
    """Woodhouse and Galluzzo (2025), eqs 6-8: t1 = sqrt(mu_s F beta (1 - beta) / (f0 Z0 a))."""
    beta = 0.1
    system = assemble(LOSSY, [beta * D.length_m])
    step = 1e-6
    expected = np.sqrt(0.8 * weight * beta * (1 - beta) / (293.66 * D.impedance_kg_s * acceleration))
    steps = int(1.2 * expected / step)
    run = bow(
        system,
        Hyperbolic(),
        speed_m_s=acceleration * step * (np.arange(steps) + 0.5),
        weight_n=weight,
        step_s=step,
        steps=steps,
    )
    first = np.argmax(run.sliding_m_s[:, 0] > 1e-6) * step
    assert first == pytest.approx(expected, rel=0.03)


def test_shorter_steps_change_the_motion_four_times_less() -> None:
    """The method is of second order: halving the step divides the change by four (at least by three)."""
    system = assemble(replace(LOSSY, modes=60), HAIRS, torsion=TWIST, hair=RIBBON)
    records = []
    for fine in (1, 2, 4):
        run = bow(
            system,
            ThermalElastoPlastic(),
            speed_m_s=0.1,
            weight_n=0.4,
            step_s=1.0 / (293.66 * 800 * fine),
            steps=800 * 12 * fine,
            every=4 * fine,
        )
        records.append(run.bridge_force_n)
    coarse, fine_ = (
        np.sqrt(np.mean((a - b) ** 2)) for a, b in ((records[0], records[1]), (records[1], records[2]))
    )
    assert coarse / fine_ > 3.0


def test_the_reference_bows_as_helmholtz_saw_it() -> None:
    """Woodhouse, Euphonics 9.3.1 and 9.4.2: one slip a period lasting the share beta, and a sawtooth of
    2 Z0 vb / beta at the bridge, within 8 % on a string of ten times the measured Q.
    """
    beta, vb = 0.08, 0.1
    string = replace(D, r0_per_s=0.13, r2_per_s=0.04, modes=200)
    system = assemble(string, [beta * D.length_m])
    per_period = 3200
    run = bow(
        system,
        ThermalElastoPlastic(),
        speed_m_s=vb,
        weight_n=0.5,
        step_s=1.0 / (293.66 * per_period),
        steps=per_period * 150,
        every=8,
    )
    v, force = run.sliding_m_s[-4000:, 0], run.bridge_force_n[-4000:]
    assert np.mean(v > 0.25 * vb / beta) == pytest.approx(beta, rel=0.08)
    starts = np.flatnonzero((v[1:] > 0.25 * vb / beta) & (v[:-1] <= 0.25 * vb / beta))
    assert np.diff(starts) == pytest.approx(400, abs=3)
    # first harmonic of the sawtooth, 2 Z0 vb / (pi beta): free of the ringing at its jump
    spectrum = 2.0 * np.abs(np.fft.rfft(force)) / len(force)
    assert spectrum[10] == pytest.approx(2.0 * D.impedance_kg_s * vb / (np.pi * beta), rel=0.08)
