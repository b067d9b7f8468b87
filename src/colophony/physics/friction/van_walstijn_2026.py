"""M. van Walstijn, V. Chatziioannou, A. Lampis, E. Matusiak, "A thermal elasto-plastic friction model for
bowed-string simulation", Acta Acustica 10, 47 (2026), doi 10.1051/aacus/2026042.

Between hair and string lies a layer of rosin that deflects by z like bristles and flows where z nears its
limit; sliding heats it, and warm rosin is weak. Per hair, with normal force F and force per width Fb:

====================  ==========================================================================
friction              f = F sigma0 z
deflection            dz/dt = v (1 - alpha(z, v) z / z_ss),  z_ss = y(tau) mu_str(v) / sigma0
strength              y(tau) = (1 + ya X) / (1 + X),  X = (tau / tau_g)^2
steady sliding        mu_ss(tau) = (mu_s + mu_d ya X) / (1 + X),  mu_str = mu_ss / y at the steady tau of v
heat                  a_tau Fb dtau/dt + (b_tau sqrt(|v| / Fb) + c_tau) Fb tau = Fb sigma0 z zeta
====================  ==========================================================================

tau is the contact's temperature above the room's, zeta = v - dz/dt the part of the sliding that flows.
The exponent of X, xi in the source, is 2 here as in its table.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from colophony.errors import InputError
from colophony.language import _, figures
from colophony.physics.fitting import Floats, least_squares
from colophony.physics.kernel.body import body
from colophony.physics.kernel.vector import choose


@dataclass(frozen=True, slots=True)
class VanWalstijn2026:
    """Constants of the thermal elasto-plastic law; defaults are the source's set for a cello's G string."""

    mu_s: float = 1.05  #: static coefficient of cold rosin, above mu_d
    mu_d: float = 0.3  #: coefficient of fast sliding, above 0
    sigma0_per_m: float = 1.0e6  #: stiffness of the bristles over normal force, 1/m
    tau_g_k: float = 25.0  #: warming at which strength has fallen halfway, K
    y_a: float = 0.4  #: strength left in hot rosin, 0 to 1
    break_away: float = 0.5  #: z_ba / z_ss, deflection where flow begins, 0 to 1
    a_tau_m_k: float = 1.0e-6  #: heat stored, m/K
    b_tau: float = 0.22  #: heat carried off by the moving string, W^(1/2) m^(-1/2) K^(-1)
    c_tau: float = 1.0e-4  #: heat conducted away, m s^-1 K^-1

    def __post_init__(self) -> None:
        """Refuse constants that make no law with `InputError`."""
        if not 0.0 < self.mu_d < self.mu_s <= 3.0:
            raise InputError(
                _(
                    "friction of {rest} at rest and {sliding} sliding is out of range: choose 0 < mu_d < "
                    "mu_s, up to 3"
                ).format(rest=figures(f"{self.mu_s:g}"), sliding=figures(f"{self.mu_d:g}"))
            )
        if not 0.0 < self.y_a <= 1.0 or not 0.0 < self.break_away < 1.0:
            raise InputError(
                _(
                    "y_a = {y_a} and break_away = {break_away} are out of range: choose both between 0 and 1"
                ).format(y_a=figures(f"{self.y_a:g}"), break_away=figures(f"{self.break_away:g}"))
            )
        if not min(self.sigma0_per_m, self.tau_g_k, self.a_tau_m_k, self.b_tau, self.c_tau) > 0.0:
            raise InputError(_("a constant of the rosin is not above 0: stiffness, heat and tau_g must be"))

    def steady_warming_k(
        self, velocity_m_s: NDArray[np.float64], *, force_per_width_n_m: float
    ) -> NDArray[np.float64]:
        """Return the warming tau in K under steady sliding, solved from tau = mu_ss(tau) T0(v).

        Parameters
        ----------
        velocity_m_s : [...] sliding speed, at least 0 m/s
        force_per_width_n_m : normal force over the width of hair, N/m, above 0
        """
        v = np.asarray(velocity_m_s, float)
        t0 = v / (self.b_tau * np.sqrt(v / force_per_width_n_m) + self.c_tau)
        return self.tau_g_k * _steady_warming(self, t0 / self.tau_g_k)

    def steady_coefficient(
        self, velocity_m_s: NDArray[np.float64], *, force_per_width_n_m: float
    ) -> NDArray[np.float64]:
        """Return the friction coefficient of steady sliding, mu_ss at the steady warming."""
        x = (self.steady_warming_k(velocity_m_s, force_per_width_n_m=force_per_width_n_m) / self.tau_g_k) ** 2
        return np.asarray((self.mu_s + self.mu_d * self.y_a * x) / (1 + x))

    def numbers(self, real: Any, dt: float) -> Numbers:
        """Return the kernel's constants in its precision for a time step in s."""
        p1, p2, q1, q2, q3 = _strength_fit(self)
        rise = 1 / (1 - self.break_away)
        return Numbers(
            *map(
                real,
                (
                    1.0,
                    0.5,
                    0.5 * dt,
                    1.5 * dt / rise,
                    dt / rise,
                    self.sigma0_per_m,
                    1 / self.sigma0_per_m,
                    self.mu_s,
                    p1,
                    p2,
                    self.mu_d * q3,
                    q1,
                    q2,
                    q3,
                    1 / self.tau_g_k,
                    self.tau_g_k**2,
                    self.y_a,
                    rise * self.sigma0_per_m,
                    rise * self.sigma0_per_m * self.tau_g_k**2,
                    rise * self.break_away,
                    self.sigma0_per_m / self.a_tau_m_k,
                    dt / self.a_tau_m_k,
                    self.b_tau,
                    self.c_tau,
                    1e-10,
                ),
            )
        )


