"""The bow: friction solved with the modal string in small steps, the force constant over each.

The modes take a constant force exactly, and give the sliding velocity as an exact mean over the step;
friction is taken at the middle of the step (implicit midpoint, second order). The equations of all contact
points are solved together by Newton's method until the residual is rounding error.

Friction laws: `ThermalElastoPlastic` (M. van Walstijn, V. Chatziioannou, A. Lampis, E. Matusiak, "A thermal
elasto-plastic friction model for bowed-string simulation", Acta Acustica 10, 47, 2026) and `Hyperbolic`
(the curve of E. Schoonderwaldt, K. Guettler, A. Askenfelt, Acta Acust. u. Acust. 94, 2008). With the
modes' own inertia the curve needs no rule for hysteresis: jumps take the time they take.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numba
import numpy as np

from .linear import Complex, LinearSystem, Real


@dataclass(frozen=True)
class ThermalElastoPlastic:
    """Constants for a cello G string, van Walstijn et al. (2026)."""

    mu_s: float = 1.05
    mu_d: float = 0.3
    sigma0_per_m: float = 1.0e6  #: bristle stiffness over normal force
    tau_g_k: float = 25.0
    y_a: float = 0.4
    xi: float = 2.0
    breakaway: float = 0.5  #: z_ba / z_ss
    a_tau: float = 1.0e-6  #: m/K
    b_tau: float = 0.22  #: W^1/2 m^-1/2 K^-1
    c_tau: float = 1.0e-4  #: m/(s K)
    width_m: float = 0.010  #: of the ribbon on the string

    def steady_temperature_k(self, T0: Real) -> Real:
        """Temperature t of steady sliding, by bisection of t = mu_ss(t) T0.

        T0 = v / (b_tau sqrt(v / Fb) + c_tau), so that T0 times the friction coefficient is the
        temperature at which the heat made by friction leaves the contact.
        """
        low, high = np.zeros_like(T0), self.mu_s * T0 + 1e-30
        for _ in range(80):
            middle = 0.5 * (low + high)
            above = middle > self.steady_friction(middle) * T0
            high, low = np.where(above, middle, high), np.where(above, low, middle)
        return 0.5 * (low + high)

    def softening(self, tau: Real) -> Real:
        """y(tau), 1 when cold and y_a when hot."""
        X = (tau / self.tau_g_k) ** self.xi
        return (1.0 + self.y_a * X) / (1.0 + X)

    def steady_friction(self, tau: Real) -> Real:
        """mu_ss(tau), the friction coefficient of steady sliding at that temperature."""
        X = (tau / self.tau_g_k) ** self.xi
        return (self.mu_s + self.mu_d * self.y_a * X) / (1.0 + X)


@dataclass(frozen=True)
class Hyperbolic:
    """mu(v) = mu_d + (mu_s - mu_d) v0 / (v0 + |v|)."""

    mu_s: float = 0.8
    mu_d: float = 0.4
    v0_m_s: float = 0.2


@dataclass(frozen=True)
class Run:
    """What was recorded; every array begins with time."""

    rate_hz: float
    sliding_m_s: Real  #: [n, j] bow minus string, per contact point
    velocity_m_s: Real  #: [n] string surface under the bow, mean over the points
    friction_n: Real  #: [n, j]
    bridge_force_n: Real  #: [n]
    temperature_k: Real  #: [n, j] above ambient
    work_j: float  #: done on the string and hairs by friction and by the bow's own motion
    state: Complex  #: modal state at the end
    unsolved: int  #: steps whose equations were not met to the tolerance; 0 in a sound run


def bow(
    system: LinearSystem,
    law: ThermalElastoPlastic | Hyperbolic | None,
    *,
    speed_m_s: float | Real,
    weight_n: float | Real,
    step_s: float,
    steps: int,
    every: int = 1,
    shares: Sequence[float] | None = None,
    force_n: Real | None = None,
    state: Complex | None = None,
) -> Run:
    """Bow the string, or push it with a given force.

    Parameters
    ----------
    law : friction; ``None`` when ``force_n`` [steps, points] is prescribed
    speed_m_s, weight_n : a number, or one value a step (mean over the step)
    every : record every so many steps
    shares : of the weight, per point; equal if not given
    state : modal state to start from; rest if not given
    """
    points = system.inputs.shape[1]
    e = np.exp(system.rate * step_s)
    b = (((e - 1.0) / system.rate)[:, None] * system.inputs).T
    mean_out = system.displacement * ((e - 1.0) / step_s)
    # mean velocity over a step for a constant unit force, beside that of the state the step begins with
    mobility = (system.displacement @ b.T).real / step_s
    w = np.zeros(len(e), dtype=complex) if state is None else state.astype(complex)
    share = np.full(points, 1.0 / points) if shares is None else np.asarray(shares, dtype=float)
    speed = np.broadcast_to(np.asarray(speed_m_s, dtype=float), steps)
    weight = np.broadcast_to(np.asarray(weight_n, dtype=float), steps)
    given = np.zeros((1, points)) if force_n is None else np.ascontiguousarray(force_n, dtype=float)
    kind, numbers, table, table_step = _pack(law, force_n is not None)
    if kind == 1:
        stable = np.max(mobility) * np.max(weight) * (law.mu_s - law.mu_d) / law.v0_m_s  # type: ignore[union-attr]
        if stable >= 1.0:
            raise ValueError(f"step too long for the curve: {stable:.2f} must be below 1")
    n = steps // every
    sliding, friction, temperature = (np.zeros((n, points)) for _ in range(3))
    velocity, bridge = np.zeros(n), np.zeros(n)
    wr, wi = w.real.copy(), w.imag.copy()
    work, unsolved = _steps(
        kind, numbers, table, table_step, share, speed, weight, given, step_s, steps, every,
        *_split(e), *_split(b), *_split(mean_out), np.ascontiguousarray(mobility),
        *_split(system.bridge_force), system.bridge_direct, *_split(system.surface.mean(axis=0)),
        wr, wi, sliding, velocity, friction, bridge, temperature,
    )  # fmt: skip
    return Run(
        1.0 / (step_s * every),
        sliding,
        velocity,
        friction,
        bridge,
        temperature,
        work,
        wr + 1j * wi,
        unsolved,
    )


def _split(z: Complex) -> tuple[Real, Real]:
    return np.ascontiguousarray(z.real), np.ascontiguousarray(z.imag)


def _pack(law: ThermalElastoPlastic | Hyperbolic | None, given: bool) -> tuple[int, Real, Real, float]:
    """Kind, constants and the table of mu_str over T0 for the loop."""
    if given or law is None:
        return 0, np.zeros(1), np.zeros(2), 1.0
    if isinstance(law, Hyperbolic):
        return 1, np.array([law.mu_s, law.mu_d, law.v0_m_s]), np.zeros(2), 1.0
    step = 0.02
    T0 = np.arange(60_000) * step  # K; up to 1200
    t = law.steady_temperature_k(T0)
    table = law.steady_friction(t) / law.softening(t)
    numbers = np.array(
        [law.sigma0_per_m, law.tau_g_k, law.y_a, law.xi, law.breakaway, law.a_tau, law.b_tau, law.c_tau,
         law.width_m]
    )  # fmt: skip
    return 2, numbers, table, step


def _jit(function: Any) -> Any:
    return numba.njit(cache=True, fastmath={"reassoc", "contract", "nsz", "arcp"}, error_model="numpy")(
        function
    )


@_jit
def _steps(
    kind, p, table, table_step, share, speed, weight, given, dt, steps, every,
    er, ei, br, bi, cr, ci, G, fr, fi, direct, sr, si,
    wr, wi, sliding, velocity, friction, bridge, temperature,
):  # fmt: skip
    """Advance all; mutates the modal state ``wr + i wi`` and fills the records. Returns work, failures."""
    J, K = br.shape
    z, tau, tau_before = np.zeros(J), np.zeros(J), np.zeros(J)
    f, v, V, zb = np.zeros(J), np.zeros(J), np.zeros(J), np.zeros(J)
    work, unsolved = 0.0, 0
    for i in range(steps):
        for j in range(J):
            total = 0.0
            for k in range(K):
                total += cr[j, k] * wr[k] - ci[j, k] * wi[k]
            V[j] = speed[i] - total  # sliding velocity if there were no friction, mean over the step
        if kind == 0:
            for j in range(J):
                f[j] = given[i, j]
        elif kind == 1:
            unsolved += _solve_curve(p, share * weight[i], V, G, f)
        else:
            unsolved += _solve_thermal(
                p, table, table_step, share, weight[i], V, G, dt, z, tau, tau_before, zb, f
            )
        for j in range(J):
            total = V[j]
            for k in range(J):
                total -= G[j, k] * f[k]
            v[j] = total
            work += f[j] * (speed[i] - v[j]) * dt
        if kind == 2:
            _advance_contact(p, share, weight[i], v, dt, z, zb, tau, tau_before)
        for k in range(K):
            a = er[k] * wr[k] - ei[k] * wi[k]
            c = er[k] * wi[k] + ei[k] * wr[k]
            wr[k] = a
            wi[k] = c
        for j in range(J):
            push = f[j]
            for k in range(K):
                wr[k] += br[j, k] * push
                wi[k] += bi[j, k] * push
        if (i + 1) % every == 0:
            n = (i + 1) // every - 1
            force, surface = 0.0, 0.0
            for k in range(K):
                force += fr[k] * wr[k] - fi[k] * wi[k]
                surface += sr[k] * wr[k] - si[k] * wi[k]
            for j in range(J):
                force += direct[j] * f[j]
                sliding[n, j] = v[j]
                friction[n, j] = f[j]
                temperature[n, j] = tau[j]
            bridge[n] = force
            velocity[n] = surface
    return work, unsolved


@_jit
def _solve_curve(p, F, V, G, f):
    """All points of the hyperbolic curve, swept until still. Returns 1 if they did not come to rest."""
    mu_s, mu_d, v0 = p[0], p[1], p[2]
    J = len(f)
    for _ in range(500):
        moved = 0.0
        for j in range(J):
            w = V[j]
            for k in range(J):
                if k != j:
                    w -= G[j, k] * f[k]
            g = G[j, j]
            if abs(w) <= g * F[j] * mu_s:
                new = w / g
            else:
                b = v0 + g * F[j] * mu_d - abs(w)
                c = v0 * (g * F[j] * mu_s - abs(w))
                u = 0.5 * (-b + np.sqrt(b * b - 4.0 * c))
                new = np.copysign(F[j] * (mu_d + (mu_s - mu_d) * v0 / (v0 + u)), w)
            moved = max(moved, abs(new - f[j]))
            f[j] = new
        if moved < 1e-11:
            return 0
    return 1


@_jit
def _rate(p, table, table_step, Fb, y, z, v):
    """dz/dt of the bristle. Half-sine between breakaway and steady state (Dupont et al. 2002)."""
    speed = abs(v)
    T0 = speed / (p[6] * np.sqrt(speed / Fb) + p[7]) / table_step
    at = min(int(T0), len(table) - 2)
    share = min(T0 - at, 1.0)
    z_ss = y * (table[at] + share * (table[at + 1] - table[at])) / p[0]
    size = abs(z)
    alpha = 0.0
    if z * v > 0.0:
        z_ba = p[4] * z_ss
        if size >= z_ss:
            alpha = 1.0
        elif size > z_ba:
            alpha = 0.5 + 0.5 * np.sin(np.pi * (size - 0.5 * (z_ss + z_ba)) / (z_ss - z_ba))
    return v - alpha * speed * size / z_ss * (1.0 if z > 0.0 else -1.0)


@_jit
def _softening(p, tau):
    X = (tau / p[1]) ** p[3]
    return (1.0 + p[2] * X) / (1.0 + X)


@_jit
def _solve_thermal(p, table, table_step, share, weight, V, G, dt, z, tau, tau_before, zb, f):
    """Bristle deflections at mid-step by Newton's method; fills ``zb`` and ``f``. Returns 1 on failure."""
    J = len(f)
    A, R, y, Fb = np.zeros((J, J)), np.zeros(J), np.zeros(J), np.zeros(J)
    for j in range(J):
        # temperature at mid-step, carried on from the last step
        y[j] = _softening(p, max(0.0, tau[j] + 0.5 * (tau[j] - tau_before[j])))
        Fb[j] = max(share[j] * J * weight / p[8], 1e-9)
        zb[j] = z[j]
    failed = 1
    for _ in range(60):
        worst = 0.0
        for j in range(J):
            v = V[j]
            for k in range(J):
                v -= G[j, k] * share[k] * weight * p[0] * zb[k]
            r = 2.0 * (zb[j] - z[j]) / dt - _rate(p, table, table_step, Fb[j], y[j], zb[j], v)
            at = (p, table, table_step, Fb[j], y[j])
            h = 1e-12
            r_z = 2.0 / dt - (_rate(*at, zb[j] + h, v) - _rate(*at, zb[j] - h, v)) / (2.0 * h)
            h = 1e-6 * abs(v) + 1e-9
            r_v = -(_rate(*at, zb[j], v + h) - _rate(*at, zb[j], v - h)) / (2.0 * h)
            R[j] = r
            worst = max(worst, abs(r) * dt)
            for k in range(J):
                A[j, k] = -r_v * G[j, k] * share[k] * weight * p[0]
            A[j, j] += r_z
        if worst < 1e-15:  # m; a bristle gives way at about 1e-6 m
            failed = 0
            break
        _eliminate(A, R)
        for j in range(J):
            zb[j] -= R[j]
    for j in range(J):
        f[j] = share[j] * weight * p[0] * zb[j]
    return failed


