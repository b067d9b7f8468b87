"""J. Woodhouse, "On the playability of violins. Part II: minimum bow force and transients", Acustica 78,
137-153 (1993).

Schelleng's least weight with the bridge as it is measured, an admittance Y at every harmonic, in place
of one resistance. Equations from "Euphonics", section 9.4.2, eqs 3-5 (euphonics.org). Symbols: see
`colophony.physics.limits`.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np


def weight_min_n(
    *, Z0: float, vb: float, beta: float, dmu: float, admittance_s_kg: Sequence[complex], points: int = 2048
) -> float:
    """Return the least weight in N for a bridge of known admittance.

    F_min = 2 vb Z0^2 / (pi^2 beta^2 dmu)
            { max_t Re sum_n (-1)^(n+1) Y(n f0) e^(2 pi i n f0 t) / n^2  +  Re sum_n Y(n f0) / n^2 }

    Parameters
    ----------
    admittance_s_kg : Y at harmonics 1, 2, ... of the note, s/kg, shape (harmonics,)
    points : places in the period at which the maximum is sought
    """
    Y = np.asarray(admittance_s_kg, dtype=complex)
    n = np.arange(1, len(Y) + 1)
    phase = 2.0 * math.pi * np.arange(points) / points
    waves = np.exp(1j * np.outer(phase, n)) @ ((-1.0) ** (n + 1) * Y / n**2)
    bracket = float(waves.real.max() + (Y / n**2).sum().real)
    return 2.0 * vb * Z0**2 / (math.pi**2 * beta**2 * dmu) * bracket
