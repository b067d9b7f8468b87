"""Sounding points: the trade's five lanes from the bridge to the end of the fingerboard.

The bowable length is divided in five; point 1 lies at the bridge, point 5 at the fingerboard (C. Flesch,
"The Art of Violin Playing", 1924; the count is common practice, no author gives millimetres). Points are
relative: where the left hand shortens the string they draw together towards the bridge, so that a point
stays the same share of the sounding length.
"""

from __future__ import annotations

from colophony.errors import InputError
from colophony.language import _, figures
from colophony.physics.strings import BowedString

POINTS = 5
MIDDLE = 3


def point_to_m(point: float, string: BowedString, *, frequency_hz: float | None = None) -> float:
    """Return the distance from the bridge in m of a sounding point's middle.

    Parameters
    ----------
    point : 1 (at the bridge) to 5 (at the fingerboard's end); fractions lie between the middles
    frequency_hz : the stopped note, Hz; the open string when None

    Raises `InputError` outside 0.5 to 5.5.
    """
    if not 0.5 <= point <= POINTS + 0.5:
        raise InputError(
            _(
                "sounding point {point} is out of range: choose 1 (at the bridge) to 5 (at the fingerboard)"
            ).format(point=figures(f"{point:g}"))
        )
    return (point - 0.5) * point_width_m(string, frequency_hz=frequency_hz)


def m_to_point(distance_m: float, string: BowedString, *, frequency_hz: float | None = None) -> float:
    """Return the sounding point of a distance from the bridge in m; inverse of `point_to_m`, unbounded."""
    return distance_m / point_width_m(string, frequency_hz=frequency_hz) + 0.5


def point_width_m(string: BowedString, *, frequency_hz: float | None = None) -> float:
    """Return the width of one sounding point in m, on the open string or at a stopped note."""
    share = 1.0 if frequency_hz is None else string.stopped_length_m(frequency_hz) / string.sounding_length_m
    return share * string.bowable_length_m / POINTS