@_jit
def _eliminate(A, R):
    """Solve A x = R in place (x in R); the diagonal rules, so no pivoting."""
    J = len(R)
    for i in range(J):
        for j in range(i + 1, J):
            m = A[j, i] / A[i, i]
            for k in range(i, J):
                A[j, k] -= m * A[i, k]
            R[j] -= m * R[i]
    for i in range(J - 1, -1, -1):
        for k in range(i + 1, J):
            R[i] -= A[i, k] * R[k]
        R[i] /= A[i, i]


@_jit
def _advance_contact(p, share, weight, v, dt, z, zb, tau, tau_before):
    """End of step: bristles, then heat (trapezoid): a tau' = sigma0 z (v - z') - (b sqrt(|v|/Fb) + c) tau."""
    for j in range(len(z)):
        new = 2.0 * zb[j] - z[j]
        Fb = max(share[j] * len(z) * weight / p[8], 1e-9)
        heat = p[0] * zb[j] * (v[j] - (new - z[j]) / dt)
        leave = p[6] * np.sqrt(abs(v[j]) / Fb) + p[7]
        half = 0.5 * dt / p[5]
        tau_before[j] = tau[j]
        tau[j] = max(0.0, ((1.0 - half * leave) * tau[j] + 2.0 * half * heat) / (1.0 + half * leave))
        z[j] = new
