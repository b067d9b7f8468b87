"""M. E. McIntyre & J. Woodhouse, "Fundamentals of bowed-string dynamics", Acustica 43, 93-108 (1979).

Friction falls with sliding speed along a hyperbola; where the load line of the string cuts the curve more
than once, the string stays on the branch it is on, stick or slip, until that branch ends (hysteresis).

    mu(v) = mu_d + (mu_s - mu_d) v0 / (v0 + |v|)

Constants: E. Schoonderwaldt, K. Guettler & A. Askenfelt, Acta Acust. u. Acust. 94, 604-622 (2008), the
same curve written as mu_d + K / (|v| + z0) with K = 8 cm/s, z0 = 20 cm/s.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from colophony.errors import InputError
from colophony.language import _, figures
from colophony.physics.kernel.body import body
from colophony.physics.kernel.vector import choose


@dataclass(frozen=True, slots=True)
class McIntyre1979:
    """Constants of the hyperbolic curve."""

    mu_s: float = 0.8  #: static coefficient, above mu_d
    mu_d: float = 0.4  #: coefficient of fast sliding, above 0
    v0_m_s: float = 0.2  #: speed at which half of the difference is gone, m/s, above 0

    def __post_init__(self) -> None:
        """Refuse constants that make no law with `InputError`."""
        if not 0.0 < self.mu_d < self.mu_s <= 3.0 or not self.v0_m_s > 0.0:
            raise InputError(
                _(
                    "friction of {rest} at rest, {sliding} sliding and v0 = {speed} m/s is out of range: "
                    "choose 0 < mu_d < mu_s, up to 3, and v0 above 0"
                ).format(
                    rest=figures(f"{self.mu_s:g}"),
                    sliding=figures(f"{self.mu_d:g}"),
                    speed=figures(f"{self.v0_m_s:g}"),
                )
            )

    def steady_coefficient(self, velocity_m_s: NDArray[np.float64]) -> NDArray[np.float64]:
        """Return mu at sliding speeds in m/s, any shape."""
        v = np.abs(np.asarray(velocity_m_s, float))
        return np.asarray(self.mu_d + (self.mu_s - self.mu_d) * self.v0_m_s / (self.v0_m_s + v))

    def numbers(self, real: Any, dt: float) -> Numbers:
        """Return the kernel's constants in its precision; the time step plays no part."""
        return Numbers(real(1), real(0.5), real(self.mu_s), real(self.mu_d), real(self.v0_m_s))


class Numbers(NamedTuple):
    """Constants of `step` in the precision of the run."""

    one: Any
    half: Any
    mu_s: Any
    mu_d: Any
    v0: Any


@body
def keep_branch(v, can_slip, must_slip, slid, zero):  # type: ignore[no-untyped-def]
    """Return the sliding velocity by the hysteresis rule: v where the string slips on or begins to, else 0.

    ``slid`` is the last sliding velocity; v the one of the slip branch, where it exists (``can_slip``).
    """
    return choose(can_slip & (must_slip | (slid * v > zero)), v, zero)


@body
def ready(Y, F, slid, b, e, r, c):  # type: ignore[no-untyped-def]
    """Return A of `step` and two values that are not used."""
    zero = c.one - c.one
    return Y * F, zero, zero


@body
def step(D, push, Y, Z, F, per_F, slid, b, e, r, A, h, lean, c):  # type: ignore[no-untyped-def]
    """Advance one hair; return force, sliding velocity, and what it remembers.

    That is ``slid``, the last sliding velocity. The load line is v = D - Y f; Z = 1 / Y, push = D / Y and
    A = Y F; Y > 0.
    Nothing else is used.
    """
    zero = c.one - c.one
    s = math.copysign(c.one, D)
    gap = abs(D)
    # Slip: u + A mu(u) = |D|; of two roots the larger one is stable.
    mid = c.half * (gap - c.v0 - A * c.mu_d)
    inside = mid * mid + c.v0 * (gap - A * c.mu_s)
    u = mid + math.sqrt(max(inside, zero))
    can_slip = (inside >= zero) & (u > zero)
    v = keep_branch(s * u, can_slip, gap > A * c.mu_s, slid, zero)
    return push - Z * v, v, v, b, e
