"""J. H. Smith & J. Woodhouse, "The tribology of rosin", J. Mech. Phys. Solids 48, 1633-1681 (2000).

Steady sliding of rosin, fitted by two exponentials (as quoted in J. Woodhouse, "Bowed string simulation
using a thermal friction model", Acta Acust. u. Acust. 89, 355-368 (2003)):

    mu(v) = 0.4 exp(-|v| / 0.01) + 0.45 exp(-|v| / 0.1) + 0.35,  v in m/s

Used with the hysteresis rule of McIntyre & Woodhouse (1979): stay on the branch until it ends.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from colophony.errors import InputError
from colophony.language import _, figures
from colophony.physics.friction.mcintyre_1979 import keep_branch
from colophony.physics.kernel.body import body
from colophony.physics.kernel.vector import choose

_ROUNDS = 8  #: Newton steps; from the right of the root of a convex function they only descend


@dataclass(frozen=True, slots=True)
class Smith2000:
    """Constants of the fit."""

    steep: float = 0.4  #: part of mu that is gone within centimetres a second
    steep_speed_m_s: float = 0.01
    gentle: float = 0.45  #: part of mu that is gone within decimetres a second
    gentle_speed_m_s: float = 0.1
    floor: float = 0.35  #: coefficient of fast sliding

    def __post_init__(self) -> None:
        """Refuse constants that make no law with `InputError`."""
        parts = (self.steep, self.gentle, self.floor)
        if not min(*parts, self.steep_speed_m_s, self.gentle_speed_m_s) > 0.0 or sum(parts) > 3.0:
            raise InputError(
                _(
                    "friction of {parts} is out of range: choose parts and speeds above 0, in sum up to 3"
                ).format(parts=" + ".join(figures(f"{part:g}") for part in parts))
            )

    def steady_coefficient(self, velocity_m_s: NDArray[np.float64]) -> NDArray[np.float64]:
        """Return mu at sliding speeds in m/s, any shape."""
        v = np.abs(np.asarray(velocity_m_s, float))
        steep = self.steep * np.exp(-v / self.steep_speed_m_s)
        return np.asarray(steep + self.gentle * np.exp(-v / self.gentle_speed_m_s) + self.floor)

    def numbers(self, real: Any, dt: float) -> Numbers:
        """Return the kernel's constants in its precision; the time step plays no part."""
        return Numbers(
            real(1),
            real(self.steep),
            real(1 / self.steep_speed_m_s),
            real(self.gentle),
            real(1 / self.gentle_speed_m_s),
            real(self.floor),
        )


class Numbers(NamedTuple):
    """Constants of `step` in the precision of the run."""

    one: Any
    steep: Any
    per_steep: Any
    gentle: Any
    per_gentle: Any
    floor: Any


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
    # u + A mu(u) = |D|: Newton from the right of the largest root, where the slope is positive.
    u = gap - A * c.floor
    slope = c.one
    for _round in range(_ROUNDS):
        at = max(u, zero)
        fast = c.steep * math.exp(-at * c.per_steep)
        slow = c.gentle * math.exp(-at * c.per_gentle)
        slope = c.one - A * (fast * c.per_steep + slow * c.per_gentle)
        step_back = (at + A * (fast + slow + c.floor) - gap) / slope
        u = choose((slope <= zero) | (u <= zero), u, at - step_back)
    can_slip = (slope > zero) & (u > zero)
    v = keep_branch(s * u, can_slip, gap > A * (c.steep + c.gentle + c.floor), slid, zero)
    return push - Z * v, v, v, b, e
