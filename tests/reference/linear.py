"""The linear part: stiff damped string, torsion, hairs and body as one system of complex modes.

Displacement of a string of length L between bridge (x = 0) and nut, the bridge moving by Y:

    y(x, t) = Y(t) (1 - x / L) + sum_n q_n(t) sin(n pi x / L)

Lagrange's equations for q_n and for the body's modes u_m, with Y = sum_m u_m, read M x'' + C x' + K x = P f,
f the forces of the hairs on the string. Mass couples q_n and u_m through m' L / (n pi); stiffness does not.
Torsion is a second set of modes, in surface displacement, that meets the rest only under the hairs; a hair
is a mass on a spring and a damper, pushed by -f. Every input has its output: the hair's point slides with
v = vb - P^T x', so that the system can only lose energy.

Sources: L. Cremer, The Physics of the Violin (1984), chapters 2 and 3 (string and torsion); H. Fletcher,
E. Blackham and R. Stratton, "Quality of piano tones", JASA 34 (1962), for f_n = n f1 sqrt(1 + B n^2);
R. Pitteroff and J. Woodhouse, Acta Acust. u. Acust. 84 (1998), for hair as spring, damper and mass.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
import scipy.linalg
from numpy.typing import NDArray

Real = NDArray[np.float64]
Complex = NDArray[np.complex128]


@dataclass(frozen=True)
class StringData:
    """A string. ``f1_hz`` is c / 2L of the flexible string; mode n decays as exp(-(r0 + r2 n^2) t).

    ``omegas`` and ``decays`` put other modes in the place of those of the law, for a string whose partials
    have been measured.
    """

    length_m: float
    mass_per_length_kg_m: float
    f1_hz: float
    inharmonicity: float = 0.0
    r0_per_s: float = 0.0
    r2_per_s: float = 0.0
    modes: int = 150
    omegas: tuple[float, ...] | None = None  #: [modes] rad/s
    decays: tuple[float, ...] | None = None  #: [modes] 1/s

    @property
    def impedance_kg_s(self) -> float:
        return self.mass_per_length_kg_m * 2.0 * self.length_m * self.f1_hz

    @property
    def tension_n(self) -> float:
        return self.mass_per_length_kg_m * (2.0 * self.length_m * self.f1_hz) ** 2

    def omega(self) -> Real:
        """Undamped angular frequencies, rad/s."""
        if self.omegas is not None:
            return np.array(self.omegas)
        n = np.arange(1, self.modes + 1)
        return 2.0 * np.pi * n * self.f1_hz * np.sqrt(1.0 + self.inharmonicity * n**2)

    def decay(self) -> Real:
        """Amplitude decay rates, 1/s."""
        if self.decays is not None:
            return np.array(self.decays)
        n = np.arange(1, self.modes + 1)
        return self.r0_per_s + self.r2_per_s * n**2.0


@dataclass(frozen=True)
class Torsion:
    """Torsional waves: speed and impedance (referred to the surface) over the transverse ones, and Q."""

    speed_ratio: float
    impedance_ratio: float
    quality: float
    modes: int = 40
    omegas: tuple[float, ...] | None = None  #: [modes] rad/s, in the place of whole multiples
    decays: tuple[float, ...] | None = None  #: [modes] 1/s, in the place of a constant Q


@dataclass(frozen=True)
class Hair:
    """The whole ribbon along its length; contact points share it equally."""

    stiffness_n_m: float
    mass_kg: float
    damping_kg_s: float


@dataclass(frozen=True)
class BodyMode:
    """One mode of the body seen at the bridge, in the direction of the bow."""

    frequency_hz: float
    quality: float
    mass_kg: float


@dataclass(frozen=True)
class LinearSystem:
    """State space in modal form: w' = rate w + inputs f; outputs are Re(row w) (+ direct f)."""

    rate: Complex  #: [k] eigenvalues, upper half of each pair
    inputs: Complex  #: [k, j]
    displacement: Complex  #: [j, k] what slides under hair j: string surface minus hair
    surface: Complex  #: [j, k] velocity of the string's surface under hair j
    bridge_force: Complex  #: [k]
    bridge_direct: Real  #: [j] bridge force at once from hair j
    bridge_velocity: Complex  #: [k]
    #: physical coordinates from modal ones and back, for shapes and energy: x = Re(from_modal w)
    from_modal: Complex = field(repr=False)  #: [2 d, k] rows: coordinates, then their velocities
    to_modal: Complex = field(repr=False)  #: [k, 2 d]
    mass: Real = field(repr=False)  #: [d, d]
    stiffness: Real = field(repr=False)  #: [d, d]

    def energy_j(self, w: Complex) -> float:
        """Kinetic and potential energy of a modal state, J."""
        state = (self.from_modal @ w).real
        x, v = np.split(state, 2)
        return float(0.5 * v @ self.mass @ v + 0.5 * x @ self.stiffness @ x)

    def modal(self, x: Real, v: Real | None = None) -> Complex:
        """Modal state of given coordinates (transverse modes first) and velocities; missing ones are 0."""
        d = len(self.mass)
        state = np.zeros(2 * d)
        state[: len(x)] = x
        if v is not None:
            state[d : d + len(v)] = v
        return self.to_modal @ state


