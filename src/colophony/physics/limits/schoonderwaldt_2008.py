"""E. Schoonderwaldt, K. Guettler, A. Askenfelt, "An empirical investigation of bow-force limits in the
Schelleng diagram", Acta Acustica united with Acustica 94(4), 604-622 (2008).

Two things: limits refined by letting friction fall with slip speed (eqs 4 and 5), and what a bowing
machine found on a steel D string (Z0 = 0.25 kg/s). The greatest weight followed Schelleng's law. The
least weight grew towards the bridge as 1/beta^2 but did **not** depend on bow speed.
Symbols: see `colophony.physics.limits`. Read in a secondary survey.
"""

from __future__ import annotations

from collections.abc import Mapping

#: Friction falls with slip speed as mu_d + (mu_s - mu_d) v0 / (v0 + |v|); the paper's constants.
MU_S, MU_D, V0_M_S = 0.8, 0.4, 0.20

#: The measured string's impedance in kg/s.
MEASURED_Z0_KG_S = 0.25
#: Fitted F_max = c vb / beta: c in kg/s by bow speed in m/s, with its uncertainty.
MEASURED_UPPER_KG_S: Mapping[float, tuple[float, float]] = {
    0.05: (1.0, 0.24),
    0.10: (0.73, 0.05),
    0.15: (0.75, 0.04),
    0.20: (0.75, 0.03),
}
#: Fitted F_min = c vb / beta^2: c in kg/s by bow speed in m/s, with its uncertainty.
MEASURED_LOWER_KG_S: Mapping[float, tuple[float, float]] = {
    0.05: (7.0e-3, 1.0e-3),
    0.10: (4.2e-3, 0.4e-3),
    0.15: (2.3e-3, 0.3e-3),
    0.20: (1.8e-3, 0.3e-3),
}
#: F_min beta^2 in N, the mean over the four speeds of c vb from the table above.
MEASURED_LOWER_N = 0.37e-3
#: F_max beta / vb in kg/s, from 10 cm/s on.
MEASURED_UPPER = 0.75


def weight_max_n(*, Z0: float, vb: float, beta: float, dmu: float, v0: float = V0_M_S) -> float:
    """Return the refined greatest weight (2 Z0 / dmu) (vb + beta v0) / beta in N, eq. 4."""
    return 2.0 * Z0 / dmu * (vb + beta * v0) / beta


def weight_min_n(*, Z0: float, vb: float, beta: float, dmu: float, R: float, v0: float = V0_M_S) -> float:
    """Return the refined least weight (Z0^2 / (2 R dmu)) (vb + beta v0) / beta^2 in N, eq. 5."""
    return Z0**2 / (2.0 * R * dmu) * (vb + beta * v0) / beta**2


def measured_weight_max_n(*, Z0: float, vb: float, beta: float) -> float:
    """Return the measured greatest weight in N, carried to other strings in proportion to Z0.

    Measured at 5 to 20 cm/s and beta from 1/30 to 1/6; below 10 cm/s the string bore somewhat more.
    """
    return MEASURED_UPPER * (Z0 / MEASURED_Z0_KG_S) * vb / beta


def measured_weight_min_n(*, Z0: float, beta: float) -> float:
    """Return the measured least weight in N, carried to other strings in proportion to Z0^2.

    Bow speed does not enter: none was measured. Known within a factor of three: it hangs on the bridge,
    which Schelleng's R stands for, and later measurements on a cello found a slope nearer 1/beta.
    """
    return MEASURED_LOWER_N * (Z0 / MEASURED_Z0_KG_S) ** 2 / beta**2
