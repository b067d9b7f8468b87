"""K. Guettler, "On the creation of the Helmholtz motion in bowed strings", Acta Acustica united with
Acustica 88(6), 970-985 (2002).

An attack is perfect when every period has one slip from the first on. That needs an acceleration inside
a window which grows in proportion to the weight: too slow a start for the weight creaks (prolonged
periods), too quick a start slips (several slips a period). Lossless string, constant weight, 1/beta a
whole number, beta < 0.5. Symbols: see `colophony.physics.limits`. Read in a secondary survey.
"""

from __future__ import annotations

import math


def speed_window_m_s(*, F: float, Z0: float, beta: float, dmu: float) -> tuple[float, float]:
    """Return the least and greatest speed in m/s of a bow set down at constant speed."""
    least = beta * (1.0 - beta) * F * dmu / (2.0 * Z0)
    return least, least / (1.0 - 2.0 * beta)


def acceleration_window_m_s2(
    *, F: float, Z0: float, f0: float, beta: float, mu_s: float, mu_d: float
) -> tuple[float, float]:
    """Return the least and greatest acceleration from rest in m/s^2 that start without fault.

    a_min = beta (1 - beta) F [3 mu_s - mu_d - 2 sqrt(2 mu_s^2 - mu_s mu_d)] / (P Z0)

    a_max = beta (1 - beta) F [(3 - 4 beta) mu_s - mu_d
            - 2 sqrt((1 - 2 beta) (2 (1 - beta) mu_s^2 - mu_s mu_d))] / [(1 - 2 beta) P Z0]
    """
    scale = beta * (1.0 - beta) * F * f0 / Z0
    slow = 3.0 * mu_s - mu_d - 2.0 * math.sqrt(2.0 * mu_s**2 - mu_s * mu_d)
    q = 1.0 - 2.0 * beta
    quick = (
        (3.0 - 4.0 * beta) * mu_s - mu_d - 2.0 * math.sqrt(q * (2.0 * (1.0 - beta) * mu_s**2 - mu_s * mu_d))
    )
    return scale * slow, scale * quick / q


def first_slip_s(*, F: float, Z0: float, f0: float, beta: float, mu_s: float, a: float) -> float:
    """Return the time in s from rest to the first slip, sqrt(mu_s F beta (1 - beta) / (f0 Z0 a)).

    Quasi-static: friction balances the string's tension, T y / (L beta (1 - beta)) with y = a t^2 / 2.
    """
    return math.sqrt(mu_s * F * beta * (1.0 - beta) / (f0 * Z0 * a))