def assemble(
    string: StringData,
    positions_m: Sequence[float],
    *,
    torsion: Torsion | None = None,
    torsion_positions_m: Sequence[float] | None = None,
    hair: Hair | None = None,
    body: Sequence[BodyMode] = (),
) -> LinearSystem:
    """Put the parts together and take the whole apart into modes.

    Parameters
    ----------
    positions_m : distance from the bridge of every contact point
    torsion_positions_m : where the points twist the string, if not where they touch it
    """
    L, mass_m = string.length_m, string.mass_per_length_kg_m
    x_b = np.asarray(positions_m, dtype=float)
    for part in (string, torsion):
        for given in (part.omegas, part.decays) if part else ():
            if given is not None and len(given) != part.modes:
                raise ValueError(f"{len(given)} values for {part.modes} modes")
    points, N = len(x_b), string.modes
    n = np.arange(1, N + 1)
    Nt = torsion.modes if torsion else 0
    Nb, Nh = len(body), points if hair else 0
    d = N + Nb + Nt + Nh
    bodies, twist, hairs = slice(N, N + Nb), slice(N + Nb, N + Nb + Nt), slice(d - Nh, d)
    M, C, K, P = np.zeros((d, d)), np.zeros((d, d)), np.zeros((d, d)), np.zeros((d, points))

    half = 0.5 * mass_m * L
    np.fill_diagonal(M[:N, :N], half)
    np.fill_diagonal(C[:N, :N], 2.0 * half * string.decay())
    np.fill_diagonal(K[:N, :N], half * string.omega() ** 2)
    P[:N] = np.sin(np.outer(n, np.pi * x_b / L))
    ramp = 1.0 - x_b / L
    coupling = mass_m * L / (np.pi * n)
    if body:
        m = np.array([b.mass_kg for b in body])
        w = 2.0 * np.pi * np.array([b.frequency_hz for b in body])
        q = np.array([b.quality for b in body])
        M[bodies, bodies] = np.diag(m) + mass_m * L / 3.0
        M[:N, bodies] = coupling[:, None]
        M[bodies, :N] = coupling
        C[bodies, bodies] = np.diag(m * w / q)
        K[bodies, bodies] = np.diag(m * w**2) + string.tension_n / L
        P[bodies] = ramp
    if torsion:
        k = np.arange(1, Nt + 1)
        speed = torsion.speed_ratio * 2.0 * L * string.f1_hz
        half_t = 0.5 * L * torsion.impedance_ratio * string.impedance_kg_s / speed
        w = np.pi * k * speed / L
        w = w if torsion.omegas is None else np.array(torsion.omegas)
        decay = 0.5 * w / torsion.quality if torsion.decays is None else np.array(torsion.decays)
        np.fill_diagonal(M[twist, twist], half_t)
        np.fill_diagonal(C[twist, twist], 2.0 * half_t * decay)
        np.fill_diagonal(K[twist, twist], half_t * w**2)
        x_t = x_b if torsion_positions_m is None else np.asarray(torsion_positions_m, dtype=float)
        P[twist] = np.sin(np.outer(k, np.pi * x_t / L))
    if hair:
        np.fill_diagonal(M[hairs, hairs], hair.mass_kg / points)
        np.fill_diagonal(C[hairs, hairs], hair.damping_kg_s / points)
        np.fill_diagonal(K[hairs, hairs], hair.stiffness_n_m / points)
        P[hairs] = -np.eye(points)

    rate, vectors, inverse = _eigen(M, C, K)
    inverse_mass = np.linalg.inv(M)
    inputs = inverse[:, d:] @ (inverse_mass @ P)
    keep = rate.imag >= 0.0
    weight = np.where(rate.imag > 0.0, 2.0, 1.0)[keep]
    back = vectors[:, keep] * weight
    surface = P.copy()
    surface[hairs] = 0.0
    # Force on the bridge: what of the hairs' force is not needed to accelerate and stretch the string.
    along = np.zeros(d)
    along[:N] = coupling
    along[bodies] = mass_m * L / 3.0
    stretch = np.zeros(d)
    stretch[bodies] = string.tension_n / L
    accelerate = along @ inverse_mass
    bridge_row = np.concatenate([accelerate @ K - stretch, accelerate @ C])
    return LinearSystem(
        rate=rate[keep],
        inputs=inputs[keep],
        displacement=P.T @ back[:d],
        surface=surface.T @ back[d:],
        bridge_force=bridge_row @ back,
        bridge_direct=ramp - accelerate @ P,
        bridge_velocity=back[d:][bodies].sum(axis=0),
        from_modal=back,
        to_modal=inverse[keep],
        mass=M,
        stiffness=K,
    )


