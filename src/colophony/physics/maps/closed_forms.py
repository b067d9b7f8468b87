"""The published limits beside a map: of weight by contact distance, in the map's own form."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from colophony.errors import InputError
from colophony.language import _
from colophony.physics.limits import schelleng_1973, schoonderwaldt_2008
from colophony.physics.maps.grids import checked, sounding_length_m
from colophony.physics.maps.ranges import PlayableRanges
from colophony.physics.strings import BowedString


def closed_form_ranges(
    string: BowedString,
    *,
    speed_m_s: float,
    distances_m: ArrayLike,
    frequency_hz: float | None = None,
    law: str = "schoonderwaldt_2008",
) -> PlayableRanges:
    """Return the published limits of weight at each contact distance as if they had been computed.

    Parameters
    ----------
    speed_m_s : m/s, above 0
    distances_m, frequency_hz : as in `playable_ranges`
    law : "schoonderwaldt_2008", what a bowing machine found on a steel D string, carried to this one by its
        impedance; or "schelleng_1973" with the friction (2 Z0 / c) and the bridge's resistance that make it
        fit the same machine at 10 cm/s

    Where the least comes out above the greatest there is no range. Raises `InputError` for another law.
    """
    distances = checked("distances", distances_m)
    z0, length = string.impedance_kg_s, sounding_length_m(string, frequency_hz)
    beta = distances / length
    least, greatest = np.array([_limits(law, z0, speed_m_s, b) for b in beta.tolist()]).T
    none = least >= greatest
    low, high = np.where(none, np.nan, least), np.where(none, np.nan, greatest)
    nought = np.zeros(len(beta), dtype=np.int64)
    nothing, closed = np.full(len(beta), np.nan), np.zeros(len(beta), dtype=bool)
    return PlayableRanges(
        speed_m_s=speed_m_s,
        tilt_deg=0.0,
        frequency_hz=frequency_hz or string.open_frequency_hz,
        length_m=length,
        distance_m=distances,
        beta=beta,
        weight_min_n=low,
        weight_max_n=high,
        ragged_min_n=low,
        ragged_max_n=high,
        share_below=nothing,
        share_above=nothing,
        share=np.where(none, np.nan, 1.0),
        min_is_open=closed,
        max_is_open=closed,
        cells=nought,
        wrong=nought,
        strays=nought,
        strokes=0,
        is_finished=True,
    )


def _limits(law: str, z0: float, speed: float, beta: float) -> tuple[float, float]:
    if law == "schoonderwaldt_2008":
        return (
            schoonderwaldt_2008.measured_weight_min_n(Z0=z0, beta=beta),
            schoonderwaldt_2008.measured_weight_max_n(Z0=z0, vb=speed, beta=beta),
        )
    if law == "schelleng_1973":
        upper, lower = (
            schoonderwaldt_2008.MEASURED_UPPER_KG_S[0.10][0],
            schoonderwaldt_2008.MEASURED_LOWER_KG_S[0.10][0],
        )
        machine = schoonderwaldt_2008.MEASURED_Z0_KG_S
        dmu = 2.0 * machine / upper
        resistance = machine**2 / (2.0 * lower * dmu)
        return (
            schelleng_1973.weight_min_n(Z0=z0, vb=speed, beta=beta, dmu=dmu, R=resistance),
            schelleng_1973.weight_max_n(Z0=z0, vb=speed, beta=beta, dmu=dmu),
        )
    raise InputError(
        _("{law!r} is no law of the limits: choose schoonderwaldt_2008 or schelleng_1973").format(law=law)
    )