class Numbers(NamedTuple):
    """Constants of `step` in the precision of the run."""

    one: Any
    half: Any
    half_dt: Any
    q_from: Any  #: 3 dt / 2 over the rise, 1 / (1 - break_away)
    q_falls: Any  #: 2 dt / 2 over it
    sigma0: Any
    per_sigma0: Any
    mu_s: Any
    p1: Any
    p2: Any
    p3: Any
    q1: Any
    q2: Any
    q3: Any
    per_tau_g: Any
    tau_g2: Any
    y_a: Any
    rise: Any  #: sigma0 / (1 - break_away)
    rise_tau_g2: Any
    rise_begins: Any  #: break_away / (1 - break_away)
    heating: Any
    heat_step: Any
    b_tau: Any
    c_tau: Any
    still: Any


def _steady_warming(law: VanWalstijn2026, k: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return t = tau / tau_g, the one real root of t (1 + t^2) = k (mu_s + mu_d ya t^2), by bisection."""
    low, high = np.zeros_like(k), k * law.mu_s + 1e-300
    for _step in range(200):
        t = 0.5 * (low + high)
        above = t * (1 + t * t) > k * (law.mu_s + law.mu_d * law.y_a * t * t)
        low, high = np.where(above, low, t), np.where(above, t, high)
    return np.asarray(0.5 * (low + high))


@lru_cache(maxsize=64)
def _strength_fit(law: VanWalstijn2026) -> tuple[float, float, float, float, float]:
    """Fit mu_str(k), k = T0 / tau_g, by (mu_s + p1 k + p2 k^2 + mu_d q3 k^3) / (1 + q1 k + q2 k^2 + q3 k^3).

    Both ends are exact; the five coefficients, kept positive so that nothing has a pole, by least squares on
    the logarithm of the ratio.
    """
    k = np.logspace(-3, 3, 300)
    x = _steady_warming(law, k) ** 2
    target = np.log((law.mu_s + law.mu_d * law.y_a * x) / (1 + law.y_a * x))

    def misfit(logs: Floats) -> Floats:
        p1, p2, q1, q2, q3 = np.exp(np.clip(logs, -15.0, 15.0))
        above = law.mu_s + k * (p1 + k * (p2 + k * law.mu_d * q3))
        return np.asarray(np.log(above / (1 + k * (q1 + k * (q2 + k * q3)))) - target)

    return tuple(
        float(value) for value in np.exp(least_squares(misfit, np.log([5.3, 0.37, 6.5, 1.3, 0.012])))
    )  # type: ignore[return-value]


@body
def ready(Y, F, z, tau, root, r, c):  # type: ignore[no-untyped-def]
    """Return q, h and k z of `step`: all that does not wait for the motion of this step.

    Parameters: Y (s/kg) admittance of string and hair; F (N); z (m); tau (K); root = sqrt(|v|) of the last
    step; r = 1 / sqrt(Fb) in (m/N)^(1/2); c constants.
    """
    # 1 / z_ss at the last step's speed and warming, over the range of z / z_ss in which alpha rises. mu_str =
    # P(n/d) / Q(n/d) is written without the division: both sides times d^3.
    # What is `still` added to is never so small that its powers are subnormal, which would be slow.
    n = root * root * c.per_tau_g + c.still
    d = c.b_tau * root * r + c.c_tau
    d2 = d * d
    n2 = n * n
    P = d * (d2 * c.mu_s + n * (d * c.p1 + n * c.p2)) + n2 * n * c.p3
    Q = d * (d2 + n * (d * c.q1 + n * c.q2)) + n2 * n * c.q3
    x = tau * tau
    per_rise = Q * (c.rise_tau_g2 + c.rise * x) / (P * (c.tau_g2 + c.y_a * x))
    # alpha: none below break-away, full at z_ss.
    # A smoothstep in place of the source's half sine; they differ by at most 0.01.
    rise = min(max(abs(z) * per_rise - c.rise_begins, c.one - c.one), c.one)
    k = Y * F * c.sigma0
    return rise * rise * (c.q_from - c.q_falls * rise) * per_rise, c.half + k * c.half_dt, k * z


@body
def step(drive, push, Y, Z, F, per_F, z, tau, root, r, q, h, lean, c):  # type: ignore[no-untyped-def]
    """Advance one hair by dt; return force, sliding velocity, and the three values it remembers.

    The load line is v = D - Y f. Implicit in z and v: the closed form of a quadratic, no iteration.

    Parameters: with D (m/s) the sliding velocity without friction, drive = D - lean and push = D / Y;
    Z = 1 / Y; per_F = 1 / F; q, h and lean, k z, as `ready` returns them; the rest as there.
    """
    # q u^2 + h u - |D - k z| / 2 = 0 for u = |v|, with 2 q = dt alpha / z_ss, 2 h = 1 + k dt - 2 s D q and
    # k = Y F sigma0; no alpha where z leans against the sliding. Of the two forms of the root the one that
    # does not cancel.
    s = math.copysign(c.one, drive)
    q = choose(z * drive > c.one - c.one, q, c.one - c.one)
    drive = abs(drive)
    h = h - q * (drive + s * lean)
    whole = abs(h) + math.sqrt(h * h + q * (drive + drive))
    plain = h > c.one - c.one
    u = choose(plain, drive, whole) / choose(plain, whole, q + q)
    # The force F sigma0 z by the load line: the next hair waits for this and for nothing below. It is never
    # above mu_s F. The source needs no such bound; a step that lags by one sample does, under a heavy bow.
    most = c.mu_s * F
    free = push - s * Z * u
    f = min(max(free, -most), most)
    v = choose(abs(free) > most, s * drive + lean - Y * f, s * u)
    u = abs(v)
    z = f * per_F * c.per_sigma0
    # Heat: sigma0 z zeta with zeta = 2 q u z / dt, never negative.
    root = math.sqrt(u)
    warmed = tau + c.heating * (z * z) * ((q + q) * u) + c.still
    tau = warmed / (c.one + c.heat_step * (c.b_tau * root * r + c.c_tau))
    return f, v, z, tau, root
