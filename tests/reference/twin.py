"""The same string for both: reads what the engine was told, and builds the modal string from it.

Two strings are of interest. With ``filters=False`` the reference has the partials and decays that the
catalogue gives: the engine's whole error shows. With ``filters=True`` it has the partials and decays which
the engine's end filters amount to (worked out here from their coefficients): what then remains is the error
of stepping, contact and coupling.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from colophony.physics.design import Design, own_decay
from colophony.physics.friction import McIntyre1979, VanWalstijn2026
from colophony.physics.gestures import Stroke, as_curve
from colophony.physics.instruments import Instrument
from colophony.physics.motion import Motion
from colophony.physics.player import Model, Player
from colophony.physics.strings import BowedString

from .bowing import Hyperbolic, Run, ThermalElastoPlastic, bow
from .linear import BodyMode, Hair, Real, StringData, Torsion, assemble


@dataclass(frozen=True)
class Twin:
    """A run of the reference, sampled as the engine's, and the place of the bow in it."""

    run: Run
    beta: float
    impedance_kg_s: float


def play_reference(
    instrument: Instrument,
    string: BowedString,
    stroke: Stroke,
    *,
    model: Model,
    samples_per_period: int,
    periods: int,
    filters: bool,
    modes: int = 250,
    twists: int = 120,
    substeps: int | None = None,
    lumped: bool = True,
) -> Twin:
    """Bow the modal twin of an open string.

    Parameters
    ----------
    samples_per_period : the engine's; the reference records as often, and takes ``substeps`` in between
    filters : partials and decays of the engine's filters, not of the catalogue
    modes, twists : of the string and of torsion; what is left out makes the string too stiff under the bow
        by 1 / (pi^2 beta (1 - beta) n), 0.5 and 0.9 % at beta 0.1
    lumped : torsion is felt at the middle of the ribbon, as in the engine, not under each hair
    """
    f0, L, K = string.open_frequency_hz, string.sounding_length_m, samples_per_period
    player = Player(instrument, string, frequency_hz=f0, model=model, samples_per_period=K)
    places = player.segments([stroke], steps=2 * K)
    positions = [player.design.beta_at(point) * L for point in places.at[-1]]
    body = instrument.body if model.body else None
    r0, r2 = own_decay(string, body)
    B = string.inharmonicity if model.stiffness else 0.0
    data = StringData(
        L,
        string.mass_per_length_kg_m,
        f0 / np.sqrt(1.0 + B),
        B,
        model.loss * r0,
        model.loss * r2,
        modes,
    )
    twist = Torsion(
        string.torsion_speed_ratio,
        string.torsion_impedance_ratio,
        string.torsion_quality / model.loss,
        twists,
    )
    if filters:
        omegas, decays = partials_of_filters(player.design, modes)
        data = replace(data, omegas=omegas, decays=decays)
        omegas, decays = torsion_of_filters(player.design, twists)
        twist = replace(twist, omegas=omegas, decays=decays)
    ribbon = player.ribbon
    middle = float(np.dot(positions, places.shares[-1]))
    hair = Hair(ribbon.stiffness_n_m, ribbon.mass_kg, ribbon.damping_kg_s)
    system = assemble(
        data,
        positions,
        torsion=twist if model.torsion else None,
        torsion_positions_m=[middle] * len(positions) if lumped else None,
        hair=hair if model.compliant_hair else None,
        body=[BodyMode(m.frequency_hz, m.quality, m.mass_kg) for m in body.modes] if body else (),
    )
    substeps = substeps or int(np.ceil(3200 / K))
    steps = K * substeps * periods
    times = (np.arange(steps) + 0.5) / (K * substeps * f0)
    run = bow(
        system,
        _law(model, ribbon.contact_width_m(float(as_curve(stroke.tilt_deg).values[-1]))),
        speed_m_s=as_curve(stroke.speed_m_s).at(times),
        weight_n=as_curve(stroke.weight_n).at(times),
        step_s=1.0 / (K * substeps * f0),
        steps=steps,
        every=substeps,
        shares=places.shares[-1],
    )
    if run.unsolved:
        raise RuntimeError(f"{run.unsolved} steps of the reference did not converge")
    return Twin(run, middle / L, data.impedance_kg_s)


