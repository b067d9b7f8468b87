"""J. C. Schelleng, "The bowed string and the player", J. Acoust. Soc. Am. 53(1), 26-41 (1973).

Steady bowing with one slip a period is possible between a least and a greatest weight. Both grow with
bow speed; the least grows faster than the greatest as the bow nears the bridge, so that the range
closes there. Symbols: see `colophony.physics.limits`.

Equations as given by J. Woodhouse, "Euphonics", sections 9.3.1 and 9.4.2 (euphonics.org), and by
E. Schoonderwaldt, K. Guettler and A. Askenfelt, Acta Acust. u. Acust. 94(4), 604-622 (2008), eqs 1-3.
"""

from __future__ import annotations

import math


def weight_max_n(*, Z0: float, vb: float, beta: float, dmu: float) -> float:
    """Return the greatest weight F_max = 2 Z0 vb / (beta dmu) in N; above it the string grows raucous."""
    return 2.0 * Z0 * vb / (beta * dmu)


def weight_min_n(*, Z0: float, vb: float, beta: float, dmu: float, R: float) -> float:
    """Return the least weight F_min = Z0^2 vb / (2 R beta^2 dmu) in N; below it the string slips twice."""
    return Z0**2 * vb / (2.0 * R * beta**2 * dmu)


def weight_ratio(*, Z0: float, beta: float, R: float) -> float:
    """Return F_max / F_min = 4 beta R / Z0: narrow near the bridge and on heavy strings."""
    return 4.0 * beta * R / Z0


def slip_speed_m_s(*, vb: float, beta: float) -> float:
    """Return the string's speed against the bow's way while it slips, vb (1 - beta) / beta, in m/s."""
    return vb * (1.0 - beta) / beta


def bridge_force_peak_to_peak_n(*, Z0: float, vb: float, beta: float) -> float:
    """Return the saw-tooth's jump at the bridge, 2 Z0 vb / beta, in N (Euphonics 9.4.2, eqs 1-2)."""
    return 2.0 * Z0 * vb / beta


def bridge_force_harmonic_n(n: int, *, Z0: float, vb: float, beta: float) -> float:
    """Return the signed amplitude of the saw-tooth's harmonic n = 1, 2, ... in N (Euphonics 9.4.2, eq. 2)."""
    return (-1.0) ** (n + 1) * 2.0 * Z0 * vb / (n * math.pi * beta)
