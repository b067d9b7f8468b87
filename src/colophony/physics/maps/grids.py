"""Where a map looks when nobody says otherwise: contact distances, weights, accelerations."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

import numpy as np
from numpy.typing import ArrayLike

from colophony.errors import InputError
from colophony.language import N_, _, figures
from colophony.physics.bows import find_ribbon
from colophony.physics.limits import guettler_2002, schoonderwaldt_2008
from colophony.physics.maps.bands import Floats
from colophony.physics.strings import BowedString

#: No map looks nearer to the bridge than this share of the length, nor farther than that one.
NEAREST_SHARE, FARTHEST_SHARE = 0.02, 0.45
#: Weights reach this on a violin's D string at least, and in proportion to impedance on others ...
REACH_N = 4.0
#: ... and so many times the greatest weight that was measured there; never more than a bow can weigh.
REACH_TIMES, MOST_N = 1.5, 20.0
#: They begin at this share of the least weight that was measured: heavier strings speak late, not early.
LEAST_SHARE = 0.25
#: Around the published limits of one place: from this share of the least to so many times the greatest.
AROUND = (0.5, 3.0)
#: Friction of two versions of Guettler's (2002) window: the one lies higher, the other lower.
MU_S, MU_D_HIGH, MU_D_LOW = 0.8, 0.3, 0.4


def contact_distances_m(string: BowedString, *, frequency_hz: float | None = None, count: int = 40) -> Floats:
    """Return contact distances in m, [count], in equal ratios from near the bridge to the fingerboard's end.

    The nearest has half the flat hair between it and the bridge. The fingerboard's end stays where it is when
    a finger shortens the string, but no distance is more than 0.45 of what is left.
    """
    length = sounding_length_m(string, frequency_hz)
    nearest = max(0.5 * find_ribbon(string.instrument, string.size).width_m, NEAREST_SHARE * length)
    farthest = min(string.bowable_length_m, FARTHEST_SHARE * length)
    return np.geomspace(nearest, max(farthest, 1.1 * nearest), count)


def weights_n(
    string: BowedString,
    *,
    speed_m_s: ArrayLike,
    distance_m: ArrayLike,
    frequency_hz: float | None = None,
    count: int = 50,
) -> Floats:
    """Return weights in N, [count], in equal ratios, enough for all the speeds and contact distances given.

    From a quarter of the least weight measured anywhere among them to 1.5 times the greatest, and 4 N on a
    violin's D string (in proportion to impedance on others): a grid that stops short of the greatest weight
    hides it. At most 20 N.
    """
    distances = np.asarray(distance_m, dtype=float)
    least, _ = _measured(string, 1.0, distances.max(), frequency_hz)
    _, greatest = _measured(string, np.max(speed_m_s), distances.min(), frequency_hz)
    reach = REACH_N * max(1.0, string.impedance_kg_s / schoonderwaldt_2008.MEASURED_Z0_KG_S)
    top = min(MOST_N, max(reach, REACH_TIMES * float(greatest[0])))
    return np.geomspace(min(LEAST_SHARE * float(least[0]), 0.1 * top), top, count)


def weights_around_n(
    string: BowedString,
    *,
    speed_m_s: ArrayLike,
    distance_m: ArrayLike,
    frequency_hz: float | None = None,
    count: int = 16,
) -> Floats:
    """Return weights in N for each pair of speed and contact distance, [n, count], around their limits.

    From half the least measured weight to three times the greatest: coarser than `weights_n` over the whole
    plane, finer around what is sought.
    """
    least, greatest = _measured(string, speed_m_s, distance_m, frequency_hz)
    low = np.minimum(AROUND[0] * least, 0.1 * greatest)
    return np.geomspace(low, np.minimum(AROUND[1] * greatest, MOST_N), count, axis=1)


def accelerations_m_s2(
    string: BowedString,
    *,
    weight_n: ArrayLike,
    distance_m: float,
    frequency_hz: float | None = None,
    count: int = 48,
) -> Floats:
    """Return accelerations in m/s^2, [count], in equal ratios, enough for the starts at all weights given.

    From half the lesser edge of Guettler's (2002) window at the least weight to twice its greater edge at the
    greatest, with friction of 0.8 / 0.4 and 0.8 / 0.3.
    """
    weight = np.asarray(weight_n, dtype=float)
    least, _ = guettler_window(string, weight.min(), distance_m, frequency_hz, mu_d=MU_D_LOW)
    _, greatest = guettler_window(string, weight.max(), distance_m, frequency_hz, mu_d=MU_D_HIGH)
    return np.geomspace(0.5 * least, 2.0 * greatest, count)


def guettler_window(
    string: BowedString, weight_n: float, distance_m: float, frequency_hz: float | None, *, mu_d: float
) -> tuple[float, float]:
    """Return the least and greatest acceleration in m/s^2 of a start without fault (Guettler 2002)."""
    return guettler_2002.acceleration_window_m_s2(
        F=float(weight_n),
        Z0=string.impedance_kg_s,
        f0=frequency_hz or string.open_frequency_hz,
        beta=float(distance_m) / sounding_length_m(string, frequency_hz),
        mu_s=MU_S,
        mu_d=mu_d,
    )


def sounding_length_m(string: BowedString, frequency_hz: float | None) -> float:
    """Return the length in m that sounds at a note, the open string where none is given."""
    return string.stopped_length_m(frequency_hz or string.open_frequency_hz)


_ABOVE_ZERO: Mapping[str, str] = MappingProxyType(
    {
        "distances": N_("a map needs one or more contact distances above 0 m: leave out what is not"),
        "weights": N_("a map needs one or more weights above 0 N: leave out what is not"),
        "speeds": N_("a map needs one or more speeds above 0 m/s: leave out what is not"),
        "accelerations": N_("a map needs one or more accelerations above 0 m/s^2: leave out what is not"),
    }
)
_ASCENDING: Mapping[str, str] = MappingProxyType(
    {
        "distances": N_("the contact distances of a map must ascend: sort them and leave out doubles"),
        "weights": N_("the weights of a map must ascend: sort them and leave out doubles"),
        "speeds": N_("the speeds of a map must ascend: sort them and leave out doubles"),
        "accelerations": N_("the accelerations of a map must ascend: sort them and leave out doubles"),
    }
)


def checked(name: str, values: ArrayLike) -> Floats:
    """Return values as an array [n]; `InputError` unless they are above zero, finite and ascending.

    ``name`` is "distances", "weights", "speeds" or "accelerations".
    """
    array = np.atleast_1d(np.asarray(values, dtype=float))
    if array.ndim != 1 or not array.size or not (np.all(np.isfinite(array)) and np.all(array > 0.0)):
        raise InputError(_(_ABOVE_ZERO[name]))
    if np.any(np.diff(array) <= 0.0):
        raise InputError(_(_ASCENDING[name]))
    return array


def check_tolerance(tolerance: float) -> None:
    """Refuse a tolerance that no search reaches with `InputError`."""
    if not 0.002 <= tolerance <= 0.5:
        raise InputError(
            _("a tolerance of {tolerance} % is out of range: choose {least} to 50 %").format(
                tolerance=figures(f"{100 * tolerance:g}"), least=figures("0.2")
            )
        )


def _measured(
    string: BowedString, speed_m_s: ArrayLike, distance_m: ArrayLike, frequency_hz: float | None
) -> tuple[Floats, Floats]:
    """Return the measured least and greatest weight in N at pairs of speed and distance, each [n]."""
    length = sounding_length_m(string, frequency_hz)
    pairs = np.broadcast_arrays(np.asarray(speed_m_s, float), np.asarray(distance_m, float) / length)
    z0 = string.impedance_kg_s
    found = [
        (
            schoonderwaldt_2008.measured_weight_min_n(Z0=z0, beta=beta),
            schoonderwaldt_2008.measured_weight_max_n(Z0=z0, vb=speed, beta=beta),
        )
        for speed, beta in zip(*(pair.ravel().tolist() for pair in pairs), strict=True)
    ]
    return np.array([f[0] for f in found]), np.array([f[1] for f in found])