def as_motion(twin: Twin, like: Motion) -> Motion:
    """Return the reference's run in the engine's form, to be read by the same reader."""
    slow = np.maximum(0.1 * np.abs(like.bow_speed_m_s), 1e-4)
    return replace(
        like,
        beta=twin.beta,
        velocity_m_s=twin.run.velocity_m_s,
        slipping=np.abs(twin.run.sliding_m_s) > slow[:, None],
        bridge_force_n=twin.run.bridge_force_n,
    )


def _law(model: Model, width_m: float) -> ThermalElastoPlastic | Hyperbolic:
    law = model.friction
    if isinstance(law, VanWalstijn2026):
        return ThermalElastoPlastic(
            law.mu_s,
            law.mu_d,
            law.sigma0_per_m,
            law.tau_g_k,
            law.y_a,
            2.0,
            law.break_away,
            law.a_tau_m_k,
            law.b_tau,
            law.c_tau,
            width_m,
        )
    assert isinstance(law, McIntyre1979)
    return Hyperbolic(law.mu_s, law.mu_d, law.v0_m_s)


def partials_of_filters(design: Design, modes: int) -> tuple[tuple[float, ...], tuple[float, ...]]:
    """Return frequencies in rad/s and decays in 1/s of the loop that the engine's numbers describe.

    A partial is where the phase once round is a whole number of turns; what is lost once round, over the
    time it takes there, is its decay.
    """
    points, tuning = design.nut_at(design.frequency_hz)
    w = np.linspace(1e-6, 0.999 * np.pi, 400_000)
    z1 = np.exp(-1j * w)
    around = _end(design.bridge, z1) * _end(design.nut, z1) * (tuning + z1) / (1.0 + tuning * z1)
    for _ in range(design.sections):
        around = around * (design.dispersion + z1) / (1.0 + design.dispersion * z1)
    return _modes(w, 2 * points * w - np.unwrap(np.angle(around)), np.abs(around), design.rate_hz, modes)


def torsion_of_filters(design: Design, modes: int) -> tuple[tuple[float, ...], tuple[float, ...]]:
    """Return frequencies in rad/s and decays in 1/s of the engine's torsional loop."""
    w = np.linspace(1e-6, 0.999 * np.pi, 400_000)
    around = _end(design.torsion_end, np.exp(-1j * w)) ** 2
    phase = 2 * design.torsion_points * w - np.unwrap(np.angle(around))
    return _modes(w, phase, np.abs(around), design.rate_hz, modes)


def _end(end: object, z1: Real) -> Real:
    """Response of an end's loss: a low-pass and a slow low-pass side by side."""
    e = end
    return e.gain / (1.0 - e.pole * z1) + e.slow_gain / (1.0 - e.slow_pole * z1)  # type: ignore[attr-defined]


def _modes(
    w: Real, phase: Real, gain: Real, rate_hz: float, modes: int
) -> tuple[tuple[float, ...], tuple[float, ...]]:
    """Whole turns of the phase below 0.8 of half the sample rate; above, where the engine has next to
    nothing, whole multiples with the last decay: their inertia stays out of sight, their softness counts.
    """
    n = np.arange(1, modes + 1)
    inside = n[: int(0.8 * phase[-1] / (2.0 * np.pi))]
    at = np.interp(2.0 * np.pi * inside, phase, w)
    decay = -np.log(np.interp(at, w, gain)) / np.interp(at, w, np.gradient(phase, w))
    beyond = n[len(inside) :]
    at = np.concatenate([at, beyond * at[-1] / inside[-1]])
    decay = np.concatenate([decay, np.full(len(beyond), decay[-1])])
    return tuple(at * rate_hz), tuple(decay * rate_hz)