def _eigen(M: Real, C: Real, K: Real) -> tuple[Complex, Complex, Complex]:
    """Eigenvalues, right vectors and their inverse of the first-order form of M x'' + C x' + K x = 0.

    Coordinates that couple with nothing are solved in closed form; the rest by LAPACK.
    """
    d = len(M)
    lone = np.array([not any(np.any(np.delete(X[i], i)) for X in (M, K)) for i in range(d)])
    rate = np.zeros(2 * d, dtype=complex)
    vectors = np.zeros((2 * d, 2 * d), dtype=complex)
    inverse = np.zeros((2 * d, 2 * d), dtype=complex)
    for i in np.flatnonzero(lone):
        r, w2 = 0.5 * C[i, i] / M[i, i], K[i, i] / M[i, i]
        root = np.sqrt(complex(r * r - w2))
        both = np.array([-r + root, -r - root])
        at = np.array([i, d + i])
        rate[at] = both
        pair = np.array([[1.0, 1.0], both])
        vectors[np.ix_(at, at)] = pair
        inverse[np.ix_(at, at)] = np.linalg.inv(pair)
    rest = np.flatnonzero(~lone)
    if len(rest):
        inside = np.ix_(rest, rest)
        mass, damping, stiffness = M[inside], C[inside], K[inside]
        # In units of the fastest mode, so that rows of displacement and of velocity are of one size.
        unit = np.sqrt(np.max(np.diag(stiffness) / np.diag(mass)))
        eye, none = np.eye(len(rest)), np.zeros_like(mass)
        first = np.block(
            [
                [none, unit * eye],
                [-np.linalg.solve(mass, stiffness) / unit, -np.linalg.solve(mass, damping)],
            ]
        )
        values, right = scipy.linalg.eig(first)
        left = np.linalg.inv(right)
        at = np.concatenate([rest, d + rest])
        scale = np.concatenate([np.ones(len(rest)), np.full(len(rest), unit)])
        rate[at] = values
        vectors[np.ix_(at, at)] = right * scale[:, None]
        inverse[np.ix_(at, at)] = left / scale
    return rate, vectors, inverse
